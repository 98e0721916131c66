"""Test files in: TOML, and tables as CSV, .xlsx or .ods."""

from __future__ import annotations

import dataclasses
import os
import re
import tomllib
from pathlib import Path

from steadyband.ground.errors import TestFileError, UsageError
from steadyband.ground.opening import small_file
from steadyband.ground.plain import cut
from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.file.build import build_test
from steadyband.steptest.file.fields import Trail
from steadyband.steptest.file.sheets import TABLE_SUFFIXES
from steadyband.steptest.file.tables import table_test
from steadyband.steptest.model import StepTest

SUFFIXES = (".toml", *TABLE_SUFFIXES)
SIZE_MAX = 2**18
"""Largest test file as TOML [bytes] (design choice: a long test with notes takes about 5,000)."""
LINE_MAX = 10_000
"""Longest line [characters]: the time to read a key of many parts grows with their square (design choice)."""


def load_test(path: str | Path, settings: StepTestSettings = StepTestSettings()) -> StepTest:
    """One step test from its file: TOML, or a table as CSV, .xlsx or .ods with one row a sample (see `tables`).

    Raises UsageError where there is no such file or it has another suffix; TestFileError where the file is faulty,
    naming file, line or key or step and value, expected, found and what to try.
    """
    path = Path(path)
    if not path.is_file():
        raise UsageError(f"expected a step-test file, found none at {path}.", hint="Check the path.")
    if path.suffix.lower() not in SUFFIXES:
        listed = ", ".join(SUFFIXES)
        raise UsageError(
            f"expected a step test as {listed}; found {path.name}.", hint="See the README for a test file."
        )
    test = _toml_test(path, settings) if path.suffix.lower() == ".toml" else table_test(path, settings)
    return dataclasses.replace(test, file=path.name)


def load_tests(path: str | Path, settings: StepTestSettings = StepTestSettings()) -> tuple[StepTest, ...]:
    """Every step test of a folder (not of its sub-folders), or the one of a file, by date, then file name.

    Files of other kinds, hidden files and the lock files of spreadsheet programs are passed over; a folder without
    tests gives an empty tuple. Raises UsageError where nothing is at `path`, TestFileError as `load_test`.

    In the folder of the project:

    >>> [test.sport for test in load_tests("demo_activities/tests")]
    ['cycling', 'cycling', 'running']
    """
    path = Path(path)
    if path.is_dir():
        files = [
            item for item in sorted(path.iterdir()) if item.suffix.lower() in SUFFIXES and item.name[0] not in ".~"
        ]
        for item in files:
            _check_at_home(item)
        tests = [load_test(item, settings) for item in files if item.is_file()]
        return tuple(sorted(tests, key=lambda test: (test.date, test.file)))
    if not path.exists():
        raise UsageError(f"expected a step test or a folder of them, found nothing at {path}.", hint="Check the path.")
    return (load_test(path, settings),)


def _check_at_home(path: Path) -> None:
    if path.is_symlink() and not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(path.parent)):
        raise TestFileError(
            "expected a step test of this folder, found a link that leads out of it; it is not followed.",
            file=str(path),
            hint="Put the file itself here.",
        )


def _toml_test(path: Path, settings: StepTestSettings) -> StepTest:
    try:
        text = small_file(path, SIZE_MAX).decode("utf-8-sig")
        check_lines(text)
        raw = tomllib.loads(text)
    except UnicodeDecodeError as error:
        hint = "Save the file as plain UTF-8 text."
        raise TestFileError(
            f"expected UTF-8 text, found byte {error.object[error.start]:#04x}.", file=str(path), hint=hint
        ) from None
    except RecursionError:
        hint = "Write lists and tables one level deep."
        raise TestFileError(
            "expected plain keys and tables, found brackets nested too deep.", file=str(path), hint=hint
        ) from None
    except ValueError as error:
        raise _syntax_fault(path, str(error)) from None
    except OSError as error:
        raise TestFileError(
            f"could not be read: {error.strerror}.", file=str(path), hint="Check its permissions and size."
        ) from None
    return build_test(raw, str(path), _toml_place, settings)


def check_lines(text: str) -> None:
    """Raises ValueError where a line of TOML is longer than any that a person writes."""
    number, longest = max(enumerate(text.split("\n"), 1), key=lambda line: len(line[1]))
    if len(longest) > LINE_MAX:
        raise ValueError(f"a line of {len(longest):,} characters, more than {LINE_MAX:,} (at line {number}, column 1)")


def _syntax_fault(path: Path, message: str) -> TestFileError:
    found = re.search(r"\(at (line \d+, column \d+|end of document)\)", message)
    reason = message[: found.start()].strip() if found else message
    reason = cut(reason, 100)
    reason = f"{reason[:1].lower()}{reason[1:]}".rstrip(".")
    hint = 'Texts and paces stand in quotes ("5:30"), lists in [ ], and every line is key = value.'
    place = found.group(1) if found else ""
    return TestFileError(f"expected valid TOML, found: {reason}.", file=str(path), place=place, hint=hint)


def _toml_place(path: Trail, key: str) -> str:
    parts = [f"{path[i]} {path[i + 1]}" if i + 1 < len(path) else str(path[i]) for i in range(0, len(path), 2)]
    return ", ".join([*parts, *([key] if key else [])])
