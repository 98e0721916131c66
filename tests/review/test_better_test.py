"""What a better test would settle, which of two tests of a day is used, and climbs in the unit of each effort."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from many_sessions import audit, folder, session

from steadyband.audit.model import Climb, Finding
from steadyband.report.session.hills import repeats_table
from steadyband.review import hours, sentences
from steadyband.review.block_decisions import decisions
from steadyband.review.repeat_climbs import Effort, RepeatClimb
from steadyband.review.sharper import edge_of, is_doubtful
from steadyband.steptest.model import Sample

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "steptest"))
from field_data import step_test, zones

DAY = date(2026, 5, 14)
ONE_EACH = replace(
    step_test(),
    steps=tuple(replace(step, samples=(Sample(10, step.samples[0].lactate_mmol_l),)) for step in step_test().steps),
)


def in_force(tmp_path: Path, *sets: object) -> tuple[sentences.TestInForce, ...]:
    return hours.tests_in_force(replace(folder(tmp_path), zone_sets=sets), [], DAY)  # type: ignore[arg-type]


def ceiling_text() -> str:
    """The 80 % range that the test itself states."""
    ends = zones().ranges["ceiling"]
    assert ends.low is not None
    assert ends.high is not None
    return f"the ceiling from {ends.low:.0f} W to {ends.high:.0f} W"


def doubtful(code: str, agreement: float = 0.43) -> object:
    found = audit(DAY, in_band=False, agreement=0.9)
    return replace(found, verdict=replace(found.verdict, findings=(Finding(code, agreement, {}),)))


def test_a_finding_43_percent_sure_forces_a_question(tmp_path: Path) -> None:
    """Its own agreement counts, not that of the verdict as a whole."""
    advice = sentences.decisions(in_force(tmp_path, zones()), [doubtful("too_high")])  # type: ignore[list-item]
    assert [item.head for item in advice] == ["Is the test sharp enough?"]
    assert "The verdict on Thursday" in advice[0].text
    assert ceiling_text() in advice[0].text
    assert "three samples a step instead of two" in advice[0].text
    sure = sentences.decisions(in_force(tmp_path, zones()), [audit(DAY)])
    assert [item.head for item in sure] == ["Nothing forces a decision."]


@pytest.mark.parametrize(
    ("sure", "head"), [(3, "Cycling: is the test sharp enough?"), (9, "Nothing forces a decision.")]
)
def test_a_block_says_it_too(tmp_path: Path, sure: int, head: str) -> None:
    """From a quarter of the verdicts on it is a question of its own; below, it stands beside the answer that nothing is forced."""
    sessions = [session(date(2026, 5, n + 1)) for n in range(sure)]
    sessions.append(replace(sessions[0], audit=doubtful("too_high")))  # type: ignore[arg-type]
    found = decisions(sessions, in_force(tmp_path, zones()), ((), ()), (), folder(tmp_path).athlete.settings.block)
    assert [item.head for item in found] == [head]
    assert ceiling_text() in found[0].text


def test_without_any_test_the_answer_is_to_test_first() -> None:
    assert [item.head for item in sentences.decisions((), [])] == ["Test first."]


def test_one_sample_a_step_is_what_to_change_first(tmp_path: Path) -> None:
    from steadyband.steptest import make_zones

    advice = sentences.decisions(in_force(tmp_path, make_zones(ONE_EACH)), [doubtful("too_low")])  # type: ignore[list-item]
    assert "the floor from" in advice[0].text
    assert "two samples a step instead of one" in advice[0].text


@pytest.mark.parametrize(
    ("code", "edge"),
    [("too_low", "floor"), ("surges", "ceiling"), ("zone_3_drift", "ceiling"), ("steady_in_easy", "floor")],
)
def test_the_edge_a_verdict_hangs_on(code: str, edge: str) -> None:
    assert edge_of(doubtful(code)) == edge  # type: ignore[arg-type]
    assert not is_doubtful(audit(DAY))
    assert is_doubtful(audit(DAY, agreement=0.43))


def test_two_tests_of_one_day_say_which_is_used_and_why(tmp_path: Path) -> None:
    first, second = zones(file="a.toml"), zones(file="b.toml")
    (item,) = in_force(tmp_path, first, second)
    (note,) = sentences.test_notes([item])
    assert "Two tests were made that day: b.toml is used, the last by file name, not a.toml." in note
    (blocked,) = in_force(tmp_path, first, replace(second, usable=False))
    assert "b.toml of the same day is blocked by its checks, so a.toml is used." in sentences.test_notes([blocked])[0]
    (alone,) = in_force(tmp_path, first)
    assert "that day" not in sentences.test_notes([alone])[0]


def effort(day: int, unit: str, load: float | None, above: float | None) -> Effort:
    climb = Climb(0, 900, 50, 0.055, 2, 20, seconds=300, mean_load=load, above_s=above, above_scatter_s=above)
    return Effort(datetime(2026, 5, day, 9, 0), "ride.fit", climb, unit, 180.0)


def test_each_effort_stands_in_its_own_unit_and_nothing_measured_is_a_dash() -> None:
    """148 W was shown as 533 km/h (by hand: 148 x 3.6) where the latest effort had no load."""
    efforts = (
        effort(1, "W", 148.0, 3.0),
        effort(2, "bpm", 141.0, None),
        effort(3, "m/s", 3.0, None),
        effort(4, "", None, None),
    )
    table = repeats_table(RepeatClimb(1, "cycling", 900, 50, 0.055, efforts))
    assert [row[2] for row in table.rows] == ["148 W", "141 bpm", "10.8 km/h", "–"]
    assert [row[3] for row in table.rows] == ["2", "–", "–", "–"]
    assert [row[4:] for row in table.rows[1:]] == [("–", "–")] * 3
