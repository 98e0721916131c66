"""The posterior over lactate curves: truths of known curves, its promises, and the same posterior sampled by emcee."""

from __future__ import annotations

import emcee
import numpy as np
import pytest
from scipy import stats
from scipy.special import expit

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve import posterior as told
from steadyband.steptest.curve.posterior import Curves, Readings, draw_curves, edge_sets
from steadyband.steptest.model import AnalyserSd

SETTINGS, ANALYSER = StepTestSettings(), AnalyserSd(0.18, 0.06)
LOADS = np.arange(100.0, 221.0, 20.0)
STEPS = 2500
"""Steps of every emcee walker."""


def readings(lactate: list[float], loads: np.ndarray = LOADS, baseline: float | None = 1.0) -> Readings:
    """Every step sampled twice with the same value."""
    step = np.repeat(np.arange(len(lactate)), 2)
    return Readings(loads[: len(lactate)], step, np.repeat(lactate, 2), baseline)


def sets_of(read: Readings) -> np.ndarray:
    curves = draw_curves(read, ANALYSER, SETTINGS, SETTINGS.draws)
    return edge_sets(curves, float(read.loads[-1]), SETTINGS)


def test_edges_of_a_curve_are_where_it_stands_the_rises_above_its_flat_part():
    """By hand: 1 + 0.2 (exp((load - 150) / 30) - 1) is 0.3, 0.65 and 1.0 above 1 at 150 + 30 ln 2.5, ln 4.25 and ln 6."""
    one = Curves(*(np.array([value]) for value in (1.0, 0.2, 150.0, 30.0, 1.0, 0.0)))
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


def normal(x: np.ndarray, mean: float, sd: np.ndarray | float) -> np.ndarray:
    return np.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * np.sqrt(2 * np.pi))


def plain_log_posterior(points: np.ndarray, read: Readings) -> np.ndarray:
    """The posterior of METHOD 1.2 written down afresh, for points [k, 6] in W, mmol/L and logs."""
    base, floor, width, bend, scatter, clearing = points.T
    width, scatter, clearing = np.exp(width), np.exp(scatter), np.exp(clearing)
    ratio, low, high = 1.0 / 0.3, *told.BENDS
    k = np.log(ratio) * (low + (high - low) * expit(bend))
    s = width / k
    grown = (ratio - 1) / (ratio - np.exp(k))  # exp((floor - x0) / s), from the two heights
    x0, a = floor - s * np.log(grown), 0.3 / (grown - 1)
    loads, last = read.loads[:, None], read.loads[-1]
    level = base + a * np.expm1(np.maximum(loads - x0, 0) / s) + clearing * 0.5 ** np.arange(1, len(loads) + 1)[:, None]
    most = np.quantile(read.lactate, 0.25) + told.TOLD
    level = np.minimum(level, most)[read.step]
    sd = np.sqrt((scatter * np.maximum(0.18, 0.06 * level)) ** 2 + told.ROUNDED**2)
    off = np.minimum(read.lactate, most)[:, None] - level
    bad = normal(off, told.BAD_OFF, np.hypot(sd, told.BAD_SD))
    logs = np.log((1 - told.BAD) * normal(off, 0, sd) + told.BAD * bad).sum(axis=0)
    at_rest = scatter * np.maximum(0.18, 0.06 * base)
    gone = read.baseline - base - clearing
    foreign = normal(gone, told.FOREIGN_OFF, np.hypot(at_rest, told.FOREIGN_SD))
    logs += np.log((1 - told.FOREIGN) * normal(gone, 0, at_rest) + told.FOREIGN * foreign)
    logs += stats.t.logpdf(base, told.BASE_TAIL, told.BASE, told.BASE_SD)
    logs += np.log(normal(np.log(width / last), np.log(told.WIDTH), told.WIDTH_LOG_SD))
    logs += np.log(normal(np.log(scatter), np.log(told.SCATTER), told.SCATTER_LOG_SD))
    logs += np.log(normal(np.log(clearing), np.log(told.CLEARING), told.CLEARING_LOG_SD))
    share = expit(bend)
    logs += np.log(share * (1 - share))
    step, reach = np.median(np.diff(read.loads)), last - read.loads[0]
    usual = normal(floor, read.loads[0] + told.FLOOR_AT * reach, told.FLOOR_SD * reach + told.FLOOR_STEPS * step)
    logs += np.log(np.maximum(usual, 1e-300))
    logs -= 0.5 * (np.maximum(floor + width - last, 0) / (told.PASSED_STEPS * step)) ** 2
    inside = (
        (floor > read.loads[0] - told.BEYOND * step) & (floor < last + told.BEYOND * step) & (base > told.BASE_LEAST)
    )
    return np.where(inside, logs, -np.inf)


@pytest.mark.parametrize(
    "lactate",
    [[1.0, 1.1, 1.0, 1.2, 1.5, 2.1, 2.6], [1.1, 0.9, 1.0, 1.9, 1.2, 1.6, 2.4], [1.2, 1.1, 1.3, 1.2, 1.5, 1.6, 1.9]],
    ids=["clean", "bad drop", "open"],
)
def test_emcee_samples_the_same_posterior(lactate: list[float]) -> None:
    """Reference library: emcee 3.1, EnsembleSampler over the density above; its own quantiles of the three edges."""
    read = readings(lactate)
    rng = np.random.default_rng(3)
    near = np.array([1.05, 180.0, np.log(28), 0.5, 0.0, np.log(0.06)])
    start = near + rng.normal(0, [0.05, 12, 0.3, 1.0, 0.3, 1.0], (60, 6))
    state = np.random.RandomState(3).get_state()
    moves = [
        (emcee.moves.DEMove(), 0.8),
        (emcee.moves.DESnookerMove(), 0.2),
    ]  # its usual move forgets half as fast here
    walk = emcee.EnsembleSampler(60, 6, plain_log_posterior, args=(read,), vectorize=True, moves=moves)
    walk.random_state = state
    with np.errstate(divide="ignore", over="ignore"):  # walkers far out have a density of 0
        walk.run_mcmc(start, STEPS)
    base, floor, width, *_ = walk.get_chain(discard=STEPS // 4, thin=10, flat=True).T
    reference = np.column_stack((floor, floor + np.exp(width)))
    curves = draw_curves(read, ANALYSER, SETTINGS, 6000)
    ours = np.column_stack((curves.loads_at(0.3), curves.loads_at(1.0)))
    spread = reference.std(axis=0)
    for quantile in (0.1, 0.25, 0.5, 0.75, 0.9):
        off = np.quantile(ours, quantile, axis=0) - np.quantile(reference, quantile, axis=0)
        # two runs of emcee itself lie 0.23 of the spread apart at the lowest quantile of the open test (137.5 and 142.2 W)
        assert (np.abs(off) < 0.25 * spread).all(), (quantile, off, spread)
    assert np.median(curves.base) == pytest.approx(np.median(base), abs=0.02)


def test_points_stand_where_they_say() -> None:
    """A point is told by its edges: whatever the bend, its curve stands 0.3 and 1.0 above its base there."""
    bends = np.linspace(-4, 4, 9)
    flat = np.ones(9)
    points = np.column_stack((1.1 * flat, 0.8 * flat, np.log(0.1) * flat, bends, 0 * flat, -5 * flat))
    curves = told.curves_of(points, 200.0, SETTINGS)
    assert curves.loads_at(0.3) == pytest.approx(160 * flat)
    assert curves.loads_at(1.0) == pytest.approx(180 * flat)
    assert (np.diff(curves.loads_at(0.65)) > 0).all()  # the more bend, the later half the rise
