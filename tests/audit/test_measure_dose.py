"""Surges by dose: planted ones, the count for many ceilings at once, and what gathers above a ceiling."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyband.audit.measure.dose import above_ceilings, count_surges, cumulative_above, surge_mean, surges_at


def _stretch(size: int) -> np.ndarray:
    return np.zeros(size, np.int32)


def _noisy(seed: int, size: int, mean: float, scatter: float, gaps: int) -> tuple[np.ndarray, np.ndarray]:
    """Load with correlated scatter, some seconds missing, and stretches cut at random places."""
    rng = np.random.default_rng(seed)
    noise = np.convolve(rng.standard_normal(size + 40), np.ones(6) / 6**0.5, "same")[20 : size + 20]
    load = mean * (1 + scatter * noise)
    load[rng.integers(0, size, gaps)] = np.nan
    stretch = np.searchsorted(np.sort(rng.integers(1, size, 3)), np.arange(size), side="right").astype(np.int32)
    stretch[rng.integers(0, size, 2)] = -1
    return load, stretch


def test_a_block_above_the_ceiling_is_one_surge_with_its_work() -> None:
    load = np.full(1200, 150.0)
    load[400:460] = 206.0
    mean = surge_mean(load, _stretch(1200))
    (one,) = surges_at(mean, _stretch(1200), 176.0, 166.0)
    assert one.start < 400 < 460 < one.end
    assert one.above == pytest.approx(60 * 30, rel=0.10)  # the plain block; its smoothed shoulders cost a little
    assert one.dose_s == pytest.approx(one.above / 176)
    assert one.highest == pytest.approx(206)


def test_less_than_the_dose_is_no_surge() -> None:
    load = np.full(600, 150.0)
    load[300:305] = 240.0
    assert surges_at(surge_mean(load, _stretch(600)), _stretch(600), 176.0, 166.0) == ()


def test_a_gap_or_a_pause_ends_a_surge() -> None:
    load = np.full(600, 150.0)
    load[200:260] = 230.0
    stretch = _stretch(600)
    stretch[230:] = 1
    assert len(surges_at(surge_mean(load, stretch), stretch, 176.0, 166.0)) == 2
    load[230] = np.nan
    assert len(surges_at(surge_mean(load, _stretch(600)), _stretch(600), 176.0, 166.0)) == 2


def test_an_open_ceiling_has_no_surges() -> None:
    mean = np.full(100, 500.0)
    assert surges_at(mean, _stretch(100), np.inf, 166.0) == ()
    ceilings = np.array([np.inf, 176.0])
    assert count_surges(mean, _stretch(100), ceilings, np.array([166.0, 166.0])).tolist() == [0, 1]
    seconds, above = above_ceilings(mean, ceilings)
    assert seconds.tolist() == [0, 100]
    assert above.tolist() == [0.0, 100 * (500.0 - 176.0)]


def test_nothing_measured_is_nothing_found() -> None:
    nothing = np.full(50, np.nan)
    ceilings = np.array([176.0])
    assert surges_at(surge_mean(nothing, _stretch(50)), _stretch(50), 176.0, 166.0) == ()
    assert count_surges(nothing, _stretch(50), ceilings, ceilings).tolist() == [0]
    assert above_ceilings(nothing, ceilings)[0].tolist() == [0]
    assert count_surges(np.empty(0), np.empty(0, np.int32), ceilings, ceilings).tolist() == [0]


@given(
    seed=st.integers(0, 10_000),
    mean=st.floats(120, 200),
    scatter=st.floats(0, 0.5),
    gaps=st.integers(0, 30),
    least_s=st.sampled_from([0.2, 1.5, 4.0]),
)
def test_counting_many_at_once_agrees_with_counting_one_by_one(
    seed: int, mean: float, scatter: float, gaps: int, least_s: float
) -> None:
    load, stretch = _noisy(seed, 900, mean, scatter, gaps)
    smooth = surge_mean(load, stretch)
    rng = np.random.default_rng(seed)
    ceilings = np.append(rng.normal(176, 12, 40), np.inf)
    releases = ceilings - np.append(rng.uniform(-5, 30, 40), 0)
    counted = count_surges(smooth, stretch, ceilings, releases, least_s)
    seconds, above = above_ceilings(smooth, ceilings)
    for number, (ceiling, release) in enumerate(zip(ceilings, releases, strict=True)):
        assert counted[number] == len(surges_at(smooth, stretch, ceiling, release, least_s))
        assert seconds[number] == np.count_nonzero(smooth >= ceiling)
        assert above[number] == pytest.approx(cumulative_above(smooth, ceiling)[-1], abs=1e-6)


def test_levels_with_many_ties_count_alike() -> None:
    rng = np.random.default_rng(5)
    smooth = rng.integers(150, 200, 4000).astype(np.float64)
    stretch = _stretch(4000)
    ceilings = rng.integers(170, 185, 60).astype(np.float64)
    releases = ceilings - rng.integers(0, 20, 60)
    counted = count_surges(smooth, stretch, ceilings, releases)
    assert counted.tolist() == [
        len(surges_at(smooth, stretch, c, r)) for c, r in zip(ceilings.tolist(), releases.tolist(), strict=True)
    ]
    assert counted.max() > 0
