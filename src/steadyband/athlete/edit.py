"""athlete.toml changed from outside a text editor: values alone are set; comments, order and blank lines stay as they are."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from steadyband.athlete.athlete import SIZE_MAX, parse_athlete
from steadyband.athlete.csv_file import check_at_home
from steadyband.athlete.files import replace_atomically
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.locking import held
from steadyband.ground.opening import small_file

WAIT_S = 5.0
"""Longest wait for another process that writes the file at the same moment (design choice)."""


def set_values(path: Path, values: Mapping[tuple[str, ...], Any]) -> None:
    """Set values of athlete.toml by their keys, such as ("body", "mass_kg"); None takes a key out.

    The new text is read as any athlete file is before it takes the old one's place. Raises AthleteFileError where a value
    cannot stand there, or the file cannot be read or written; it is then untouched.
    """
    import tomlkit

    try:
        check_at_home(path)
        with held(path, WAIT_S):
            document = tomlkit.parse(small_file(path, SIZE_MAX).decode("utf-8-sig"))
            for keys, value in values.items():
                _set(document, keys, value)
            text = tomlkit.dumps(document)
            parse_athlete(tomllib.loads(text), path.parent, path.name)
            replace_atomically(path, text.encode())
    except OSError as fault:
        raise AthleteFileError(f"cannot be written ({fault.strerror}).", file=str(path)) from fault
    except AthleteFileError:
        raise
    except ValueError as fault:
        raise AthleteFileError(f"not valid TOML: {fault}.", file=str(path), hint="Mend that line.") from fault


def _set(document: Any, keys: tuple[str, ...], value: Any) -> None:
    table = document
    for key in keys[:-1]:
        if key not in table:
            if value is None:
                return
            import tomlkit

            table[key] = tomlkit.table()
        table = table[key]
    if value is not None:
        table[keys[-1]] = value
    elif keys[-1] in table:
        del table[keys[-1]]
