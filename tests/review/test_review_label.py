"""The labelling dialogue, and rows added to sessions.csv."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from many_sessions import session

from steadyband.athlete.labelling import append_label, dialogue, question, read_answer, unlabelled
from steadyband.athlete.labels import find_label, read_labels
from steadyband.athlete.model import SessionLabel
from steadyband.ground.errors import AthleteFileError

DAY = date(2026, 2, 2)
LABEL = SessionLabel(DAY, "08:00", "hard", "cycling", 'with "speed", and wind')


def talk(answers: list[str]) -> tuple[list[SessionLabel], list[str], object]:
    said: list[str] = []
    stored: list[SessionLabel] = []
    replies: Iterator[str] = iter(answers)

    def ask(prompt: str) -> str:
        try:
            return next(replies)
        except StopIteration:
            raise EOFError from None

    sessions = unlabelled([session(DAY), session(DAY, hour=17, guess="hard"), session(DAY, intent_source="recording")])
    return stored, said, dialogue(sessions, ask, said.append, stored.append)


@pytest.mark.parametrize(
    ("typed", "kind", "intent", "note"),
    [
        ("hard", "intent", "hard", ""),
        ("H", "intent", "hard", ""),
        ("en legs heavy", "intent", "endurance", "legs heavy"),
        ("ea", "intent", "easy", ""),
        ("race 2 laps", "intent", "race", "2 laps"),
        ("s", "skip", "", ""),
        ("Q", "quit", "", ""),
        ("e", "again", "", ""),
        ("", "again", "", ""),
        ("relaxed", "again", "", ""),
    ],
)
def test_answers(typed: str, kind: str, intent: str, note: str) -> None:
    found = read_answer(typed)
    assert (found.kind, found.intent, found.note) == (kind, intent, note)


def test_a_doubtful_answer_is_asked_again_with_the_choices() -> None:
    assert "endurance and easy" in read_answer("e").text
    assert "found nothing" in read_answer("").text
    assert "'relaxed'" in read_answer("relaxed").text


def test_the_newest_week_comes_first_and_in_it_what_looks_hard() -> None:
    days = [(date(2026, 1, 26), "endurance"), (date(2026, 2, 1), "hard"), (date(2026, 2, 2), "easy"), (DAY, "hard")]
    found = unlabelled([session(day, hour=8 + n, guess=guess) for n, (day, guess) in enumerate(days)])
    assert [(item.day.day, item.guess.intent) for item in found] == [
        (2, "hard"),
        (2, "easy"),
        (1, "hard"),
        (26, "endurance"),
    ]


def test_enter_takes_the_guess() -> None:
    stored, said, _ = talk(["", ""])
    assert [(item.time, item.intent) for item in stored] == [("17:00", "hard"), ("08:00", "endurance")]
    assert "(Enter)" in said[1]
    assert read_answer("", None).kind == "again"
    assert read_answer(" ", "easy").intent == "easy"


@pytest.mark.parametrize(
    ("before", "row"),
    [
        (b"Date;Time;Intent;Sport;Note\r\n14.5.2026;;easy;;\r\n", b"2026-02-02;08:00;hard;cycling;"),
        ("date;time;intent;note\n2026-01-01;;easy;März\n".encode("cp1252"), b"2026-02-02;08:00;hard;"),
    ],
)
def test_a_row_is_added_the_way_the_file_is_written(tmp_path: Path, before: bytes, row: bytes) -> None:
    path = tmp_path / "sessions.csv"
    path.write_bytes(before)
    append_label(path, LABEL)
    assert path.read_bytes().startswith(before + row)
    assert read_labels(path)[-1].note == LABEL.note


def test_only_assumed_sessions_are_asked_and_hard_looking_ones_first() -> None:
    stored, said, tally = talk(["h intervals", "relaxed", "en"])
    assert [(item.time, item.intent, item.note) for item in stored] == [
        ("17:00", "hard", "intervals"),
        ("08:00", "endurance", ""),
    ]
    assert "looks like hard" in said[1]
    assert (tally.stored, tally.skipped, tally.left) == (2, 0, 0)


def test_nothing_is_stored_unasked() -> None:
    for answers in ([], ["q"], ["relaxed", "x", "q"], ["s", "s"]):
        stored, _, _ = talk(answers)
        assert stored == []


def test_the_question_tells_the_session_and_the_guess() -> None:
    text = question(session(DAY, name="Ride out"), 1, 3)
    assert text.startswith('1 of 3: Monday 2 February 2026, 08:00, cycling "Ride out", 1 h 30 active')


def test_a_new_file_gets_its_header(tmp_path: Path) -> None:
    path = tmp_path / "sessions.csv"
    append_label(path, LABEL)
    assert path.read_bytes() == (
        b'date,time,intent,sport,note\n2026-02-02,08:00,hard,cycling,"with ""speed"", and wind"\n'
    )
    assert read_labels(path) == (LABEL,)


@pytest.mark.parametrize(
    "before",
    [
        b"date,time,intent,sport,note\n2026-01-01, 7:30,easy,,my  own note \n",
        b"date,time,intent,sport,note\r\n2026-01-01,,easy,,\r\n",
        b"date,time,intent,sport,note\n2026-01-01,,easy,,no line end",
        b"\xef\xbb\xbfintent,date,time\nhard,2026-01-01,\n\n\n",
        'date,time,intent,sport,note\n2026-01-01,,easy,,"café, two\nlines"\n'.encode(),
    ],
)
def test_what_stood_in_the_file_stays_byte_for_byte(tmp_path: Path, before: bytes) -> None:
    path = tmp_path / "sessions.csv"
    path.write_bytes(before)
    append_label(path, LABEL)
    after = path.read_bytes()
    assert after.startswith(before)
    found = read_labels(path)[-1]
    assert (found.date, found.time, found.intent) == (LABEL.date, LABEL.time, LABEL.intent)
    assert after.endswith(b"\r\n") is (b"\r\n" in before)


def test_a_stored_label_is_found_for_its_session(tmp_path: Path) -> None:
    stored, _, _ = talk(["h", "en"])
    for item in stored:
        append_label(tmp_path / "sessions.csv", item)
    labels = read_labels(tmp_path / "sessions.csv")
    for item in (session(DAY), session(DAY, hour=17)):
        label = find_label(labels, item.audit.info.local_start, "cycling")
        assert label is not None
        assert label.intent == ("hard" if item.audit.info.local_start.hour == 17 else "endurance")


def test_a_faulty_file_is_never_written_to(tmp_path: Path) -> None:
    path = tmp_path / "sessions.csv"
    for before, part in (
        (b"day,intent\n2026-01-01,easy\n", "column 'date'"),
        (b"date,time\n2026-01-01,\n", "column intent"),
        (b"date,intent\n2026-01-01,easy\n", "column time"),
    ):
        path.write_bytes(before)
        with pytest.raises(AthleteFileError, match=part):
            append_label(path, LABEL)
        assert path.read_bytes() == before


def test_links_and_permissions_are_kept(tmp_path: Path) -> None:
    real = tmp_path / "elsewhere.csv"
    real.write_bytes(b"date,time,intent\n")
    real.chmod(0o640)
    link = tmp_path / "sessions.csv"
    link.symlink_to(real)
    append_label(link, LABEL)
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert sorted(item.name for item in tmp_path.iterdir()) == ["elsewhere.csv", "sessions.csv"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "sessions.csv"
    path.write_bytes(b"date,time,intent\n")
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(AthleteFileError, match="cannot be written"):
            append_label(path, LABEL)
    finally:
        tmp_path.chmod(0o700)
