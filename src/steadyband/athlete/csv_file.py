"""Reading the athlete's own CSV files: one way for all of them."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

from steadyband.ground.errors import AthleteFileError
from steadyband.ground.opening import small_file

Row = TypeVar("Row")
SIZE_MAX = 2**23
"""Largest CSV file of the athlete's own [bytes] (design choice: ten years of labels take under a million)."""


def read_rows(path: Path, parse: Callable[[str, str], Iterable[Row]]) -> tuple[Row, ...]:
    """What `parse(text, file)` makes of a CSV file; an absent file is an empty tuple.

    Raises AthleteFileError where the file is no text or no table, and whatever `parse` raises.
    """
    if not path.exists():
        return ()
    check_at_home(path)
    try:
        data = small_file(path, SIZE_MAX)
        text = data.decode(encoding_of(data)).replace("\r\n", "\n").replace("\r", "\n")
        return tuple(parse(text, str(path)))
    except (OSError, UnicodeDecodeError) as fault:
        raise AthleteFileError(f"cannot be read as UTF-8 text ({fault}).", file=str(path)) from fault
    except csv.Error as fault:
        raise AthleteFileError(
            f"expected a table with commas, found text that is none ({fault}).",
            file=str(path),
            hint="Save it as CSV again.",
        ) from fault


def encoding_of(data: bytes) -> str:
    """UTF-8, with or without its mark; text that is none is taken as Windows Western, as spreadsheets save it.

    >>> encoding_of("café".encode()), encoding_of("café".encode("cp1252"))
    ('utf-8-sig', 'cp1252')
    """
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "utf-8-sig" if b"\0" in data else "cp1252"
    return "utf-8-sig"


def delimiter_of(text: str) -> str:
    """What parts the cells, by the first line: a semicolon or a tab where it has one, as spreadsheets write where the comma is the
    decimal sign; else a comma.

    >>> delimiter_of("date;time;intent"), delimiter_of("date,time,intent")
    (';', ',')
    """
    first = text.lstrip("\n").split("\n", 1)[0]
    return next((sign for sign in (";", "\t") if sign in first), ",")


def column_names(text: str) -> list[str]:
    """The names in the first line that has any, in lower case and without space around them; empty without one."""
    rows = csv.reader(io.StringIO(text), skipinitialspace=True, delimiter=delimiter_of(text))
    return next(([name.strip().casefold() for name in row] for row in rows if any(row)), [])


def check_at_home(path: Path) -> None:
    """Raises AthleteFileError for a link that leads out of its folder: what it points at is nobody's to read or replace."""
    if path.is_symlink() and not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(path.parent)):
        raise AthleteFileError(
            "expected a file of this folder, found a link that leads out of it; it is not followed.",
            file=str(path),
            hint="Put the file itself here.",
        )
