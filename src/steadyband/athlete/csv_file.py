"""Reading the athlete's own CSV files: one way for all of them."""

from __future__ import annotations

import csv
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

from steadyband.ground.errors import AthleteFileError
from steadyband.ground.opening import small_text

Row = TypeVar("Row")
SIZE_MAX = 2**23
"""Largest CSV file of the athlete's own [bytes] (design choice: ten years of labels take under a million)."""


def read_rows(path: Path, parse: Callable[[str, str], Iterable[Row]]) -> tuple[Row, ...]:
    """What `parse(text, file)` makes of a CSV file; an absent file is an empty tuple.

    Raises AthleteFileError where the file is no UTF-8 text or no table, and whatever `parse` raises.
    """
    if not path.exists():
        return ()
    check_at_home(path)
    try:
        return tuple(parse(small_text(path, SIZE_MAX), str(path)))
    except (OSError, UnicodeDecodeError) as fault:
        raise AthleteFileError(f"cannot be read as UTF-8 text ({fault}).", file=str(path)) from fault
    except csv.Error as fault:
        raise AthleteFileError(
            f"expected a table with commas, found text that is none ({fault}).",
            file=str(path),
            hint="Save it as CSV again.",
        ) from fault


def check_at_home(path: Path) -> None:
    """Raises AthleteFileError for a link that leads out of its folder: what it points at is nobody's to read or replace."""
    if path.is_symlink() and not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(path.parent)):
        raise AthleteFileError(
            "expected a file of this folder, found a link that leads out of it; it is not followed.",
            file=str(path),
            hint="Put the file itself here.",
        )
