"""Redrawn tests: repeatable, honest about samples and analyser, and covering a known truth as often as they say."""

from __future__ import annotations

import dataclasses
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from steptest_data import LACTATE, LOADS, bike, curve_test, step

from conftest import ROOT
from steadyband.ground.settings import StepTestSettings
from steadyband.steptest import ZoneSet, make_zones
from steadyband.steptest.curve.uncertainty import corrected_range, redraw_lactate


def test_the_same_file_gives_the_same_answer(tmp_path: Path) -> None:
    first, second = make_zones(bike(tmp_path)), make_zones(bike(tmp_path))
    assert first.ranges == second.ranges
    assert np.array_equal(first.draws.ceiling, second.draws.ceiling)
    other = make_zones(bike(tmp_path), StepTestSettings(seed=1))
    assert not np.array_equal(first.draws.ceiling, other.draws.ceiling)


def test_draws_scatter_as_the_analyser_does(tmp_path: Path) -> None:
    # By hand: one sample of 5.0 has SD 0.06 x 5 = 0.30; the median (mean) of two samples of 1.0 has 0.18 / sqrt 2 = 0.127.
    test = bike(tmp_path, [step(100, 1.0, 1.0), step(120, 1.0), step(140, 5.0)])
    drawn = redraw_lactate(test, StepTestSettings(draws=20000))
    # Tolerance: 4 standard errors of an SD over 20,000 draws, SD / sqrt(2 N).
    for column, sd in ((1, 0.18 / np.sqrt(2)), (2, 0.18), (3, 0.30)):
        assert np.std(drawn[:, column]) == pytest.approx(sd, abs=4 * sd / np.sqrt(40000))
        assert np.mean(drawn[:, column]) == pytest.approx([1.1, 1.0, 1.0, 5.0][column], abs=4 * sd / np.sqrt(20000))


def test_two_samples_a_step_and_a_better_analyser_narrow_the_ranges(tmp_path: Path) -> None:
    def width(zones: ZoneSet) -> float:
        spread = zones.ranges["ceiling"]
        return (np.inf if spread.high is None else spread.high) - spread.low

    one = width(make_zones(bike(tmp_path, [step(x, y) for x, y in zip(LOADS, LACTATE, strict=True)])))
    two = width(make_zones(bike(tmp_path)))
    laboratory = width(make_zones(bike(tmp_path, analyser_sd="0.06")))
    assert one > two > laboratory


def test_ranges_hold_the_edges_themselves(tmp_path: Path) -> None:
    for lactate in (
        [1.0, 1.0, 1.0, 1.5, 2.6],
        [1.0, 1.1, 1.3, 1.4, 1.9, 2.6],
        [1.0, 1.0, 1.0, 3.0],
        [0.9, 1.2, 1.6, 2.4],
    ):
        zones = make_zones(curve_test(tmp_path, lactate, baseline="[1.0]"))
        for name in ("floor", "target_top", "ceiling"):
            spread, value = zones.ranges[name], getattr(zones.edges, name)
            assert spread.low <= value <= (np.inf if spread.high is None else spread.high)


def test_an_edge_above_the_last_load_has_no_upper_end(tmp_path: Path) -> None:
    zones = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.1], baseline="[1.0]"))
    assert zones.ranges["floor"].high is None
    assert zones.ranges["ceiling"] == dataclasses.replace(zones.ranges["ceiling"], high=None, median=None)
    assert np.isinf(zones.draws.floor).any()
    assert not np.isnan(zones.draws.floor).any()
    assert np.all(zones.draws.target_top <= 160.0)


def test_heart_rate_of_draws_is_missing_where_no_step_measured_it(tmp_path: Path) -> None:
    zones = make_zones(bike(tmp_path, [step(x, y) for x, y in zip(LOADS, LACTATE, strict=True)]))
    assert np.isnan(zones.draws.hr_ceiling).all()
    assert zones.hr.ceiling is None
    measured = make_zones(bike(tmp_path)).draws
    assert np.array_equal(np.isnan(measured.hr_ceiling), np.isinf(measured.ceiling))


def test_without_bias_the_range_is_the_plain_percentile_range() -> None:
    # Reference library: numpy, np.quantile(draws, [0.1, 0.9], method="inverted_cdf"); the estimate is the median.
    draws = np.arange(1.0, 1002.0)
    assert corrected_range(501.0, draws, 0.8) == tuple(np.quantile(draws, [0.1, 0.9], method="inverted_cdf"))


def test_a_bias_is_corrected_to_the_other_side() -> None:
    # Draws pushed below an estimate of 700 (70 % of them lie under it) shift both limits up.
    draws = np.arange(1.0, 1001.0)
    low, high = corrected_range(700.5, draws, 0.8)
    # By hand with Phi^-1(0.7) = 0.5244, Phi^-1(0.9) = 1.2816: Phi(1.0488 - 1.2816) = Phi(-0.2328) = 0.4080,
    # Phi(1.0488 + 1.2816) = Phi(2.3304) = 0.9901.
    assert (low, high) == (pytest.approx(408, abs=1), pytest.approx(991, abs=1))


def coverage_benchmark() -> ModuleType:
    spec = importlib.util.spec_from_file_location("steptest_coverage", ROOT / "benchmarks" / "coverage.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["steptest_coverage"] = module
    spec.loader.exec_module(module)
    return module


def test_the_80_percent_ranges_cover_a_known_truth_in_74_to_86_percent() -> None:
    # Simulation of benchmarks/coverage.py, smaller: 3 curves x 1 or 2 samples a step x 80 tests of 20-W steps = 480 tests.
    # Wanted: 74-86 %; tolerance 2.5 binomial standard errors of 80 % over the about 380 tests whose truth is off an edge.
    bench = coverage_benchmark()
    bench.SETTINGS = StepTestSettings(draws=600)
    shares = [bench.coverage(curve, n, 20.0, 80, seed=11) for curve in bench.CURVES.values() for n in (1, 2)]
    slack = 2.5 * np.sqrt(0.8 * 0.2 / 380)
    for name in ("floor: rise", "floor: step", "ceiling"):
        assert 0.74 - slack <= np.mean([share[name] for share in shares]) <= 0.86 + slack, name
    # What this guards against: plain ranges of the floor are far too wide.
    assert np.mean([share["plain floor: step"] for share in shares]) > 0.86 + slack
