"""The monotone line and the step that first stands up: against scipy and values by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression
from steptest_data import bike, curve_test

from steadyband.steptest import make_zones
from steadyband.steptest.curve.monotone import crossing, isotonic

readings = st.lists(st.integers(3, 120).map(lambda tenth: tenth / 10), min_size=4, max_size=11)


@settings(deadline=None)
@given(readings, st.randoms(use_true_random=False))
def test_isotonic_fit_equals_scipy(values: list[float], random) -> None:
    # Reference library: scipy 1.17 (1.14 or later), scipy.optimize.isotonic_regression(values, weights=weights).x
    weights = np.array([random.uniform(0.2, 40.0) for _ in values])
    ours = isotonic(np.array([values]), weights[None, :])[0]
    assert ours == pytest.approx(isotonic_regression(values, weights=weights).x, abs=1e-10)


def test_isotonic_fits_every_row_on_its_own() -> None:
    # By hand, equal weights: 3, 1 pools to 2, 2; 1, 3, 2 keeps 1 and pools 3, 2 to 2.5.
    rows = np.array([[3.0, 1.0, 4.0], [1.0, 3.0, 2.0]])
    assert isotonic(rows, np.ones((2, 3))).tolist() == [[2.0, 2.0, 4.0], [1.0, 2.5, 2.5]]


def test_crossing_by_hand() -> None:
    # By hand: 1.0 at 0, 1.0 at 100, 2.0 at 120: level 1.5 halfway between 100 and 120; 1.0 at once; 2.1 never.
    loads, fitted = np.array([0.0, 100.0, 120.0]), np.tile([1.0, 1.0, 2.0], (3, 1))
    assert crossing(loads, fitted, np.array([1.5, 1.0, 2.1])).tolist() == [110.0, 0.0, np.inf]


def test_first_rise_by_hand(tmp_path: Path) -> None:
    # By hand: plateau of 1.1, 1.0, 1.1, 1.2 is 1.1; 180 W has 1.4 = 1.1 + 0.3, so it is the first rise (a tie counts).
    assert make_zones(bike(tmp_path)).edges.first_rise == 4


def test_first_rise_needs_every_later_step_up(tmp_path: Path) -> None:
    # By hand: the single 1.5 at 140 W is pooled with the 1.0s after it (weighted mean 1.125, under 1.0 + 0.3).
    edges = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.5, 1.0, 1.0, 1.0, 2.5, 3.5], baseline="[1.0]")).edges
    assert edges.first_rise == 7


def test_first_step_needs_the_repeatability_limit(tmp_path: Path) -> None:
    # By hand: 2.8 x 0.18 = 0.504, so 0.4 on the first step is no rise and 0.6 is one.
    assert make_zones(curve_test(tmp_path, [1.4, 1.4, 1.4, 2.4], baseline="[1.0]")).edges.first_rise == 4
    assert make_zones(curve_test(tmp_path, [1.6, 1.6, 1.7, 2.4], baseline="[1.0]")).edges.first_rise == 1
