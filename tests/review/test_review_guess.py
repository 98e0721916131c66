"""Hard intervals recognised, hills and steady rides left alone, and asked rather than judged."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from many_sessions import BIKE, audit

from steadyband.athlete.condensed import condense, minute_strip
from steadyband.athlete.guess import guess_intent, to_be_asked
from steadyband.audit.measure.repeats import efforts
from steadyband.audit.model import EASY, HEAVY, PAUSE, STEADY, Audit, LoadSummary, Traces
from steadyband.ground.said import Said
from steadyband.told import finding_text
from steadyband.told.reasons import looks_text

DAY = date(2026, 2, 2)


def ride(load: np.ndarray, **more: object) -> Audit:
    """A session of a given 31-s load, its ribbon and shares counted from it."""
    codes = np.digitize(load, [180.0, 212.0]).astype(np.uint8)
    minutes = [int(np.count_nonzero(codes == code)) // 60 for code in range(3)]
    found = audit(DAY, bands=(*minutes, 0), minutes=len(load) // 60, **more)  # type: ignore[arg-type]
    return replace(found, traces=Traces(codes, load, load, np.full(len(load), np.nan), np.zeros(len(load))))


def intervals(watts: float, seconds: int, rest: float, count: int, rest_s: int = 180) -> np.ndarray:
    load = [np.full(900, 150.0)]
    for _ in range(count):
        load += [np.full(seconds, watts), np.full(rest_s, rest)]
    return np.concatenate([*load, np.full(600, 140.0)])


@pytest.mark.parametrize(
    ("watts", "seconds", "count"), [(280.0, 240, 5), (265.0, 480, 4), (300.0, 75, 10), (250.0, 1200, 3)]
)
def test_hard_intervals(watts: float, seconds: int, count: int) -> None:
    guess = guess_intent(ride(intervals(watts, seconds, 120.0, count)))
    assert guess.intent == "hard"
    assert guess.numbers["efforts"] == count
    assert f"{count} efforts of about" in looks_text(Said(guess.looks, guess.numbers))


def test_unlike_efforts_are_hills_not_intervals() -> None:
    pieces = [np.full(1200, 190.0)]
    for seconds in (70, 400, 130, 900, 65):
        pieces += [np.full(seconds, 235.0), np.full(420, 150.0)]
    assert guess_intent(ride(np.concatenate([*pieces, np.full(3000, 190.0)]))).intent == "endurance"


def test_efforts_a_little_above_the_ceiling_or_without_a_break_are_no_intervals() -> None:
    assert guess_intent(ride(intervals(218.0, 240, 120.0, 4))).intent == "endurance"
    assert (
        guess_intent(ride(np.concatenate([intervals(280.0, 240, 205.0, 3), np.full(3600, 190.0)]))).intent
        == "endurance"
    )


def test_easy_hard_and_nothing_to_tell_from() -> None:
    assert guess_intent(ride(np.full(3600, 140.0))).intent == "easy"
    assert guess_intent(ride(np.full(3600, 240.0))).intent == "hard"
    assert guess_intent(audit(DAY, zones=None, in_band=None)).intent is None
    assert guess_intent(replace(ride(np.full(3600, 190.0)), zones=replace(BIKE, ceiling=None))).intent is None


def test_short_dips_do_not_end_an_effort() -> None:
    codes = np.array(
        [STEADY] * 10 + [HEAVY] * 60 + [STEADY] * 15 + [HEAVY] * 60 + [STEADY] * 16 + [HEAVY] * 60, np.uint8
    )
    assert [(item.start_s, item.length_s) for item in efforts(codes, np.full(len(codes), 230.0), 15)] == [
        (10, 135),
        (161, 60),
    ]


def test_an_unlabelled_hard_session_is_asked_about_and_a_labelled_one_is_not() -> None:
    hard = ride(intervals(280.0, 240, 120.0, 5), in_band=False, codes=("too_high",))
    found = condense(hard)
    assert found.is_asked
    assert found.audit.verdict.in_band is None
    assert "steadyband label" in finding_text(found.audit, found.audit.verdict.findings[0])
    labelled = ride(intervals(280.0, 240, 120.0, 5), intent_source="sessions.csv", in_band=False, codes=("too_high",))
    assert not to_be_asked(labelled, guess_intent(labelled))
    assert condense(labelled).audit.verdict.in_band is False


def test_condensed_sessions_carry_no_arrays() -> None:
    found = condense(ride(np.full(5400, 190.0)))
    assert len(found.audit.traces.ribbon) == len(found.audit.traces.load) == 0
    assert len(found.strip) == 90


def test_minute_strip_takes_what_fills_most() -> None:
    codes = np.array([EASY] * 40 + [STEADY] * 20 + [PAUSE] * 31 + [EASY] * 29 + [HEAVY] * 5, np.uint8)
    assert minute_strip(codes).tolist() == [EASY, PAUSE, HEAVY]
    assert len(minute_strip(np.empty(0, np.uint8))) == 0


def test_a_powered_ride_is_never_said_to_have_no_load() -> None:
    """What is missing is named: the test, its ceiling, or the load itself."""
    day = date(2026, 2, 2)
    open_test = replace(BIKE, ceiling=None)
    ride = replace(audit(day, zones=None), load=LoadSummary("power", "W", 150.0, 300.0, 160.0))
    assert guess_intent(ride).looks == "no_test"
    assert guess_intent(audit(day, zones=open_test)).looks == "open_ceiling"
    assert guess_intent(audit(day, zones=open_test, bands=(85, 5, 0, 0))).intent == "easy"
    assert "no step test" in looks_text(Said("no_test"))
    assert "ceiling of the test is open" in looks_text(Said("open_ceiling"))
