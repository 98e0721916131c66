"""sessions.csv and the intent of a session."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from many_sessions import session

from steadyband.athlete.labels import find_label, intent_by_name, read_label_file, read_labels
from steadyband.athlete.model import IntentRule
from steadyband.athlete.own_words import own_words
from steadyband.ground.errors import AthleteFileError
from steadyband.review.own_rows import unmatched_lines


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
    ("row", "parts"),
    [
        ("2026-02-30,,easy,,", ["line 2", "2026-02-30", "no such day"]),
        ("3/4/2026,,easy,,", ["line 2", "2026-04-03 or 2026-03-04"]),
        ("14.5.26,,easy,,", ["line 2", "14.5.26", "expected a date"]),
        ("2026-05-14,,relaxed,,", ["line 2", "relaxed", "endurance"]),
        ("2026-05-14,25:00,easy,,", ["line 2", "25:00", "07:30"]),
        ("2026-05-14,,easy,,windy, wet", ["line 2", "more cells", "quotes"]),
    ],
)
def test_a_faulty_row_costs_that_row_and_a_sentence(tmp_path: Path, row: str, parts: list[str]) -> None:
    found = read_label_file(write(tmp_path, f"date,time,intent,sport,note\n{row}\n2026-05-15,,hard,,\n"))
    assert [item.intent for item in found.rows] == ["hard"]
    assert len(found.faults) == 1
    assert all(part in found.faults[0] for part in (*parts, "The row is not used")), found.faults


def test_a_column_nobody_knows_costs_a_sentence(tmp_path: Path) -> None:
    found = read_label_file(write(tmp_path, "date,intnet,weather,intent\n2026-05-14,,dry,easy\n"))
    assert [item.intent for item in found.rows] == ["easy"]
    assert "Did you mean 'intent'" in found.faults[0]
    assert "weather" in found.faults[1]


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("day,intent\n2026-05-14,easy\n", "expected a column 'date'"),
        ("date,intent\n2026-05-14," + "x" * 200_000, "expected a table"),
    ],
)
def test_a_file_that_is_no_table_of_sessions_is_refused(tmp_path: Path, text: str, part: str) -> None:
    with pytest.raises(AthleteFileError, match=part):
        read_labels(write(tmp_path, text))


@pytest.mark.parametrize(
    "text",
    [
        "date;time;intent;effort;note\n14.5.2026;7:30;easy;6,5;cool, dry\n",
        "Date;Time;Intent;Effort;Note\r\n14.05.2026;07:30:00;Easy;6,5;cool, dry\r\n",
        'date,time,intent,effort,note\n14 May 2026,7.30,easy,6.5,"cool, dry"\n',
        "date\ttime\tintent\teffort\tnote\n5/14/2026\t7:30 am\tEASY\t6.5\tcool, dry\n",
        'date,time,intent,effort,note\n2026-05-14,7h30,easy,6.5,"cool, dry"\n',
    ],
)
def test_rows_as_spreadsheets_write_them(tmp_path: Path, text: str) -> None:
    """Common practice, no source: semicolons and decimal commas in Europe, tabs from a copied table, months first in America."""
    (row,) = read_labels(write(tmp_path, text))
    assert (row.date, row.time, row.intent, row.effort, row.note) == (
        date(2026, 5, 14),
        "07:30",
        "easy",
        6.5,
        "cool, dry",
    )


def test_letters_as_older_spreadsheets_save_them(tmp_path: Path) -> None:
    path = tmp_path / "sessions.csv"
    path.write_bytes("date;intent;note\n2026-05-14;easy;Café, März\n".encode("cp1252"))
    assert read_labels(path)[0].note == "Café, März"


def test_a_note_without_an_intent_is_welcome(tmp_path: Path) -> None:
    """It tells nothing of what the session was for: that is left to another row, or assumed."""
    text = "date,time,intent,sport,note\n2026-05-14,07:00,,,slept badly\n2026-05-14,,easy,bike,\n"
    labels = read_labels(write(tmp_path, text))
    start = datetime(2026, 5, 14, 7, 2, tzinfo=UTC)
    found = find_label(labels, start, "cycling")
    assert found is not None
    assert found.intent == "easy"
    assert find_label(labels[:1], start, "cycling") is None
    assert own_words(labels, start, "cycling").note == "slept badly"
    assert read_labels(write(tmp_path, "date,note\n2026-05-14,rest day\n"))[0].note == "rest day"


def test_rows_that_match_no_session_are_named(tmp_path: Path) -> None:
    """One session on 14 May at 08:00 and one on 20 May, both by bike."""
    rides = [session(date(2026, 5, 14)), session(date(2026, 5, 20))]
    text = (
        "date,time,intent,sport,note\n2026-05-14,08:10,easy,,\n2026-05-14,10:00,hard,,\n2026-05-14,,easy,foot,\n"
        "2026-05-15,,race,,\n2026-05-16,,,,rest day\n2025-05-14,,easy,,\n2026-05-20,,easy,bike,\n"
    )
    labels = read_labels(write(tmp_path, text))
    lines = unmatched_lines(labels, rides, date(2026, 5, 11), date(2026, 5, 17))
    assert len(lines) == 4
    assert "line 3 (2026-05-14, 10:00, hard)" in lines[0]
    assert "began at 08:00, by the time zone Europe/Lisbon" in lines[0]
    assert "that day has cycling only" in lines[1]
    assert "that day has none; 2026-05-14 has one at 08:00" in lines[2]
    assert "line 7 (2025-05-14)" in lines[3]
    assert unmatched_lines(labels[:1], rides, date(2026, 5, 11), date(2026, 5, 17)) == ()


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
