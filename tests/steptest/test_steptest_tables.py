"""The same test from CSV, .xlsx and .ods as from TOML; faults name sheet, row and column."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from steptest_data import HEART, LACTATE, LOADS, bike, step

from steadyband.ground.errors import TestFileError
from steadyband.steptest import StepTest, load_test, load_tests

HEADER = [
    "date",
    "sport",
    "state",
    "mass_kg",
    "step_minutes",
    "step",
    "load (W)",
    "minute",
    "lactate (mmol/L)",
    "HR max",
]
Rows = list[list[Any]]


def rows() -> Rows:
    """The test of steptest_data with two samples a step; test-wide cells on the first row only."""
    steps = [
        [None] * 5 + [number, load, minute, lactate, hr]
        for number, (load, lactate, hr) in enumerate(zip(LOADS, LACTATE, HEART, strict=True), 1)
        for minute in (5, 10)
    ]
    return [["2026-04-20", "cycling", "fed", 74, 10, 0, None, None, 1.1, None], *steps]


def write(path: Path, table: Rows, header: list[str] | None = None, **options: Any) -> Path:
    frame = pd.DataFrame([header or HEADER, *table], dtype=object)
    if path.suffix == ".csv":
        frame.to_csv(path, header=False, index=False, **options)
    else:
        frame.to_excel(
            path, header=False, index=False, sheet_name="Test", engine="odf" if path.suffix == ".ods" else None
        )
    return path


def same(table: StepTest, toml: StepTest) -> bool:
    return all(
        getattr(table, name) == getattr(toml, name)
        for name in (
            "date",
            "sport",
            "load_unit",
            "state",
            "mass_kg",
            "step_minutes",
            "baseline",
            "steps",
            "analyser_sd",
        )
    )


@pytest.mark.parametrize("suffix", [".csv", ".xlsx", ".ods"])
def test_a_table_gives_the_same_test_as_toml(tmp_path: Path, suffix: str) -> None:
    table = load_test(write(tmp_path / f"bike{suffix}", rows()))
    toml = bike(tmp_path, [step(x, y, y, hr=h) for x, y, h in zip(LOADS, LACTATE, HEART, strict=True)])
    assert same(table, toml)
    assert table.file == f"bike{suffix}"
    assert [test.file for test in load_tests(tmp_path)] == ["2026-04-20-bike.toml", f"bike{suffix}"]


def test_without_a_step_column_rows_of_one_load_are_a_step(tmp_path: Path) -> None:
    table = [[*row[:5], row[6] or "baseline", *row[7:]] for row in rows()]
    header = HEADER[:5] + HEADER[6:]
    assert same(load_test(write(tmp_path / "a.csv", table, header)), load_test(write(tmp_path / "b.csv", rows())))


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", rows(), sep=";", decimal=",")
    path.write_text(path.read_text(encoding="utf-8").replace(".", ","), encoding="utf-8")
    assert same(load_test(path), load_test(write(tmp_path / "b.csv", rows())))


@pytest.mark.parametrize("suffix", [".csv", ".xlsx", ".ods"])
def test_paces_and_sample_times_typed_as_clock_times(tmp_path: Path, suffix: str) -> None:
    clock: Any = (lambda m, s: f"{m}:{s:02d}") if suffix == ".csv" else (lambda m, s: dt.time(m, s))
    day: Any = "2026-04-20" if suffix == ".csv" else dt.datetime(2026, 4, 20)
    header = ["date", "sport", "load_unit", "step_minutes", "load", "gait", "incline", "minute", "lactate"]
    table: Rows = [[day, "running", "min/km", 10, 0, None, None, None, 1.0]]
    for pace, gait in ((clock(10, 30), "walk"), (clock(6, 0), "run"), (clock(5, 30), "run")):
        table.append([None] * 4 + [pace, gait, 1, clock(6, 30), 1.1])
    test = load_test(write(tmp_path / f"run{suffix}", table, header))
    assert [item.load for item in test.steps] == [10.5, 6.0, 5.5]
    assert [item.gait for item in test.steps] == ["walk", "run", "run"]
    assert test.steps[0].samples[0].minute == 6.5
    assert test.date == dt.date(2026, 4, 20)


def test_the_highest_heart_rate_of_a_step_counts(tmp_path: Path) -> None:
    table = rows()
    table[1][-1], table[2][-1] = 99, 104
    assert load_test(write(tmp_path / "a.csv", table)).steps[0].hr_max_bpm == 104


def cell(row: int, column: int, value: object) -> Rows:
    table = rows()
    table[row][column] = value
    return table


# Each: the table, the place (rows as a spreadsheet counts them, header = 1), what the message must hold.
FAULTS = [
    ("lactate out of range", cell(5, 8, 45), "sheet 'Test', row 7, column lactate (step 3)", ["0.3 to 30", "45"]),
    ("negative baseline", cell(0, 8, -1), "sheet 'Test', row 2, column lactate (baseline)", ["0.3 to 30", "-1"]),
    ("word for a number", cell(5, 8, "high"), "sheet 'Test', row 7, column lactate (step 3)", ["a number", "'high'"]),
    ("two loads in a step", cell(2, 6, 125), "sheet 'Test', row 4, column load", ["120", "125", "row 3"]),
    ("two sports", cell(3, 1, "running"), "sheet 'Test', row 5, column sport", ["'cycling'", "'running'"]),
    ("unsorted", [*rows()[:11], *cell(11, 6, 130)[11:12], *cell(12, 6, 130)[12:]], "sheet 'Test', row 13, column load (step 6)", ["130 W after 200 W"]),
    ("torn step", [*rows()[:2], *rows()[3:5], rows()[2]], "sheet 'Test', row 6, column step", ["together"]),
    ("late minute", cell(2, 7, 20), "sheet 'Test', row 4, column minute (step 1)", ["10-minute step", "20"]),
    ("no lactate in a step", [*cell(2, 8, None)[:1], *[[*row[:8], None, row[9]] if row[5] == 2 else row for row in rows()[1:]]], "sheet 'Test', row 5, column lactate (step 2)", ["a number in mmol/L", "nothing"]),
    ("no sport", cell(0, 1, None), "sheet 'Test', row 2, column sport", ["cycling", "nothing"]),
    ("too few steps", rows()[:5], "sheet 'Test', column step", ["at least 3", "found 2"]),
    ("heart rate", cell(3, 9, 500), "sheet 'Test', row 5, column hr_max (step 2)", ["25 to 230", "500"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("table", "place", "parts"), [fault[1:] for fault in FAULTS], ids=[fault[0] for fault in FAULTS]
)
@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_faults_name_sheet_row_and_column(
    tmp_path: Path, suffix: str, table: Rows, place: str, parts: list[str]
) -> None:
    path = write(tmp_path / f"a{suffix}", table)
    with pytest.raises(TestFileError) as caught:
        load_test(path)
    assert caught.value.file == str(path)
    assert caught.value.place == (place if suffix == ".xlsx" else place.removeprefix("sheet 'Test', "))
    assert [part for part in parts if part not in str(caught.value)] == []


def test_unknown_and_doubled_columns(tmp_path: Path) -> None:
    with pytest.raises(TestFileError, match=r"row 1, column lactat: .*Did you mean \"lactate\""):
        load_test(write(tmp_path / "a.csv", [[*row, row[8]] for row in rows()], [*HEADER, "lactat"]))
    with pytest.raises(TestFileError, match="row 1, column lactate: expected each column once"):
        load_test(write(tmp_path / "b.csv", [[*row, row[8]] for row in rows()], [*HEADER, "Lactate"]))


def test_units_that_differ(tmp_path: Path) -> None:
    table = [[*row, "km/h" if row[5] == 3 else None] for row in rows()]
    with pytest.raises(TestFileError, match=r"column load_unit: expected 'W' as in row 3, found 'km/h'"):
        load_test(write(tmp_path / "a.csv", table, [*HEADER, "load_unit"]))


@pytest.mark.parametrize("suffix", [".csv", ".xlsx", ".ods"])
@pytest.mark.parametrize("content", [b"", b"\n\n", b"hello", b"PK\x03\x04broken", b"\xff\xfe\x00a"])
def test_files_that_are_no_tables(tmp_path: Path, suffix: str, content: bytes) -> None:
    path = tmp_path / f"a{suffix}"
    path.write_bytes(content)
    with pytest.raises(TestFileError) as caught:
        load_test(path)
    assert "expected" in caught.value.message
    assert caught.value.hint


@pytest.mark.parametrize("suffix", [".xlsx", ".ods"])
def test_a_workbook_cut_short(tmp_path: Path, suffix: str) -> None:
    whole = write(tmp_path / f"a{suffix}", rows()).read_bytes()
    for part in (0.3, 0.7, 0.99):
        (tmp_path / f"cut{suffix}").write_bytes(whole[: int(part * len(whole))])
        with pytest.raises(TestFileError, match="cannot be read"):
            load_test(tmp_path / f"cut{suffix}")


def test_a_ragged_csv(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", rows())
    path.write_text(path.read_text(encoding="utf-8").replace("1.4", "1,4"), encoding="utf-8")
    with pytest.raises(TestFileError, match="cannot be read"):
        load_test(path)


def test_which_sheet_is_read(tmp_path: Path) -> None:
    frame = pd.DataFrame([HEADER, *rows()], dtype=object)
    with pd.ExcelWriter(tmp_path / "a.xlsx") as book:
        pd.DataFrame([["shopping"], ["strips"]]).to_excel(book, sheet_name="Notes", header=False, index=False)
        frame.to_excel(book, sheet_name="Bike", header=False, index=False)
    assert load_test(tmp_path / "a.xlsx").sport == "cycling"
    with pd.ExcelWriter(tmp_path / "b.xlsx") as book:
        for name in ("One", "Two"):
            frame.to_excel(book, sheet_name=name, header=False, index=False)
    with pytest.raises(TestFileError, match=r"found 2 \('One', 'Two'\)"):
        load_test(tmp_path / "b.xlsx")
