"""Other published readings on curves whose answer is known beforehand."""

from __future__ import annotations

import numpy as np
import pytest

from steadyband.steptest.curve.methods import (
    baseline_plus_half,
    baseline_plus_one,
    fixed_two,
    log_log_breakpoint,
    other_readings,
)

LOADS = np.array([0.0, 100.0, 120.0, 140.0, 160.0, 180.0])
LACTATE = np.array([1.0, 1.0, 1.0, 1.2, 1.8, 3.0])


def test_rises_above_the_baseline_by_hand() -> None:
    # By hand: 1.5 is halfway from 1.2 at 140 W to 1.8 at 160 W; 2.0 is a sixth of the way from 1.8 to 3.0 at 180 W.
    assert baseline_plus_half(LOADS, LACTATE, LACTATE) == pytest.approx(150.0)
    assert baseline_plus_one(LOADS, LACTATE, LACTATE) == pytest.approx(160 + 20 / 6)
    assert fixed_two(LOADS, LACTATE) == pytest.approx(160 + 20 / 6)


@pytest.mark.parametrize("breakpoint_w", [147.0, 160.0, 171.5, 190.0])
def test_log_log_finds_a_known_breakpoint(breakpoint_w: float) -> None:
    # Made-up series (no published table of load and lactate was found, SOURCES S3): two exact lines in log-log.
    loads = np.arange(100.0, 241.0, 20.0)
    beyond = np.maximum(0.0, np.log(loads / breakpoint_w))
    lactate = np.exp(0.05 + 0.1 * np.log(loads / 100) + 3.0 * beyond)
    assert log_log_breakpoint(loads, lactate) == pytest.approx(breakpoint_w, rel=1e-6)


def test_log_log_does_not_depend_on_the_units() -> None:
    loads, lactate = np.arange(100.0, 241.0, 20.0), np.array([1.0, 1.1, 1.0, 1.1, 1.5, 2.1, 2.9, 4.2])
    watts = log_log_breakpoint(loads, lactate)
    assert watts is not None
    assert log_log_breakpoint(loads / 50, lactate * 18.0) == pytest.approx(watts / 50)


def test_nothing_is_made_up_where_a_reading_is_not_reached() -> None:
    flat = np.full(6, 1.0)
    assert {item.name: item.value for item in other_readings(LOADS, flat, flat)} == {
        "baseline + 0.5 mmol/L": None,
        "baseline + 1.0 mmol/L": None,
        "log-log breakpoint": None,
        "fixed 2.0 mmol/L": None,
    }
    assert log_log_breakpoint(LOADS[1:5], LACTATE[1:5]) is None  # four steps: too few
    high = np.array([2.2, 2.2, 2.3, 2.4, 3.0, 4.0])
    assert fixed_two(LOADS, high) is None  # above 2.0 before the first step


def test_every_reading_names_its_source() -> None:
    assert all(item.source for item in other_readings(LOADS, LACTATE, LACTATE))
