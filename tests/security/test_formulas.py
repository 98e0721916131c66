"""No cell of a table we write is run as a formula by a spreadsheet program, and our own tables come back unchanged."""

from __future__ import annotations

import csv
import datetime as dt
import io
from pathlib import Path

import pytest
from hostile_base import write_home
from hostile_run import run
from hostile_texts import _labels, _named_ride, _ride
from hypothesis import given
from hypothesis import strategies as st

from steadyband.athlete.labelling import append_label
from steadyband.athlete.labels import read_labels
from steadyband.athlete.model import SessionLabel
from steadyband.ground.cells import as_written, defused

# OWASP, "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection), from memory: cells that begin with these.
OWASP = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


@given(st.text(max_size=40) | st.builds(str.__add__, st.sampled_from(OWASP) | st.just("'"), st.text(max_size=20)))
def test_every_text_comes_back(text: str) -> None:
    assert as_written(defused(text)) == text
    assert not defused(text).startswith(OWASP)


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "'=1", "''@x", "easy, felt good", "", "'quoted'"]
)
def test_what_a_person_typed_stays_readable(text: str) -> None:
    assert defused(text) in (text, f"'{text}")


def _cells(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("command", [("export", "."), ("audit", "activities", "--format", "csv")])
@pytest.mark.parametrize("name", ["=cmd|' /C calc'!A0", "@SUM(1+1)", "+1", "-2+3", "\t=1+1", '=HYPERLINK("http://x")'])
def test_tables_of_sessions(tmp_path: Path, command: tuple[str, ...], name: str) -> None:
    write_home(tmp_path)
    _ride(_named_ride(name))(tmp_path)
    done = run(tmp_path, *command)
    assert done.status == 0
    (row,) = _cells(done.out)
    assert row["name"].startswith("'")
    texts = [cell for cell in row.values() if cell.startswith(OWASP)]
    assert all(_is_number(cell) for cell in texts)


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_numbers_stay_numbers(tmp_path: Path) -> None:
    """A longitude west of Greenwich, a negative drift: no apostrophe in front of any number."""
    write_home(tmp_path)
    (row,) = _cells(run(tmp_path, "audit", "activities", "--format", "csv").out)
    assert not any(cell.startswith("'") for cell in row.values())
    assert float(row["load_mean"]) == pytest.approx(170)  # the ride was made at 170 W


@pytest.mark.parametrize("note", ["=1+1", "-legs heavy", "+2 kg", "@home", "'=x", "plain", "with, comma", 'a "word"'])
def test_labels_come_back(tmp_path: Path, note: str) -> None:
    path = tmp_path / "sessions.csv"
    label = SessionLabel(dt.date(2026, 5, 10), "09:00", "hard", "cycling", note)
    append_label(path, label)
    assert read_labels(path) == (label,)
    ((*_, cell),) = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))[1:]
    assert not cell.startswith(OWASP)


def test_a_note_typed_by_hand_is_read_as_typed(tmp_path: Path) -> None:
    write_home(tmp_path)
    _labels("=1+1")(tmp_path)
    (label,) = read_labels(tmp_path / "sessions.csv")
    assert label.note == "=1+1"
