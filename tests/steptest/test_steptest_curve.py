"""Monotone curve, first rise, edges: against scipy, common practice and values by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression
from steptest_data import bike, curve_test, run

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest import make_zones
from steadyband.steptest.curve.monotone import band_edges, crossing, isotonic
from steadyband.steptest.model import AnalyserSd

SETTINGS, ANALYSER = StepTestSettings(), AnalyserSd(0.18, 0.06)
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


def test_common_practice_bike_test(tmp_path: Path) -> None:
    # Common practice, no source: 160 W about 0.1 and 220 W about 1.2 above the baseline, rise from 180 W:
    # floor 180, target top 200, ceiling over 200 and at most 220, and 220 W is heavy.
    edges = make_zones(bike(tmp_path)).edges
    assert (edges.floor, edges.target_top) == (180.0, 200.0)
    assert edges.ceiling is not None
    assert 200.0 < edges.ceiling < 220.0
    assert not edges.jumped
    assert not edges.easy_empty


def test_edges_by_hand(tmp_path: Path) -> None:
    # By hand: plateau of 1.1, 1.0, 1.1, 1.2 is 1.1; 180 W has 1.4 = 1.1 + 0.3, so it is the first rise (a tie counts);
    # 1.1 + 1.0 = 2.1 lies 0.3 of 0.5 above the 1.8 of 200 W: 200 + 20 x 0.6 = 212 W.
    # Heart rate there: 127 + 7 x 0.6 = 131.2.
    zones = make_zones(bike(tmp_path))
    assert zones.edges.plateau == pytest.approx(1.1)
    assert zones.edges.first_rise == 4
    assert zones.edges.ceiling == pytest.approx(212.0)
    assert (zones.hr.floor, zones.hr.target_top) == (121.0, 127.0)
    assert zones.hr.ceiling == pytest.approx(131.2)


def test_first_rise_needs_every_later_step_up(tmp_path: Path) -> None:
    # By hand: the single 1.5 at 140 W is pooled with the 1.0s after it (weighted mean 1.125, under 1.0 + 0.3).
    edges = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.5, 1.0, 1.0, 1.0, 2.5, 3.5], baseline="[1.0]")).edges
    assert edges.first_rise == 7


def test_first_step_needs_the_repeatability_limit(tmp_path: Path) -> None:
    # By hand: 2.8 x 0.18 = 0.504, so 0.4 on the first step is no rise and 0.6 is one.
    calm = make_zones(curve_test(tmp_path, [1.4, 1.4, 1.4, 2.4], baseline="[1.0]")).edges
    risen = make_zones(curve_test(tmp_path, [1.6, 1.6, 1.7, 2.4], baseline="[1.0]")).edges
    assert calm.first_rise == 4
    assert (risen.first_rise, risen.floor, risen.easy_empty) == (1, 100.0, True)


def test_no_first_rise_leaves_floor_and_ceiling_above_the_last_load(tmp_path: Path) -> None:
    zones = make_zones(curve_test(tmp_path, [1.1, 1.0, 1.1, 1.2], baseline="[1.1]"))
    assert (zones.edges.first_rise, zones.edges.floor, zones.edges.ceiling) == (None, None, None)
    assert (zones.edges.target_top, zones.edges.ceiling_at_least) == (160.0, 160.0)
    assert zones.edges.plateau == pytest.approx(1.1)  # by hand: mean of 1.1, 1.1, 1.0, 1.1, 1.2
    assert zones.hr.floor is None


def test_open_ceiling(tmp_path: Path) -> None:
    edges = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.5], baseline="[1.0]")).edges
    assert (edges.floor, edges.target_top, edges.ceiling, edges.ceiling_at_least) == (160.0, 160.0, None, 160.0)


def test_jumped_band(tmp_path: Path) -> None:
    # By hand: plateau 1.0; 160 W has 3.0. 1.3 lies 0.15 of the way from 140 to 160 W, 2.0 half of it.
    edges = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.0, 3.0], baseline="[1.0]")).edges
    assert edges.jumped
    assert edges.floor == pytest.approx(143.0)
    assert edges.target_top == edges.floor
    assert edges.ceiling == pytest.approx(150.0)


def test_running_without_easy_running(tmp_path: Path) -> None:
    rows = [(4.0, "walk", 1.0), (5.0, "walk", 1.0), (6.0, "walk", 1.1), (8.0, "run", 1.5), (9.0, "run", 2.4)]
    edges = make_zones(run(tmp_path, rows, baseline="[1.0]")).edges
    assert (edges.first_rise, edges.easy_empty) == (4, True)
    assert edges.floor == pytest.approx(8.0 / 3.6)  # by hand: 8 km/h, the first running step


def test_running_with_an_easy_running_step(tmp_path: Path) -> None:
    rows = [(5.0, "walk", 1.0), (6.0, "walk", 1.0), (8.0, "run", 1.1), (9.0, "run", 1.5), (10.0, "run", 2.4)]
    assert not make_zones(run(tmp_path, rows, baseline="[1.0]")).edges.easy_empty


@settings(deadline=None)
@given(readings, st.integers(1, 3))
def test_properties_of_edges(values: list[float], first_run: int) -> None:
    loads = np.concatenate([[0.0], 100 + 20.0 * np.arange(len(values) - 1)])
    edges = band_edges(loads, np.array([values]), ANALYSER, SETTINGS, first_run)
    assert np.all(np.diff(edges.fitted[0]) >= -1e-9)
    assert edges.ceiling[0] >= edges.target_top[0]
    if np.isfinite(edges.floor[0]):
        assert edges.ceiling[0] >= edges.target_top[0] >= edges.floor[0] * (1 - 1e-9)
        assert edges.rise_load[0] <= edges.floor[0] + 1e-9
    double = band_edges(2 * loads, np.array([values]), ANALYSER, SETTINGS, first_run)
    for name in ("floor", "target_top", "ceiling"):
        assert getattr(double, name)[0] == pytest.approx(2 * getattr(edges, name)[0], rel=1e-9)
