"""Does the test still fit: stretches, intervals, and what they say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from many_sessions import BIKE, audit
from scipy import stats

from steadyband.audit.measure.steady_stretches import highest_mean, steady_stretches
from steadyband.audit.model import EASY, HEAVY, PAUSE, STEADY, Traces
from steadyband.ground.settings import BlockSettings
from steadyband.review.fit_of_test import SessionShift, judge_fit, place_of, session_shift, shift_interval, t_95

DAY = date(2026, 2, 2)
LIMITS = BlockSettings()


def shifts(*values: float, place: str = "outdoors", temperature: float | None = None) -> list[SessionShift]:
    return [SessionShift(value, 2, place, temperature) for value in values]  # type: ignore[arg-type]


def with_traces(load: np.ndarray, pulse: np.ndarray, ribbon: np.ndarray | None = None) -> object:
    codes = np.full(len(load), STEADY, np.uint8) if ribbon is None else ribbon
    return replace(audit(DAY), traces=Traces(codes, load, load, pulse, np.zeros(len(load))))


@pytest.mark.parametrize("freedom", [1, 2, 5, 30, 31, 45, 200])
def test_t_quantiles(freedom: int) -> None:
    """Reference library: scipy, stats.t.ppf(0.975, freedom)."""
    assert t_95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=0.002)


def test_interval_is_a_prediction_interval() -> None:
    """Reference library: scipy, the interval of a new day (the test's) about the mean of n days."""
    values = (1.0, 4.0, 2.0, 5.0, 3.0)
    found = shift_interval("outdoors", shifts(*values), LIMITS)
    half = stats.t.ppf(0.975, 4) * np.std(values, ddof=1) * np.sqrt(1 + 1 / 5)
    assert (found.mean, found.low, found.high) == pytest.approx((3.0, 3 - half, 3 + half), abs=0.002)


def test_prediction_interval_of_a_textbook() -> None:
    """Devore, Probability and Statistics, fat in ten hot dogs: mean 21.90, s 4.134, 95 % interval of the next 12.09 to 31.71 (from memory)."""
    fat = (25.2, 21.3, 22.8, 17.0, 29.8, 21.0, 25.5, 16.0, 20.9, 19.5)
    found = shift_interval("outdoors", shifts(*fat), LIMITS)
    assert (found.mean, found.low, found.high) == pytest.approx((21.90, 12.09, 31.71), abs=0.006)


def test_stretches_hold_load_against_the_tests_heart_rate() -> None:
    load, pulse = np.full(4000, 190.0), np.full(4000, 125.0)
    found = steady_stretches(with_traces(load, pulse))
    # By hand: 600..3600 holds five stretches of 600 s; 190 W lies half way from 180 to 200 W, 120 to 126 bpm: 123 bpm.
    assert [(item.start_s, item.expected, item.shift) for item in found] == [
        (start, 123.0, 2.0) for start in (600, 1200, 1800, 2400, 3000)
    ]


def test_stretches_end_where_the_session_is_late_or_broken_or_not_steady() -> None:
    load, pulse = np.full(9000, 190.0), np.full(9000, 125.0)
    assert len(steady_stretches(with_traces(load, pulse))) == 6  # from 600 s to 4200 s
    codes = np.full(9000, STEADY, np.uint8)
    codes[1500:1510] = PAUSE
    starts = [item.start_s for item in steady_stretches(with_traces(load, pulse, codes))]
    assert starts == [600, 1530, 2130, 2730, 3330]  # by hand: looked for every 30 s after a stretch is broken
    codes[:] = EASY
    assert steady_stretches(with_traces(load, pulse, codes)) == ()
    codes[:] = HEAVY
    assert steady_stretches(with_traces(load + 40, pulse, codes)) == ()
    assert steady_stretches(with_traces(load, np.full(9000, np.nan))) == ()
    assert steady_stretches(replace(with_traces(load, pulse), zones=replace(BIKE, hr_floor=None))) == ()
    assert steady_stretches(replace(with_traces(load, pulse), zones=replace(BIKE, target_top=180.0))) == ()


def test_highest_mean_leaves_stray_beats_out() -> None:
    pulse = np.full(600, 120.0)
    pulse[300] = 180.0
    assert highest_mean(pulse, 31) == pytest.approx(120 + 60 / 31)
    pulse[:] = np.nan
    pulse[::2] = 120.0
    assert highest_mean(pulse, 31) == 120.0


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ((0.0, 1.0, -1.0, 0.5), "fits"),
        ((-6.0, -7.0, -5.0, -6.5, -6.0), "fitter than the test"),
        ((7.0, 8.0, 6.0, 7.5, 7.0), "tired, hot or ill"),
        ((12.0, -9.0, 3.0, -8.0, 10.0), "cannot tell"),
        ((5.0, 5.0, 5.0), "cannot tell"),
        ((), "cannot tell"),
        ((0.5, 0.5, 0.6, 0.5, 0.5, 0.6), "fits"),  # half a beat is no shift, however narrow the interval
    ],
)
def test_what_the_shifts_say(values: tuple[float, ...], says: str) -> None:
    found = judge_fit("cycling", shifts(*values), LIMITS)
    assert found.fit == says
    assert found.reason


