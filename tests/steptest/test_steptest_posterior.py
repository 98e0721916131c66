"""The posterior over lactate curves: truths of known curves, its promises, and the same posterior sampled by emcee."""

from __future__ import annotations

import numpy as np
import pytest

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.posterior import Curves, Readings, draw_curves, edge_sets
from steadyband.steptest.model import AnalyserSd

SETTINGS, ANALYSER = StepTestSettings(), AnalyserSd(0.18, 0.06)
LOADS = np.arange(100.0, 221.0, 20.0)


def readings(lactate: list[float], loads: np.ndarray = LOADS, baseline: float | None = 1.0) -> Readings:
    """Every step sampled twice with the same value."""
    step = np.repeat(np.arange(len(lactate)), 2)
    return Readings(loads[: len(lactate)], step, np.repeat(lactate, 2), baseline)


def sets_of(read: Readings) -> np.ndarray:
    curves = draw_curves(read, ANALYSER, SETTINGS, SETTINGS.draws)
    return edge_sets(curves, float(read.loads[-1]), SETTINGS)


def test_edges_of_a_curve_are_where_it_stands_the_rises_above_its_flat_part():
    """By hand: 1 + 0.2 (exp((load - 150) / 30) - 1) is 0.3, 0.65 and 1.0 above 1 at 150 + 30 ln 2.5, ln 4.25 and ln 6."""
    one = Curves(*(np.array([value]) for value in (1.0, 0.2, 150.0, 30.0, 1.0)))
    edges = edge_sets(one, 300.0, SETTINGS)
    assert edges[1] == pytest.approx([177.4887, 193.4075, 203.7528], abs=1e-3)
    assert one.lactate(edges[1])[0] == pytest.approx([1.3, 1.65, 2.0])
    assert one.lactate(np.array([0.0, 149.0]))[0] == pytest.approx([1.0, 1.0])


def test_a_clean_test_is_read_within_a_few_watts():
    """Planted: flat at 1.0, then 0.2 (exp((load - 150) / 30) - 1); edges 177, 193, 204 W by hand."""
    truth = 1.0 + 0.2 * np.expm1(np.maximum(LOADS - 150, 0) / 30)
    assert sets_of(readings(list(truth)))[0] == pytest.approx([177.5, 193.4, 203.8], abs=6)


def test_edges_rise_from_floor_to_ceiling_in_every_row():
    sets = sets_of(readings([1.0, 1.1, 1.0, 1.2, 1.5, 2.1, 2.6]))
    assert sets.shape == (1 + SETTINGS.draws, 3)
    assert (np.diff(sets, axis=1) > 0).all()


def test_equal_readings_give_equal_curves():
    read = readings([1.0, 1.1, 1.0, 1.2, 1.5, 2.1])
    assert np.array_equal(sets_of(read), sets_of(read))


def test_the_unit_of_the_loads_makes_no_difference():
    watts, speeds = readings([1.0, 1.1, 1.0, 1.2, 1.5, 2.1]), readings([1.0, 1.1, 1.0, 1.2, 1.5, 2.1], LOADS / 50)
    assert sets_of(speeds)[0] * 50 == pytest.approx(sets_of(watts)[0], rel=1e-6)
