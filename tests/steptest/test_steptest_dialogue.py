"""The dialogue of a test in progress: what is taken, what is said, and when. All cases by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from field_data import SETTINGS, T0, Dialogue, bike_dialogue
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.ground.errors import UsageError
from steadyband.steptest.curve.posterior import draw_curves
from steadyband.steptest.dialogue.draft import Draft, replay
from steadyband.steptest.dialogue.live import gains, standing
from steadyband.steptest.dialogue.remarks import Remark, prompt, status, table_rows
from steadyband.steptest.dialogue.talk import Command, parse


def tones(told: list[Remark]) -> list[str]:
    return [item.tone for item in told]


def words(told: list[Remark], tone: str | None = None) -> str:
    return " ".join(item.text for item in told if tone in (None, item.tone))


def refused(talk: Dialogue, minute: float, line: str) -> str:
    with pytest.raises(UsageError) as caught:
        talk.at(minute, line)
    return str(caught.value)


def test_questions_come_in_order_with_defaults() -> None:
    draft = bike_dialogue().draft
    assert draft.answers["sport"] == "cycling"
    assert draft.answers["date"] == "2026-05-01"
    assert (draft.answers["mass_kg"], draft.answers["step_minutes"], draft.answers["step_height"]) == (74, 10, 20)
    assert prompt(draft, T0) == "baseline, mmol/L"


def test_bad_answers_are_refused() -> None:
    with pytest.raises(UsageError, match="bike or foot"):
        Dialogue("", "swim")
    with pytest.raises(UsageError, match="25 to 250"):
        Dialogue("", "bike", "", "7400")
    with pytest.raises(UsageError, match="year-month-day"):
        Dialogue("3/4/2026")


def test_a_high_baseline_is_said_at_once_and_blocks_the_first_step() -> None:
    """METHOD 1.1: at most 1.5 mmol/L; spin 15-20 minutes, sample again, else another day."""
    talk = bike_dialogue()
    told = talk.at(0, "1.6")
    assert tones(told) == ["warn"]
    assert "15-20 minutes" in words(told)
    assert "another day" in words(told)
    assert "override" in refused(talk, 1, "next")
    assert "stop here" in words(talk.at(17, "1.7"))
    assert tones(talk.at(35, "1.5")) == ["good"]
    talk.at(36, "next")
    assert talk.draft.steps[0].load == 120


def test_an_override_by_name_goes_on_and_is_kept() -> None:
    talk = bike_dialogue()
    talk.at(0, "1.9")
    told = talk.at(1, "override only slot this month")
    assert "Every report will say so" in words(told)
    talk.at(2, "next")
    assert talk.draft.override == "only slot this month"


def test_samples_take_the_due_minute_by_the_clock() -> None:
    """Samples due at 5 and 10, spare at 6:30 and 8: what has passed last counts; before any, the minute it is."""
    talk = bike_dialogue()
    talk.at(0, "1.1", "next")
    for minute, value, expected in ((5.9, "1.0", 5), (7.2, "1.05", 6.5), (8.4, "1.1", 8), (10.6, "1.0", 10)):
        talk.at(minute, value)
        assert talk.draft.steps[0].samples[-1].minute == expected
    talk.at(10.7, "next")
    talk.at(12, "0.9 step 2")
    assert talk.draft.steps[1].samples[0].minute == 2


def test_the_next_step_runs_from_the_end_of_the_one_before() -> None:
    """The analyser answers late: `next` typed 1:30 into the next step still knows when it began."""
    talk = bike_dialogue()
    talk.at(0, "1.1", "next")
    talk.at(11.5, "next")
    assert talk.draft.steps[1].started_s == T0 + 600
    talk.at(16, "1.1", "undo", "undo")
    assert len(talk.draft.steps) == 1
    talk.at(11.5, "next now")
    assert talk.draft.steps[1].started_s == T0 + 690


def test_late_values_belong_to_the_step_before() -> None:
    talk = bike_dialogue()
    talk.at(0, "1.1", "next")
    talk.at(5, "1.0")
    told = talk.at(10.2, "next")
    assert "sample at 10:00" in words(told, "warn")
    assert "heart rate" in words(told, "warn")
    talk.at(10.9, "1.1", "104")
    first, second = talk.draft.steps
    assert [item.lactate for item in first.samples] == [1.0, 1.1]
    assert (first.hr_max, second.hr_max, second.samples) == (104, None, ())


def test_from_paper_there_is_no_clock() -> None:
    talk = Dialogue("2026-04-20", "bike", "", "74", "", "120", "", "", "", live=False)
    talk.at(0, "1.1", "next", "1.0", "1.1", "104", "next", "1.1", "1.0", "109")
    assert [[item.minute for item in step.samples] for step in talk.draft.steps] == [[5, 10], [5, 10]]
    assert "left" not in status(talk.draft, T0)


def test_a_suspect_sample_asks_for_another_with_the_minutes_left() -> None:
    """A reading of 2.2 on an easy step between two of 1.0 and 1.1: a first drop, or sweat."""
    talk = bike_dialogue()
    talk.at(0, "1.1", "next", "1.0 at 5", "1.0 at 10")
    talk.at(10, "next now", "1.1 at 5")
    told = talk.at(18.5, "2.2 at 8")
    assert "2.2 mmol/L at step 2 does not sit with the other samples" in words(told, "warn")
    assert "1:30 left" in words(told, "warn")
    assert "warn" not in tones(talk.at(18.5, "undo", "1.2 at 8"))


def test_a_third_sample_counts_with_the_others() -> None:
    talk = bike_dialogue()
    talk.at(0, "1.1", "next", "1.0 at 5", "1.3 at 6:30")
    told = talk.at(8.5, "1.1")
    assert "their median is 1.1" in words(told)
    assert "warn" not in tones(told)


def climb(talk: Dialogue, values: list[tuple[float, float]]) -> list[Remark]:
    """Whole steps from 120 W on, two samples each; the remarks after the last sample."""
    told: list[Remark] = []
    talk.at(0, "1.1")
    for number, (first, second) in enumerate(values):
        talk.at(10 * number, "next now")
        talk.at(10 * number + 5, f"{first} at 5")
        told = talk.at(10 * number + 9.9, f"{second} at 10")
    return told


def test_edges_and_the_next_step_are_told_after_every_sample() -> None:
    """Before the rise the floor lies above the last load; from it on three edges with ranges, and what to do next."""
    talk = bike_dialogue()
    assert "No rise yet: the floor lies above 120 W" in words(climb(talk, [(1.0, 1.0)]), "good")
    talk = bike_dialogue()
    told = words(climb(talk, [(1.0, 1.0), (1.1, 1.1), (1.2, 1.2), (1.6, 1.6)]), "good")
    assert "So far, with 80 % ranges: floor 1" in told
    assert "ceiling above 180 W" in told
    assert "one at 200 W" in told
    assert told.endswith("go on.")


def test_the_next_step_tells_more_than_another_sample_here_while_the_ceiling_is_ahead() -> None:
    talk = bike_dialogue()
    climb(talk, [(1.0, 1.0), (1.1, 1.1), (1.2, 1.2), (1.6, 1.6)])
    now = standing(talk.draft, SETTINGS)
    assert now is not None
    here, there = gains(talk.draft, now)
    assert 0 <= here < there < now.width()


def test_the_gain_is_what_a_further_sample_takes_off() -> None:
    """Against doing it: readings drawn from the posterior itself, each added and the posterior drawn again."""
    talk = bike_dialogue()
    climb(talk, [(1.0, 1.1), (1.1, 1.0), (1.2, 1.1), (1.6, 1.5), (1.9, 2.0)])
    now = standing(talk.draft, SETTINGS)
    assert now is not None
    load, widths = 220.0, []
    rng = np.random.default_rng(1)
    for at in rng.integers(0, len(now.curves), 25):
        level = now.curves.lactate(np.array([load]))[at, 0]
        value = level + now.curves.scatter[at] * max(0.18, 0.06 * level) * rng.standard_normal()
        read = replace(
            now.read,
            loads=np.append(now.read.loads, load),
            step=np.append(now.read.step, len(now.read.loads)),
            lactate=np.append(now.read.lactate, max(value, 0.3)),
        )
        curves = draw_curves(read, now.analyser, SETTINGS, 1000)
        widths.append(sum(np.ptp(np.quantile(curves.loads_at(rise), (0.1, 0.9))) for rise in (0.3, 1.0)))
    assert now.gain(load) == pytest.approx(now.width() - np.mean(widths), abs=0.12 * now.width())


def test_the_test_may_stop_once_the_ceiling_is_behind() -> None:
    """1.8 at 200 W is not past it, 2.4 at 220 W is: 1.3 above the flat part of 1.1."""
    flat = [(1.0, 1.0), (1.1, 1.1), (1.2, 1.2), (1.6, 1.6)]
    assert "stop" not in tones(climb(bike_dialogue(), [*flat, (1.8, 1.8)]))
    told = climb(bike_dialogue(), [*flat, (1.8, 1.8), (2.4, 2.4)])
    assert "The ceiling lies behind you with" in words(told, "stop")
    assert "may stop" in words(told, "stop")


def test_one_sample_past_the_ceiling_waits_for_the_second() -> None:
    talk = bike_dialogue()
    climb(talk, [(1.0, 1.0), (1.1, 1.1), (1.2, 1.2), (1.6, 1.6)])
    talk.at(40, "next")
    told = talk.at(45.2, "2.9")
    assert "if the next sample of this step agrees" in words(told)
    assert "stop" not in tones(told)


def test_a_slip_is_asked_about() -> None:
    talk = bike_dialogue()
    climb(talk, [(1.0, 1.0)])
    talk.at(10, "next")
    told = talk.at(16, "11")
    assert "slip" in words(told, "warn")
    assert "good" not in tones(told)


def test_few_flat_steps_are_said() -> None:
    """METHOD 1.1: at least 3 steps below the floor; here one."""
    told = climb(bike_dialogue(), [(1.0, 1.0), (1.6, 1.6), (2.2, 2.2), (2.9, 2.9)])
    assert "Only 1 step lies below the floor" in words(told, "warn")


def test_heart_rate_checks() -> None:
    talk = bike_dialogue()
    climb(talk, [(1.0, 1.0)])
    assert tones(talk.at(10, "120")) == ["saved"]
    climbing = talk.at(10, "next", "110 step 2")
    assert "under the 120 of step 1" in words(climbing, "warn")
    talk.at(10, "124 step 2")
    assert talk.draft.steps[1].hr_max == 124


def test_undo_takes_entries_back_one_by_one() -> None:
    talk = bike_dialogue()
    talk.at(0, "1.1", "next", "1.0", "104", "undo", "undo", "undo", "undo", "undo")
    assert talk.draft == bike_dialogue().draft


def test_a_cut_off_step_is_said() -> None:
    talk = bike_dialogue()
    talk.at(0, "1.1", "next")
    assert "lasted only 6:00 of 10:00" in words(talk.at(6, "next"), "warn")


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("abc", "lactate reading"),
        ("0.2", "0.3 to 30"),
        ("30.5", "0.3 to 30"),
        ("-1", "0.3 to 30"),
        ("nan", "lactate reading"),
        ("1.2 at 17", "minute"),
        ("1.2 at x", "minute"),
        ("1.2 step 9", "1 to 1"),
        ("hr", "heart rate"),
        ("300", "31 to 230"),
        ("next 110", "above 120 W"),
        ("load 0", "20 to 1500"),
        ("walk", "by bike"),
        ("note", "text after"),
        ("drop 4", "1 to 1"),
        ("baseline 1.1 62", "nothing more"),
        ("override", "reason"),
        ("finish", "at least 3 steps"),
    ],
)
def test_what_cannot_be_right_is_refused_with_a_reason(line: str, expected: str) -> None:
    talk = bike_dialogue()
    talk.at(0, "1.1", "next", "1.0")
    before = talk.draft
    assert expected in refused(talk, 5, line)
    assert talk.draft == before


def test_before_the_first_step() -> None:
    talk = bike_dialogue()
    assert "baseline" in refused(talk, 0, "next")
    talk.at(0, "1.1")
    assert "no step has begun" in refused(talk, 0, "hr 120")


def test_commands_are_no_entries() -> None:
    draft = bike_dialogue().draft
    for typed, name in (("", "status"), ("show", "show"), ("?", "help"), ("quit", "quit"), ("EXIT", "quit")):
        assert parse(typed, draft, T0, SETTINGS) == Command(name)


def test_by_foot_in_pace() -> None:
    """By hand: 10:00 min/km is 6 km/h, a walk; one 0.5 km/h step up is 9:14; 7:30 is 8 km/h, a run."""
    talk = Dialogue("", "foot", "min/km", "", "", "10:00", "0.5", "1", "", "")
    talk.at(0, "1.0", "next")
    assert (talk.draft.steps[0].gait, talk.draft.steps[0].incline) == ("walk", 1)
    assert "9:14" in words(talk.at(10, "next"))
    talk.at(20, "next 7:30")
    assert talk.draft.steps[2].gait == "run"
    assert "expected a load above" in refused(talk, 30, "next 8:00")
    talk.at(31, "load 7:20", "walk", "note stopped for a shoe")
    step = talk.draft.steps[2]
    assert (round(step.load, 3), step.gait, step.note) == (7.333, "walk", "stopped for a shoe")


def test_show_has_a_row_for_everything() -> None:
    talk = bike_dialogue()
    talk.at(0, "1.1", "next", "1.0 at 5", "104")
    assert table_rows(talk.draft, SETTINGS) == (("baseline", "", "1.1", ""), ("1", "120 W", "1.0 (5:00)", "104"))


LINES = st.sampled_from(
    [
        "1.1",
        "1,2 at 6:30",
        "2.4",
        "120",
        "next",
        "next now",
        "next 300",
        "load 130",
        "undo",
        "drop 1",
        "note x",
        "1.0 step 1",
        "finish",
        "hr 99",
    ]
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(LINES, st.floats(0, 12)), max_size=40))
def test_any_typing_replays_to_the_same_draft(typed: list[tuple[str, float]]) -> None:
    """Whatever is typed, refused or taken: the draft is a function of its events, and every prefix of them is a draft."""
    talk, minute = bike_dialogue(), 0.0
    for line, wait in typed:
        minute += wait
        try:
            talk.at(minute, line)
        except UsageError:
            continue
    assert replay(tuple(talk.events)) == talk.draft
    for cut in range(len(talk.events)):
        assert isinstance(replay(talk.events[:cut]), Draft)
