"""Entering a step test as people do: slips, second thoughts, lines from paper, a finished test mended. All values invented."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from field_data import SETTINGS, T0, write_test

from steadyband.ground.errors import UsageError
from steadyband.steptest import load_test
from steadyband.steptest.dialogue.questions import read_load
from steadyband.steptest.dialogue.room import Room, Taken
from steadyband.steptest.dialogue.talk import planned_load
from steadyband.steptest.dialogue.typed import journal_path

SETUP = ("", "bike", "", "58", "", "70", "", "", "")


class Person:
    """Somebody who types: one room, a clock that is moved by hand."""

    def __init__(self, file: Path, *lines: str, **preset: object) -> None:
        self.now = float(T0)
        self.room = Room(file, lambda: self.now, date(2026, 11, 27), SETTINGS)
        self.opened = self.room.open({"live": False} | preset)
        self.said = self.types(*lines)

    def types(self, *lines: str) -> str:
        """What is said to the last of these lines."""
        taken = Taken()
        for line in lines:
            taken = self.room.take(line)
        return " ".join(remark.text for remark in taken.remarks)

    @property
    def answers(self) -> dict[str, object]:
        return dict(self.room.draft.answers)


@pytest.fixture
def paper(tmp_path: Path) -> Person:
    """A test by bike typed from paper, set up: 58 kg, from 70 W by 15 W, baseline taken."""
    return Person(tmp_path / "2026-06-15-bike.toml", *SETUP, "1.1")


def test_the_date_proposed_is_that_of_the_file(tmp_path: Path) -> None:
    person = Person(tmp_path / "2026-06-15-bike.toml")
    assert person.room.question is not None
    assert person.room.question.default == "2026-06-15"
    assert Person(tmp_path / "autumn.toml").room.question.default == "2026-11-27"  # type: ignore[union-attr]


@pytest.mark.parametrize("typed", ["2026-06-15", "15.6.2026", "15 June 2026", "June 15, 2026", "6/15/2026"])
def test_a_date_in_any_unmistakable_form(tmp_path: Path, typed: str) -> None:
    assert Person(tmp_path / "a.toml", typed).answers["date"] == "2026-06-15"


def test_a_test_file_takes_the_same_dates(tmp_path: Path) -> None:
    file = write_test(tmp_path, "2026-04-20-bike.toml")
    file.write_text(file.read_text().replace("date = 2026-04-20", 'date = "20.4.2026"'))
    assert load_test(file).date == date(2026, 4, 20)


def test_answers_are_taken_back_one_by_one(tmp_path: Path) -> None:
    person = Person(tmp_path / "a.toml", "", "bike", "", "85")
    assert "mass kg 85" in person.types("back")
    assert "mass_kg" not in person.answers
    person.types("back", "back")
    assert "sport" not in person.answers
    person.types("foot", "km/h")
    assert person.answers["sport"] == "running"


def test_back_is_no_device_and_undo_goes_on_into_the_answers(tmp_path: Path) -> None:
    person = Person(tmp_path / "a.toml", *SETUP[:7])
    person.types("back")
    assert "analyser" not in person.answers
    assert "step_height" not in person.answers
    person.types("", "", "", "1.1", "undo", "undo")
    assert "meter" not in person.answers


def test_a_lactate_is_no_first_load(tmp_path: Path) -> None:
    person = Person(tmp_path / "a.toml", *SETUP[:5])
    assert "expected a load in W from 20 to 1500, found 1,2" in person.types("1,2")
    assert "first_load" not in person.answers


@pytest.mark.parametrize(
    ("typed", "unit", "asked"),
    [
        ("7.30", "min/km", "is that 7:30, or 7.3 minutes, which is 7:18"),
        ("5,40", "min/km", "is that 5:40, or 5.4 minutes, which is 5:24"),
        ("5,40", "km/h", "is that 5.4 km/h, or a pace of 5:40 min/km"),
        ("7.30", "km/h", "is that 7.3 km/h, or a pace of 7:30 min/km"),
        ("120", "min/km", "from 2:00 to 30:00"),
        ("1,2", "km/h", "from 2 to 30"),
        ("7:75", "min/km", "minutes:seconds"),
        ("120 W", "km/h", "km/h"),
    ],
)
def test_a_pace_with_a_point_is_asked_about(typed: str, unit: str, asked: str) -> None:
    with pytest.raises(UsageError, match=asked.replace(".", r"\.")):
        read_load(typed, unit)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("typed", "unit", "load"),
    [
        ("7:30", "min/km", 7.5),
        ("7", "min/km", 7.0),
        ("9,5", "km/h", 9.5),
        ("9.25 km/h", "km/h", 9.25),
        ("6:00", "km/h", 10.0),  # by hand: a kilometre in six minutes
        ("145 W", "W", 145.0),
    ],
)
def test_what_can_be_read_in_one_way_only_is_read(typed: str, unit: str, load: float) -> None:
    assert read_load(typed, unit) == pytest.approx(load)  # type: ignore[arg-type]


def test_a_line_from_paper_is_two_readings_and_a_heart_rate(paper: Person) -> None:
    said = paper.types("next", "1,0 1,1 125")
    step = paper.room.draft.steps[0]
    assert [(item.minute, item.lactate) for item in step.samples] == [(5, 1.0), (10, 1.1)]
    assert step.hr_max == 125
    assert "1.0 mmol/L at 5:00" in said
    assert "1.1 mmol/L at 10:00" in said
    assert "125 bpm" in said


def test_a_heart_rate_that_replaces_another_says_so(paper: Person) -> None:
    assert "131 bpm, instead of 125" in paper.types("next", "1,0 1,1 125", "131")


def test_a_whole_row_of_the_sheet_in_one_line(paper: Person) -> None:
    paper.types("next 70 1,0 1,1 125", "next 85 1,1; 1,2; 131 bpm")
    assert [(step.load, len(step.samples), step.hr_max) for step in paper.room.draft.steps] == [
        (70, 2, 125),
        (85, 2, 131),
    ]


@pytest.mark.parametrize(
    "line",
    [
        "1.0 1.1 125 130", "1.0 and 1.1", "1.2 10", "1.0 at 5 at 10", "next 85 now then", "load 85 90", "hr 120 130",
        "drop 1 2", "finish now", "undo that", "show me", "walk fast", "baseline 1.1 62", "at 5 1.0", "1.0 step 1 x",
        "change colour red", "change mass", "change mass 58 or 60", "drop sample 9.9", "1.0 31:00",
    ],
)  # fmt: skip
def test_no_word_is_dropped_in_silence(paper: Person, line: str) -> None:
    """A line with a word that has no meaning there is said, and nothing of it is taken."""
    paper.types("next", "1.0")
    before = paper.room.draft
    assert paper.types(line)
    assert paper.room.draft == before


def test_a_resting_heart_rate_behind_the_baseline_is_said(tmp_path: Path) -> None:
    person = Person(tmp_path / "a.toml", *SETUP)
    assert "62" in person.types("1,1 62")
    assert person.room.draft.baseline == ()


def test_two_samples_far_apart_are_remarked(paper: Person) -> None:
    """ISO 5725-6, from memory: 1.96 times the standard deviation of a difference holds 95 % of pairs; 0.18 mmol/L each by
    default, so 0.5 mmol/L."""
    assert "1.8, then 1.3 mmol/L on one step" in paper.types("next", "1.8 1.3")
    assert "on one step" not in paper.types("next", "1.5 1.2")


def test_a_load_beside_the_plan_says_what_it_changes(paper: Person) -> None:
    said = paper.types("next", "next 90")
    assert "85 W was planned, so this step is 20 W higher" in said
    assert "The next one is proposed at 105 W" in said
    assert planned_load(paper.room.draft) == 105
    assert "was planned" not in paper.types("next")


def test_the_planned_height_is_kept_beside_a_list_of_loads(tmp_path: Path) -> None:
    plan = {"sport": "cycling", "load_unit": "W", "loads": [70.0, 85.0, 100.0, 115.0], "step_height": 15.0}
    person = Person(tmp_path / "a.toml", "", "", "58", "", "", "", "1.1", **plan)
    person.types("next", "next 90")
    assert planned_load(person.room.draft) == 105
    person.types("undo", "next")
    assert planned_load(person.room.draft) == 100


def test_several_notes_are_kept(paper: Person) -> None:
    paper.types("next", "note fan off", "next", "note slipped strap step 1")
    assert paper.room.draft.steps[0].note == "fan off; slipped strap"


def test_live_two_readings_take_the_due_minutes(tmp_path: Path) -> None:
    person = Person(tmp_path / "a.toml", *SETUP, "1.1", "next", live=True)
    person.now += 10.2 * 60
    person.types("1.0 1.1 125")
    assert [item.minute for item in person.room.draft.steps[0].samples] == [5, 10]


def test_an_option_that_differs_from_the_draft_is_said(tmp_path: Path) -> None:
    Person(tmp_path / "a.toml", *SETUP, mass_kg=58.0)
    again = Person(tmp_path / "a.toml", mass_kg=60.0)
    assert any("change mass 60" in remark.text for remark in again.opened)
    again.types("change mass 60")
    assert again.answers["mass_kg"] == 60


def finished(folder: Path) -> Path:
    more = (
        'meter = "trainer"\nanalyser = "unit A"\nposition = "hoods"\nnote = "hall"\n'
        "analyser_sd = {floor = 0.2, fraction = 0.05}\n"
    )
    (folder / "athlete.toml").write_text("")
    return write_test(folder / "tests", "2026-04-20-bike.toml", more=more)


def test_a_finished_test_is_opened_mended_and_kept(tmp_path: Path) -> None:
    file = finished(tmp_path)
    before, text = load_test(file), file.read_bytes()
    person = Person(file)
    assert "Opened again" in person.opened[0].text
    person.types("drop sample 1.6 step 4", "1.5 at 5 step 4", "121 step 3", "change date 21.4.2026", "baseline 1.0")
    assert "expected" in person.types("change sport running")
    person.types("finish")
    assert person.room.draft.finished
    assert "2026-04-20-bike.toml.before" in person.room.write().text
    after = load_test(file)
    assert [item.lactate_mmol_l for item in after.steps[3].samples] == [1.5, 1.6]
    assert (after.steps[2].hr_max_bpm, after.date, after.baseline) == (121, date(2026, 4, 21), (1.0,))
    assert (after.meter, after.analyser, after.position, after.note) == ("trainer", "unit A", "hoods", "hall")
    assert (after.analyser_sd, after.mass_kg, after.steps[0]) == (before.analyser_sd, 74.0, before.steps[0])
    assert (tmp_path / "tests" / "2026-04-20-bike.toml.before").read_bytes() == text


def test_opening_and_finishing_changes_nothing(tmp_path: Path) -> None:
    file = finished(tmp_path)
    before = load_test(file)
    person = Person(file, "finish")
    person.room.write()
    assert load_test(file) == before


def test_looking_into_a_finished_test_leaves_it(tmp_path: Path) -> None:
    file = finished(tmp_path)
    text = file.read_bytes()
    person = Person(file, "show")
    assert "Nothing was changed" in person.room.leave().text
    assert file.read_bytes() == text
    assert not journal_path(file).exists()


def test_a_half_mended_test_goes_on_and_the_file_stays(tmp_path: Path) -> None:
    file = finished(tmp_path)
    text = file.read_bytes()
    person = Person(file, "121 step 3")
    assert "stays as it was" in person.room.leave().text
    assert file.read_bytes() == text
    again = Person(file)
    assert again.room.draft.steps[2].hr_max == 121
    again.types("undo")
    assert again.room.draft.steps[2].hr_max == 119


def test_samples_without_a_minute_stay_without(tmp_path: Path) -> None:
    file = finished(tmp_path)
    file.write_text(
        file.read_text().replace("[{minute = 5, lactate = 1.0}, {minute = 10, lactate = 1.0}]", "[1.0, 1.1]")
    )
    before = load_test(file)
    assert before.steps[0].samples[0].minute is None
    Person(file, "show", "finish").room.write()
    assert load_test(file) == before
