"""Sums over sessions: surges an hour, and hours per band and sport."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from many_sessions import NO_SURGES, audit, session

from steadyband.athlete.condensed import Condensed
from steadyband.review.hours import sport_hours
from steadyband.review.surge_rate import surge_rate

DAY = date(2026, 2, 2)


def with_surges(count: int, minutes: int) -> Condensed:
    made = session(DAY, minutes=minutes)
    return replace(made, audit=replace(made.audit, surges=replace(NO_SURGES, count=count)))


def test_surges_an_hour_by_hand() -> None:
    # By hand: 12 + 6 surges in 90 + 30 min are 9 an hour (the mean of the two rates, 8 and 12, would be 10).
    assert surge_rate([with_surges(12, 90), with_surges(6, 30)]) == pytest.approx(9.0)


def test_sessions_that_cannot_show_surges_are_left_out() -> None:
    blind = session(DAY, zones=None, minutes=600)
    assert surge_rate([with_surges(12, 90), blind]) == pytest.approx(8.0)
    assert surge_rate([blind]) is None
    assert surge_rate([]) is None


def test_hours_per_band_and_sport_by_hand() -> None:
    rides = [audit(DAY, bands=(20, 60, 10, 0)), audit(DAY, minutes=30, bands=(0, 25, 0, 5))]
    runs = [audit(DAY, sport="running", zones=None, minutes=40)]
    ride, run = sport_hours([*rides, *runs])
    # By hand, in minutes: 20 easy, 60 + 25 steady, 10 heavy, 5 severe of 120 active; the run has no bands at all.
    assert (ride.sport, ride.sessions, ride.active_s, ride.not_banded_s) == ("cycling", 2, 7200, 0)
    assert {name: seconds / 60 for name, seconds in ride.bands.items()} == {
        "easy": 20,
        "steady": 85,
        "heavy": 10,
        "severe": 5,
    }
    assert (run.sport, run.active_s, run.not_banded_s) == ("running", 2400, 2400)
