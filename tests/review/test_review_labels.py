"""sessions.csv and the intent of a session."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from steadyband.athlete.labels import find_label, intent_by_name, read_labels
from steadyband.athlete.model import IntentRule
from steadyband.ground.errors import AthleteFileError


def write(folder: Path, text: str) -> Path:
    path = folder / "sessions.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_reads_rows_and_blank_cells(tmp_path: Path) -> None:
    labels = read_labels(
        write(tmp_path, "date,time,intent,sport,note\n2026-05-14,7:30,easy,,\n\n2026-05-15,,hard,,x\n")
    )
    assert [(item.date, item.time, item.intent) for item in labels] == [
        (date(2026, 5, 14), "07:30", "easy"),
        (date(2026, 5, 15), None, "hard"),
    ]


def test_absent_file_is_no_label(tmp_path: Path) -> None:
    assert read_labels(tmp_path / "sessions.csv") == ()


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("date,intent\n14.5.2026,easy\n", ["line 2", "14.5.2026", "expected a date"]),
        ("date,intent\n2026-05-14,relaxed\n", ["line 2", "relaxed", "endurance"]),
        ("date,time,intent\n2026-05-14,25:00,easy\n", ["line 2", "25:00", "07:30"]),
        ("date,purpose\n2026-05-14,easy\n", ["purpose", "expected one of"]),
        ("date,time\n2026-05-14,07:30\n", ["intent", "line 1"]),
        ("date,intent\n2026-05-14,easy,too,many\n", ["line 2", "more cells"]),
        ("date,intent\n2026-05-14," + "x" * 200_000, ["sessions.csv", "expected a table with commas"]),
    ],
)
def test_faults_name_line_and_value(tmp_path: Path, text: str, parts: list[str]) -> None:
    with pytest.raises(AthleteFileError) as caught:
        read_labels(write(tmp_path, text))
    assert all(part in str(caught.value) for part in parts), str(caught.value)


def test_a_timed_label_goes_before_one_for_the_day(tmp_path: Path) -> None:
    labels = read_labels(write(tmp_path, "date,time,intent\n2026-05-14,,easy\n2026-05-14,17:00,hard\n"))
    morning, evening = (datetime(2026, 5, 14, hour, 5, tzinfo=UTC) for hour in (7, 17))
    found = [find_label(labels, start, "cycling") for start in (morning, evening)]
    assert [item.intent if item else None for item in found] == ["easy", "hard"]
    assert find_label(labels, datetime(2026, 5, 13, 7, tzinfo=UTC), "cycling") is None


def test_a_label_of_another_sport_is_left_alone(tmp_path: Path) -> None:
    labels = read_labels(write(tmp_path, "date,intent,sport\n2026-05-14,easy,running\n"))
    assert find_label(labels, datetime(2026, 5, 14, 7, tzinfo=UTC), "cycling") is None


def test_intent_by_name() -> None:
    rules = (IntentRule("intervals", "hard"), IntentRule("easy", "easy"))
    assert intent_by_name("Evening INTERVALS 5x4", rules) == "hard"
    assert intent_by_name(None, rules) is None
