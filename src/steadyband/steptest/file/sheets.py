"""Cells of a CSV file or a workbook as rows with named columns; what the columns mean stands in `tables`."""

from __future__ import annotations

import datetime as dt
import math
import re
import struct
import zlib
from dataclasses import dataclass
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from xml.parsers.expat import ExpatError
from xml.sax import SAXException
from zipfile import BadZipFile

from steadyband.ground.errors import TestFileError
from steadyband.ground.opening import small_file
from steadyband.ground.plain import cut, shown
from steadyband.ground.units import LOAD_UNITS
from steadyband.steptest.file.fields import nearest
from steadyband.steptest.file.workbooks import COLUMNS_MAX, FILE_MAX, ROWS_MAX, check_workbook

TABLE_SUFFIXES = (".csv", ".xlsx", ".ods")
TEST_COLUMNS = (
    *("date", "sport", "load_unit", "state", "mass_kg", "step_minutes", "position", "meter", "analyser", "analyser_sd"),
    *("override", "recording"),
)
STEP_COLUMNS = ("step", "load", "hr_max", "gait", "incline", "start", "note")
SAMPLE_COLUMNS = ("minute", "lactate")
COLUMNS = (*TEST_COLUMNS, *STEP_COLUMNS, *SAMPLE_COLUMNS)
NUMBER_COLUMNS = frozenset({"mass_kg", "step_minutes", "analyser_sd", "step", "hr_max", "incline", "lactate"})
CLOCK_COLUMNS = frozenset({"load", "minute", "start"})

NAME_MAX = 100
"""Longest name of a column that is looked at [characters]: the pattern for its unit tries the brackets pair by pair."""

