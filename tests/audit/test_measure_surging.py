"""When a session surged too often or drifted: steady riding is left alone, planted surges and efforts are found."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal, stats

from steadyband.audit.measure.dose import surge_mean
from steadyband.audit.measure.held import drift_level, drifted, highest_mean, longest_held
from steadyband.audit.measure.scatter import calm_scatter, explained_above, median_of_each
from steadyband.audit.measure.surging import surging

CEILING, RELEASE = 176.0, 166.0
HOURS = 2
STRETCH = np.zeros(HOURS * 3600, np.int32)


@pytest.mark.parametrize("missing", [0.0, 0.1, 0.9])
def test_medians_with_gaps_are_those_of_numpy(missing: float) -> None:
    rng = np.random.default_rng(5)
    rows = rng.normal(200, 50, (120, 60))
    rows[rng.random(rows.shape) < missing] = np.nan
    rows = rows[~np.isnan(rows).all(axis=1)]
    assert np.array_equal(median_of_each(rows), np.nanmedian(rows, axis=1))


def _pedalled(seed: int, level: np.ndarray | float, scatter: float) -> np.ndarray:
    """A load around `level` with second-to-second scatter of lag-1 correlation 0.6."""
    noise = np.random.default_rng(seed).standard_normal(HOURS * 3600)
    return np.asarray(level * (1 + scatter * signal.lfilter([0.8], [1, -0.6], noise)))


def _with_surges(base: float) -> np.ndarray:
    level = np.full(HOURS * 3600, base)
    for number in range(10 * HOURS):
        length, watts = ((8, 290), (12, 250), (20, 216), (30, 205), (45, 200))[number % 5]
        level[200 + 340 * number : 200 + 340 * number + length] = watts
    return level


@pytest.mark.parametrize("scatter", [0.05, 0.15, 0.25])
@pytest.mark.parametrize("base", [150.0, 161.0])
def test_steady_pedalling_does_not_surge_and_ten_surges_an_hour_do(base: float, scatter: float) -> None:
    at = np.array([CEILING]), np.array([RELEASE])
    steady = [surging(surge_mean(_pedalled(seed, base, scatter), STRETCH), STRETCH, *at) for seed in range(4)]
    assert not any(found.raised[0] for found in steady)
    surged = [
        surging(surge_mean(_pedalled(seed, _with_surges(base), 0.8 * scatter), STRETCH), STRETCH, *at)
        for seed in range(4)
    ]
    assert all(found.raised[0] for found in surged)


def test_few_long_efforts_count_by_their_work() -> None:
    load = np.full(HOURS * 3600, 150.0)
    load[1000:1180] = load[4000:4180] = 230.0
    found = surging(surge_mean(load, STRETCH), STRETCH, np.array([CEILING, np.inf]), np.array([RELEASE, RELEASE]))
    assert found.per_hour[0] == 1.0
    assert found.raised.tolist() == [True, False]


def test_nothing_measured_raises_nothing() -> None:
    nothing = np.full(300, np.nan)
    found = surging(nothing, np.zeros(300, np.int32), np.array([CEILING]), np.array([RELEASE]))
    assert found.raised.tolist() == [False]
    assert found.scatter == 0.0
    assert highest_mean(np.empty(0)) == -np.inf
    assert longest_held(np.empty(0), CEILING, np.inf) is None


def test_calm_scatter_is_that_of_even_noise_and_surges_hardly_move_it() -> None:
    even = surge_mean(_pedalled(1, 160.0, 0.15), STRETCH)
    true = float(even.std() / 160)
    assert calm_scatter(even) == pytest.approx(true, rel=0.15)
    assert calm_scatter(surge_mean(_pedalled(1, _with_surges(160.0), 0.15), STRETCH)) == pytest.approx(true, rel=0.20)


def test_explained_work_is_the_mean_excess_of_a_normal_variable() -> None:
    """Outside check: scipy.stats.norm.expect integrates the excess numerically."""
    level, scatter = 160.0, 0.1
    mean = np.full(7200, level)
    ceilings = np.array([160.0, 170.0, 190.0, np.inf])
    told = explained_above(mean, scatter, ceilings)
    for ceiling, seconds in zip(ceilings[:3], told[:3], strict=True):
        excess = stats.norm(level, scatter * level).expect(lambda load, c=ceiling: load - c, lb=ceiling)
        assert seconds == pytest.approx(7200 * excess / ceiling, rel=0.02)
    assert told[3] == 0.0


def test_a_level_above_the_ceiling_explains_no_more_than_one_at_it() -> None:
    at = explained_above(np.full(3600, 176.0), 0.1, np.array([176.0]))
    above = explained_above(np.full(3600, 220.0), 0.1, np.array([176.0]))
    assert above == pytest.approx(at)


def test_drift_needs_ten_minutes_above_the_ceiling_not_the_target_top() -> None:
    at_top = np.full(7200, RELEASE)
    assert drifted(at_top, 0.05, np.array([CEILING, RELEASE - 5])).tolist() == [False, True]
    effort = at_top.copy()
    effort[3000:3600] = 1.05 * CEILING
    assert drifted(effort, 0.1, np.array([CEILING])).tolist() == [True]
    assert drift_level(np.array([CEILING]), 0.1)[0] == pytest.approx(1.01 * CEILING)
    assert drifted(effort[3000:3599], 0.0, np.array([CEILING])).tolist() == [False]  # shorter than ten minutes
