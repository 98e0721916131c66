"""From a test to its zone set: against common practice, planted curves, and what each shape of test has to give."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from field_data import step_test
from hypothesis import given, settings
from hypothesis import strategies as st
from steptest_data import bike, curve_test, run, step

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest import make_zones
from steadyband.steptest.model import AnalyserSd, ZoneSet
from steadyband.steptest.sentences import zone_sentences

lactates = st.lists(st.integers(3, 300).map(lambda tenth: tenth / 10), min_size=3, max_size=10)


def codes(zone_set: ZoneSet) -> set[str]:
    return {check.code for check in zone_set.checks}


def test_common_practice_bike_test(tmp_path: Path) -> None:
    """Common practice, no source: 160 W about 0.1 and 220 W about 1.2 above the baseline, a rise from 180 W: 160 W is easy, 180 W
    in the band, 220 W heavy."""
    zone_set = make_zones(bike(tmp_path))
    edges = zone_set.edges
    assert edges.floor is not None
    assert edges.ceiling is not None
    assert 160 < edges.floor < 180 < edges.target_top < edges.ceiling < 220
    assert (edges.ceiling_at_least, edges.untested, edges.easy_empty) == (None, False, False)
    assert codes(zone_set) == set()


def test_planted_edges_are_found(tmp_path: Path) -> None:
    """By hand: 1 + 0.2 (exp((load - 150) / 30) - 1) is 0.3, 0.65 and 1.0 above 1 at 177.5, 193.4 and 203.8 W."""
    loads = range(120, 221, 20)
    values = [round(float(1 + 0.2 * np.expm1(max(load - 150, 0) / 30)), 2) for load in loads]
    zone_set = make_zones(bike(tmp_path, [step(x, y, y) for x, y in zip(loads, values, strict=True)], baseline="[1.0]"))
    edges = zone_set.edges
    assert (edges.floor, edges.target_top, edges.ceiling) == pytest.approx((177.5, 193.4, 203.8), abs=7)
    for name, truth in (("floor", 177.5), ("target_top", 193.4), ("ceiling", 203.8)):
        assert (zone_set.ranges[name].low or 0) <= truth <= (zone_set.ranges[name].high or 0)


def test_heart_rates_are_read_between_the_steps(tmp_path: Path) -> None:
    """By hand: linear between the highest heart rates of the two steps around an edge; 20 W a step."""
    zone_set = make_zones(bike(tmp_path))
    edges, hr = zone_set.edges, zone_set.hr
    assert edges.floor is not None
    assert edges.ceiling is not None
    assert hr.floor == pytest.approx(115 + 6 * (edges.floor - 160) / 20)
    assert hr.ceiling == pytest.approx(127 + 7 * (edges.ceiling - 200) / 20)
    low, high = zone_set.hr_ranges["floor"].low, zone_set.hr_ranges["floor"].high
    assert low is not None
    assert high is not None
    assert low < hr.floor < high


def test_the_nominal_set_is_row_0_and_the_median_of_the_others(tmp_path: Path) -> None:
    zone_set = make_zones(bike(tmp_path))
    edges = zone_set.edges
    sets = zone_set.draws.edges
    assert sets.shape == (1 + zone_set.settings.draws, 3)
    assert tuple(sets[0]) == (edges.floor, edges.target_top, edges.ceiling)
    assert np.median(sets[1:], axis=0) == pytest.approx(sets[0])


def test_no_rise_leaves_all_edges_above_the_last_load(tmp_path: Path) -> None:
    zone_set = make_zones(curve_test(tmp_path, [1.1, 1.0, 1.1, 1.2], baseline="[1.1]"))
    edges = zone_set.edges
    assert (edges.first_rise, edges.floor, edges.ceiling) == (None, None, None)
    assert (edges.target_top, edges.ceiling_at_least) == (160.0, 160.0)
    assert zone_set.hr.floor is None
    assert "floor_not_reached" in codes(zone_set)


@pytest.mark.parametrize("values", [[1.0] * 5, [3.0, 2.5, 2.0, 1.5, 1.2], [0.3] * 3, [1.0, 1.0, 1.0]])
def test_equal_and_falling_values_give_no_band_and_say_so(tmp_path: Path, values: list[float]) -> None:
    zone_set = make_zones(curve_test(tmp_path, values))
    assert (zone_set.edges.floor, zone_set.edges.ceiling) == (None, None)
    assert "floor_not_reached" in codes(zone_set)
    assert any("not found" in line for line in zone_sentences(zone_set))


def test_an_open_ceiling_is_at_least_the_last_load(tmp_path: Path) -> None:
    zone_set = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.6], baseline="[1.0]"))
    edges = zone_set.edges
    assert edges.floor is not None
    assert 120 < edges.floor < 160
    assert (edges.ceiling, edges.ceiling_at_least, edges.target_top) == (None, 160.0, 160.0)
    assert zone_set.ranges["ceiling"].high is None
    assert np.isinf(zone_set.draws.edges[0, 2])
    finite = zone_set.draws.edges[1:, 2][np.isfinite(zone_set.draws.edges[1:, 2])]
    assert (finite <= 160).all()


def test_a_jumped_band_is_called_untested_with_its_truth_in_range(tmp_path: Path) -> None:
    zone_set = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.0, 3.0], baseline="[1.0]"))
    assert zone_set.edges.untested
    assert "band_untested" in codes(zone_set)
    assert (zone_set.ranges["ceiling"].high or 160) - (zone_set.ranges["floor"].low or 0) > 10


def test_a_test_that_began_too_high_gives_no_zones(tmp_path: Path) -> None:
    zone_set = make_zones(curve_test(tmp_path, [3.0, 4.0, 6.0], baseline="[1.0]"))
    assert not zone_set.usable
    assert "began_too_high" in codes(zone_set)
    assert "start much easier" in zone_sentences(zone_set)[0]


def test_readings_far_above_the_ceiling_do_not_bend_the_band(tmp_path: Path) -> None:
    """A test that went on to the top: flat up to 140 W, 8 mmol/L at 160 W; the band lies between those two."""
    edges = make_zones(curve_test(tmp_path, [1.0, 1.0, 1.0, 8.0, 20.0, 30.0], baseline="[1.0]")).edges
    assert edges.floor is not None
    assert edges.ceiling is not None
    assert 130 < edges.floor < edges.ceiling < 160


def test_one_bad_drop_barely_moves_a_test_sampled_twice(tmp_path: Path) -> None:
    """A first drop of 2.1 beside 1.1 at 140 W; the others as they were."""
    flat = [step(100, 1.0, 1.0), step(120, 1.0, 1.0)]
    rest = [step(160, 1.2, 1.2), step(180, 1.7, 1.7), step(200, 2.3, 2.3)]
    good = make_zones(bike(tmp_path, [*flat, step(140, 1.1, 1.1), *rest]))
    bad = make_zones(bike(tmp_path, [*flat, step(140, 2.1, 1.1), *rest]))
    assert bad.draws.edges[0] == pytest.approx(good.draws.edges[0], abs=4)
    assert "suspect_sample" in codes(bad)
    assert "suspect_sample" not in codes(good)


def test_a_raised_baseline_that_clears_barely_moves_the_ceiling(tmp_path: Path) -> None:
    """0.4 mmol/L left over at rest, halved by each 10-min step (common practice, no source: easy work halves it in 10 to 20 min)."""
    loads, left = range(100, 221, 20), 0.4
    values = [float(1 + 0.2 * np.expm1(max(load - 150, 0) / 30)) for load in loads]
    clear = [value + left * 0.5**number for number, value in enumerate(values, 1)]
    plain = make_zones(bike(tmp_path, [step(x, round(y, 2), round(y, 2)) for x, y in zip(loads, values, strict=True)]))
    raised = make_zones(
        bike(tmp_path, [step(x, round(y, 2), round(y, 2)) for x, y in zip(loads, clear, strict=True)], baseline="[1.4]")
    )
    assert raised.draws.edges[0] == pytest.approx(plain.draws.edges[0], abs=4)


def test_running_without_easy_running(tmp_path: Path) -> None:
    rows = [(4.0, "walk", 1.0), (5.0, "walk", 1.0), (6.0, "walk", 1.1), (8.0, "run", 1.5), (9.0, "run", 2.4)]
    zone_set = make_zones(run(tmp_path, rows, baseline="[1.0]"))
    assert zone_set.edges.easy_empty
    assert zone_set.edges.floor is not None
    assert 6 / 3.6 < zone_set.edges.floor < 8 / 3.6
    assert "Walking was easy up to" in " ".join(zone_sentences(zone_set))


def test_running_with_an_easy_running_step(tmp_path: Path) -> None:
    rows = [(5.0, "walk", 1.0), (6.0, "walk", 1.0), (8.0, "run", 1.1), (9.0, "run", 1.5), (10.0, "run", 2.4)]
    assert not make_zones(run(tmp_path, rows, baseline="[1.0]")).edges.easy_empty


def test_more_scatter_and_fewer_samples_make_wider_ranges(tmp_path: Path) -> None:
    steps = [(100 + 20 * i, value) for i, value in enumerate((1.0, 1.1, 1.0, 1.2, 1.6, 2.3))]
    calm, rough, once = (
        make_zones(bike(tmp_path, [step(load, *(value + off for off in offs)) for load, value in steps]))
        for offs in ((-0.05, 0.05), (-0.35, 0.35), (0.0,))
    )
    width = {
        name: item.draws.edges[1:].std(axis=0) for name, item in (("calm", calm), ("rough", rough), ("once", once))
    }
    assert (width["rough"] > 1.5 * width["calm"]).all()
    assert (width["once"] > 1.2 * width["calm"]).all()
    assert rough.scatter > 2 * calm.scatter


@settings(max_examples=25, deadline=None, derandomize=True)
@given(lactates)
def test_whatever_was_read_the_edges_are_in_order_and_inside_the_test(values: list[float]) -> None:
    """Impossible, falling and empty shapes too: never a crash, never an edge outside what was tested."""
    rows = [(100 + 20 * i, value, None) for i, value in enumerate(values)]
    zone_set = make_zones(step_test(rows, override="invented"))
    edges, last = zone_set.edges, rows[-1][0]
    found = [value for value in (edges.floor, edges.target_top, edges.ceiling) if value is not None]
    assert found == sorted(found)
    assert all(100 <= value <= last for value in found)
    assert (edges.ceiling is None) == (edges.ceiling_at_least == last)
    assert (zone_set.draws.edges[:, :-1] <= zone_set.draws.edges[:, 1:]).all()
    assert zone_sentences(zone_set)


def test_the_scatter_of_an_analyser_is_that_published() -> None:
    """Mentzoni et al. 2024 (SOURCES S1, read): residual SD of four handheld units 0.15 to 0.22 mmol/L over 0.88 to 4.89 mmol/L,
    95 % prediction intervals at 3 mmol/L 0.60 to 0.87 mmol/L wide; 1.96 is the textbook's normal quantile."""
    usual = StepTestSettings()
    sd = AnalyserSd(usual.sd_floor, usual.sd_fraction)
    assert (sd.at(np.array([0.88, 1.5, 2.5, 3.5])) >= 0.15).all()
    assert (sd.at(np.array([0.88, 1.5, 2.5, 3.5])) <= 0.22).all()
    assert 0.60 < 2 * 1.96 * float(sd.at(np.array(3.0))) < 0.87
