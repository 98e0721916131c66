"""A step test as a table: CSV, .xlsx or .ods with a header row and one row a sample.

Columns, in any order and case; a unit may stand behind a name in brackets, e.g. "load (W)", "lactate [mmol/L]":

- of the test, on its first row or repeated: date (YYYY-MM-DD), sport, load_unit (W, km/h, min/km, min/mile; or in the
  brackets behind load), state, mass_kg [kg], step_minutes [min], position, meter, analyser, analyser_sd [mmol/L],
  override, recording;
- of a step, on its first row or repeated: step (1, 2, ..; 0 or "baseline" for the baseline), load [load_unit], hr_max
  [bpm] (the highest of a step's rows counts), gait, incline [%], start (seconds or h:mm:ss into the recording), note;
- of a sample: minute [min from the start of the step, or m:ss], lactate [mmol/L].

Without a step column, rows of one load, gait and incline in a row are one step, and load 0, "baseline" or blank is the
baseline. CSV may be parted by comma, semicolon or tab; decimal commas are read where the comma does not part columns.
In a workbook, the sheet with a lactate column is read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from itertools import groupby
from pathlib import Path
from typing import Any

from steadyband.ground.plain import shown
from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.file.build import build_test
from steadyband.steptest.file.fields import Trail
from steadyband.steptest.file.sheets import SAMPLE_COLUMNS, TEST_COLUMNS, Row, Sheet, read_sheet
from steadyband.steptest.model import StepTest

BASELINE_WORDS = ("baseline", "rest")


def table_test(path: Path, settings: StepTestSettings) -> StepTest:
    """The step test of a table. Raises TestFileError naming file, sheet, row and column, expected and found."""
    sheet = read_sheet(path)
    baseline, steps = _split(sheet)
    raw = {key: _agreed(sheet, sheet.rows, key) for key in TEST_COLUMNS if any(key in row.cells for row in sheet.rows)}
    lactate = [row.cells["lactate"] for row in baseline if "lactate" in row.cells]
    raw |= {"baseline": lactate} if lactate else {}
    raw |= {"step": [_step(sheet, rows) for rows in steps]} if steps else {}
    return build_test(raw, str(path), _placer(sheet, baseline, steps), settings)


def _split(sheet: Sheet) -> tuple[list[Row], list[list[Row]]]:
    """Baseline rows, and the rows of every step."""
    key: Callable[[Row], object] = _numbered if "step" in sheet.columns else _same_load
    runs = [(name, list(rows)) for name, rows in groupby(sheet.rows, key)]
    baseline = [row for name, rows in runs if name is None for row in rows]
    steps = [(name, rows) for name, rows in runs if name is not None]
    seen: set[object] = set()
    for name, rows in steps:
        if "step" in sheet.columns and name in seen:
            raise sheet.fault(
                rows[0].number, "step", f"expected the rows of step {name} together.", "Sort the rows by step."
            )
        seen.add(name)
    return baseline, [rows for _, rows in steps]


def _numbered(row: Row) -> object:
    value = row.cells.get("step", row.cells.get("load", 0))
    return None if value == 0 or str(value).lower() in BASELINE_WORDS else value


def _same_load(row: Row) -> object:
    value = row.cells.get("load", 0)
    if value == 0 or str(value).lower() in BASELINE_WORDS:
        return None
    return value, row.cells.get("gait"), row.cells.get("incline")


def _agreed(sheet: Sheet, rows: Iterable[Row], key: str) -> Any:
    """The one value of a column over these rows, None where it is blank; two different ones raise."""
    typed = [(row.number, row.cells[key]) for row in rows if key in row.cells]
    for number, value in typed[1:]:
        if value != typed[0][1]:
            message = f"expected {shown(typed[0][1])} as in row {typed[0][0]}, found {shown(value)}."
            raise sheet.fault(number, key, message, "Leave the cell blank or repeat the same value.")
    return typed[0][1] if typed else None


def _step(sheet: Sheet, rows: list[Row]) -> dict[str, Any]:
    step = {key: _agreed(sheet, rows, key) for key in ("load", "gait", "incline", "start")}
    beats = [row.cells["hr_max"] for row in rows if "hr_max" in row.cells]
    numbers = [value for value in beats if not isinstance(value, str)]
    step["hr_max"] = max(numbers) if beats and len(numbers) == len(beats) else next(iter(beats), None)
    step["note"] = "; ".join(str(row.cells["note"]) for row in rows if "note" in row.cells) or None
    samples = [{key: row.cells[key] for key in SAMPLE_COLUMNS if key in row.cells} for row in _sampled(rows)]
    return {key: value for key, value in step.items() if value is not None} | {"samples": samples}


def _sampled(rows: list[Row]) -> list[Row]:
    return [row for row in rows if "lactate" in row.cells or "minute" in row.cells]


def _placer(sheet: Sheet, baseline: list[Row], steps: list[list[Row]]) -> Callable[[Trail, str], str]:
    def first(rows: Iterable[Row], column: str) -> int | None:
        rows = list(rows)
        holding = [row.number for row in rows if column in row.cells]
        return holding[0] if holding else (rows[0].number if rows else None)

    def place(trail: Trail, key: str) -> str:
        if trail[:1] != ("step",):
            found = re.fullmatch(r"baseline(?:, sample (\d+))?", key)
            if found:
                rows = [row for row in baseline if "lactate" in row.cells]
                row = rows[int(found[1] or 1) - 1].number if rows else None
                return f"{sheet.place(row, 'lactate')} (baseline)"
            whole = key == "step" or key not in sheet.columns
            return sheet.place(None if whole else first(sheet.rows, key), key)
        rows = steps[int(trail[1]) - 1]
        if len(trail) == 4:
            return f"{sheet.place(_sampled(rows)[int(trail[3]) - 1].number, key)} (step {trail[1]})"
        return f"{sheet.place(first(rows, key), 'lactate' if key == 'samples' else key)} (step {trail[1]})"

    return place