# What pandas and calamine raise on a workbook or CSV that is none, or is cut short.
UNREADABLE = (
    *(BadZipFile, zlib.error, struct.error, ExpatError, SAXException, SyntaxError, EOFError, ArithmeticError),
    *(ValueError, LookupError, OSError, AttributeError, TypeError, RuntimeError, AssertionError),
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row with its number as a spreadsheet shows it; blank cells are left out."""

    number: int
    cells: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The table of one test; `name` is empty for CSV."""

    file: str
    name: str
    rows: tuple[Row, ...]
    columns: tuple[str, ...]

    def place(self, row: int | None, column: str) -> str:
        """Where a cell stands: "sheet 'Test', row 5, column lactate"."""
        parts = (
            f"sheet {self.name!r}" if self.name else "",
            f"row {row}" if row else "",
            f"column {column}" if column else "",
        )
        return ", ".join(part for part in parts if part)

    def fault(self, row: int | None, column: str, message: str, hint: str = "") -> TestFileError:
        """The error to raise about a cell."""
        return TestFileError(message, file=self.file, place=self.place(row, column), hint=hint)


def read_sheet(path: Path) -> Sheet:
    """The table of one test. Raises TestFileError where there is none, or a column is not known."""
    return _sheet(str(path), _grids(path))


def _grids(path: Path) -> dict[str, list[list[Any]]]:
    """The cells of every sheet by name; the one of a CSV has an empty name."""
    try:
        return {"": _csv_grid(path)} if path.suffix.lower() == ".csv" else _workbook_grids(path)
    except UnicodeDecodeError:
        raise TestFileError("expected UTF-8 text.", file=str(path), hint="Save the table as CSV in UTF-8.") from None
    except UNREADABLE as error:
        reason = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
        hint = "Open it in a spreadsheet program and save it anew, or save the table as CSV."
        raise TestFileError(
            f"expected a table, found one that cannot be read ({cut(reason, 160)}).", file=str(path), hint=hint
        ) from None


def _csv_grid(path: Path) -> list[list[Any]]:
    import pandas as pd

    text = small_file(path, FILE_MAX).decode("utf-8-sig")
    lines = text.splitlines()
    header = next((line for line in lines if line.strip()), "")
    if not header:
        return []
    parted = max(",;\t", key=header.count)
    if len(lines) > ROWS_MAX or max(line.count(parted) for line in lines) >= COLUMNS_MAX:
        raise ValueError(f"it has more than {ROWS_MAX:,} lines or {COLUMNS_MAX} columns")
    frame = pd.read_csv(
        StringIO(text), sep=parted, header=None, dtype=str, keep_default_na=False, skip_blank_lines=False
    )
    cells = frame.values.tolist()
    return cells if parted == "," else [[re.sub(r"^(-?\d+),(\d+)$", r"\1.\2", cell) for cell in row] for row in cells]


def _workbook_grids(path: Path) -> dict[str, list[list[Any]]]:
    import pandas as pd
    from python_calamine import CalamineError

    data = small_file(path, FILE_MAX)
    check_workbook(data)
    try:
        frames = pd.read_excel(BytesIO(data), sheet_name=None, header=None, dtype=object, engine="calamine")
    except CalamineError as fault:
        raise ValueError(str(fault)) from fault
    return {str(name): frame.values.tolist() for name, frame in frames.items()}


def _sheet(file: str, grids: dict[str, list[list[Any]]]) -> Sheet:
    headed = {name: head for name, grid in grids.items() if (head := _header(grid)) is not None}
    tests = [name for name, head in headed.items() if any(_column(cell)[0] == "lactate" for cell in grids[name][head])]
    if len(tests) != 1:
        found = f"{len(tests)} ({', '.join(repr(name) for name in tests)})" if tests else "none"
        where = "a header row" if "" in grids else "one sheet"
        hint = "The header names the columns: load, minute, lactate, hr_max, and so on; one test a file."
        raise TestFileError(f"expected {where} with a lactate column, found {found}.", file=file, hint=hint)
    name = tests[0]
    return _named(file, name, grids[name], headed[name])


def _header(grid: list[list[Any]]) -> int | None:
    return next((number for number, row in enumerate(grid) if any(_value(cell) is not None for cell in row)), None)


def _named(file: str, name: str, grid: list[list[Any]], head: int) -> Sheet:
    sheet = Sheet(file, name, (), ())
    named = [_column(cell) for cell in grid[head]]
    for column, _ in named:
        if column and column not in COLUMNS:
            raise sheet.fault(head + 1, column, f"there is no column {shown(column)}.", nearest(column, COLUMNS))
        if column and sum(column == other for other, _ in named) > 1:
            raise sheet.fault(head + 1, column, "expected each column once, found it twice.", "Delete or rename one.")
    unit = next((unit for column, unit in named if column == "load" and unit), None)
    rows = []
    for number, cells in enumerate(grid[head + 1 :], head + 2):
        row = {column: _cell(column, cell) for (column, _), cell in zip(named, cells, strict=False) if column}
        row = {column: value for column, value in row.items() if value is not None}
        rows += [Row(number, ({"load_unit": unit} if unit and "load" in row else {}) | row)] if row else []
    return Sheet(file, name, tuple(rows), tuple(column for column, _ in named))


def _column(cell: Any) -> tuple[str, str | None]:
    """The name of a column without case, blanks and unit, and the load unit where the brackets name one."""
    text = str(cell if _value(cell) is not None else "").strip()[:NAME_MAX]
    found = re.fullmatch(r"(.*?)\s*[(\[]\s*(.*?)\s*[)\]]", text)
    name, unit = found.groups() if found else (text, None)
    return re.sub(r"[\s_-]+", "_", name.strip().lower()), unit if unit in LOAD_UNITS else None


def _value(cell: Any) -> Any:
    """The cell as plain Python, None where it is blank."""
    if cell is None or (isinstance(cell, float) and math.isnan(cell)) or str(cell).strip() in ("", "NaT"):
        return None
    return cell.strip() if isinstance(cell, str) else cell


def _cell(column: str, cell: Any) -> Any:
    value = _value(cell)
    if column in CLOCK_COLUMNS and (isinstance(value, dt.time) or _THREE_PARTS.fullmatch(str(value))):
        return _clock(str(value), column)
    if column in NUMBER_COLUMNS | CLOCK_COLUMNS and isinstance(value, str):
        return _number(value)
    if column in ("date", "override", "note") or value is None:
        return value
    return value if isinstance(value, int | float) else str(value)


_THREE_PARTS = re.compile(r"\d{1,2}:\d{2}:\d{2}")


def _clock(text: str, column: str) -> str:
    """A spreadsheet takes 5:30 for half past five, 05:30:00; but for `start` that stands for minutes and seconds."""
    hours, minutes, seconds = (int(part[:2]) for part in text.split(":"))
    if column == "start":
        return f"{hours}:{minutes:02d}:{seconds:02d}"
    return f"{hours}:{minutes:02d}" if hours and not seconds else f"{hours * 60 + minutes}:{seconds:02d}"


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