def test_indoors_and_outdoors_are_kept_apart() -> None:
    inside = shifts(7, 8, 7, 8, 7, place="indoors")
    outside = shifts(0, 1, 0, -1, 0)
    found = judge_fit("cycling", [*inside, *outside], LIMITS)
    assert found.fit == "cannot tell"
    assert "disagree" in found.reason
    assert {item.place for item in found.intervals} == {"indoors", "outdoors"}
    assert place_of(audit(DAY, sub_sport="indoor_cycling")) == "indoors"
    assert place_of(audit(DAY, sub_sport="road")) == "outdoors"


def test_hot_days_are_told_from_warm_ones() -> None:
    hot = shifts(9, 10, 9.5, 10, 9, 9.5, temperature=31.0)
    found = judge_fit("cycling", [*hot, *shifts(0, 1, 0.5, -0.5, temperature=18.0)], LIMITS)
    assert found.fit == "fits"
    assert "6 hot days left out, with heart rate +10 bpm: that is heat, not the test" in found.reason
    tired = judge_fit("cycling", [*hot, *shifts(6, 7, 6.5, 7, temperature=18.0)], LIMITS)
    assert tired.fit == "tired, hot or ill"
    assert tired.intervals[0].sessions == 4
    few = judge_fit("cycling", [*hot, *shifts(8, 9, temperature=18.0)], LIMITS)
    assert few.fit == "tired, hot or ill"
    assert "too few cooler ones to tell heat from tiredness" in few.reason


def test_without_temperature_the_reason_says_so() -> None:
    assert "carry no temperature" in judge_fit("cycling", shifts(7, 8, 6, 7.5, 7), LIMITS).reason
    assert "none of them on a hot day" in judge_fit("cycling", shifts(7, 8, 6, 7.5, 7, temperature=15.0), LIMITS).reason


def test_hot_days_are_named() -> None:
    cool = shifts(0, 1, 0.5, -0.5, temperature=18.0)
    one = [replace(item, day=DAY) for item in shifts(9, temperature=31.0)]
    assert (
        "; 1 hot day left out (2 February, 31 °C), with heart rate +9 bpm"
        in judge_fit("cycling", [*one, *cool], LIMITS).reason
    )
    many = [replace(item, day=DAY) for item in shifts(9, 9, 9, 9, temperature=31.0)]
    assert "31 °C; ...)" in judge_fit("cycling", [*many, *cool], LIMITS).reason


def test_the_session_brings_its_temperature_and_day() -> None:
    load, pulse = np.full(4000, 190.0), np.full(4000, 125.0)
    warm = replace(with_traces(load, pulse), temperature_c=31.5)
    found = session_shift(warm, steady_stretches(warm))
    assert found == SessionShift(2.0, 5, "outdoors", 31.5, DAY)
    assert session_shift(warm, ()) is None
