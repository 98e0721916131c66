"""Reading the athlete's own CSV files: one way for all of them."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

from steadyband.errors import AthleteFileError

Row = TypeVar("Row")


def read_rows(path: Path, parse: Callable[[str, str], Iterable[Row]]) -> tuple[Row, ...]:
    """What `parse(text, file)` makes of a CSV file; an absent file is an empty tuple.

    Raises AthleteFileError where the file is no UTF-8 text or no table, and whatever `parse` raises.
    """
    if not path.exists():
        return ()
    try:
        return tuple(parse(path.read_text(encoding="utf-8-sig"), str(path)))
    except (OSError, UnicodeDecodeError) as fault:
        raise AthleteFileError(f"cannot be read as UTF-8 text ({fault}).", file=str(path)) from fault
    except csv.Error as fault:
        raise AthleteFileError(
            f"expected a table with commas, found text that is none ({fault}).",
            file=str(path),
            hint="Save it as CSV again.",
        ) from fault
