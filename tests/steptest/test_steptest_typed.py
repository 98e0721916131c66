"""The journal of entries and the test file made from it."""

from __future__ import annotations

from pathlib import Path

import pytest
from field_data import T0, Dialogue, bike_dialogue

from steadyband.ground.errors import SteadybandError, TestFileError
from steadyband.steptest import load_test, load_tests
from steadyband.steptest.dialogue.draft import Event, replay
from steadyband.steptest.dialogue.typed import append_event, draft_toml, journal_path, read_journal


def whole_test(**preset: object) -> Dialogue:
    talk = bike_dialogue(**preset)
    talk.at(0, "1.7", "1.2")
    for number, (value, hr) in enumerate([(1.0, 104), (1.1, 110), (1.2, 115), (1.6, 121), (2.5, 130)]):
        talk.at(10 * number, "next now", f"{value} at 5", f"{value} at 10", str(hr))
    return talk


def test_the_file_is_read_back_as_typed(tmp_path: Path) -> None:
    talk = whole_test()
    talk.at(50, "note legs heavy", "next", "finish")
    path = tmp_path / "2026-05-01-bike.toml"
    path.write_text(draft_toml(talk.draft), encoding="utf-8")
    test = load_test(path)
    assert test.baseline == (1.7, 1.2)
    assert [(step.load, step.hr_max_bpm) for step in test.steps] == [
        (120, 104),
        (140, 110),
        (160, 115),
        (180, 121),
        (200, 130),
    ]
    assert [[(s.minute, s.lactate_mmol_l) for s in step.samples] for step in test.steps][3] == [(5, 1.6), (10, 1.6)]
    assert test.steps[4].note == "legs heavy"
    assert (test.date.isoformat(), test.state, test.mass_kg, test.step_minutes) == ("2026-05-01", "fed", 74, 10)


def test_an_override_and_devices_reach_the_file(tmp_path: Path) -> None:
    talk = Dialogue("", "bike", "fasted", "74", "8", "120", "", 'unit "A"', "pedals \\ left")
    talk.at(0, "1.9", "override it's the only day")
    for number in range(3):
        talk.at(8 * number, "next now", "1.5 at 8")
    path = tmp_path / "t.toml"
    path.write_text(draft_toml(talk.draft), encoding="utf-8")
    test = load_test(path)
    assert (test.override, test.analyser, test.meter, test.state) == (
        "it's the only day",
        'unit "A"',
        "pedals \\ left",
        "fasted",
    )


def test_a_pace_test_by_foot(tmp_path: Path) -> None:
    talk = Dialogue("", "foot", "min/km", "", "", "10:00", "0.9", "1", "", "")
    talk.at(0, "1.0")
    for number in range(3):
        talk.at(10 * number, "next now", "1.1 at 10")
    path = tmp_path / "t.toml"
    path.write_text(draft_toml(talk.draft), encoding="utf-8")
    test = load_test(path)
    assert [step.gait for step in test.steps] == ["walk", "walk", "run"]
    assert (test.load_unit, test.steps[0].load, test.steps[0].incline_percent) == ("min/km", 10, 1)


def test_the_journal_survives_being_cut_anywhere(tmp_path: Path) -> None:
    """Cut at any byte, what was whole is there, what was torn is gone, and writing goes on."""
    talk = whole_test()
    path = journal_path(tmp_path / "new" / "t.toml")
    for event in talk.events:
        append_event(path, event)
    data = path.read_bytes()
    assert read_journal(path) == tuple(talk.events)
    for cut in range(0, len(data), 97):
        path.write_bytes(data[:cut])
        kept = read_journal(path)
        assert kept == tuple(talk.events[: data[:cut].count(b"\n")])
        append_event(path, Event("note", T0, {"text": "é", "step": 1}))
        assert read_journal(path) == (*kept, Event("note", T0, {"text": "é", "step": 1}))
    assert replay(tuple(talk.events)) == talk.draft


def test_a_draft_in_the_tests_folder_is_passed_over(tmp_path: Path) -> None:
    append_event(journal_path(tmp_path / "2026-05-01-bike.toml"), Event("set", T0, {"key": "live", "value": True}))
    assert load_tests(tmp_path) == ()


def test_a_damaged_journal_names_its_line(tmp_path: Path) -> None:
    path = tmp_path / "t.toml.draft"
    path.write_text('{"kind": "baseline", "at_s": 1, "data": {"lactate": 1.1}}\n{"kind": 3}\n', encoding="utf-8")
    with pytest.raises(TestFileError) as caught:
        read_journal(path)
    assert "line 2" in str(caught.value)


def test_a_folder_that_cannot_be_written_to_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(SteadybandError, match="paper"):
        append_event(tmp_path / "file" / "t.toml.draft", Event("finish", T0))


def test_the_tests_own_scatter_guides_the_advice_and_is_written(tmp_path: Path) -> None:
    """2.6 after 1.0 is a bad drop for a unit that scatters by 0.18, and may be scatter for one of 0.6."""
    usual, wide = (bike_dialogue(**preset) for preset in ({}, {"analyser_sd": {"floor": 0.6, "fraction": 0.05}}))
    said = []
    for talk in (usual, wide):
        talk.at(0, "1.1", "next now")
        said.append(" ".join(item.text for item in [*talk.at(5, "1.0 at 5"), *talk.at(10, "2.6 at 10")]))
    assert "does not sit with" in said[0]
    assert "does not sit with" not in said[1]
    talk = whole_test(analyser_sd={"floor": 0.4, "fraction": 0.05})
    path = tmp_path / "t.toml"
    path.write_text(draft_toml(talk.draft), encoding="utf-8")
    own = load_test(path).analyser_sd
    assert (own.floor, own.fraction) == (0.4, 0.05)
