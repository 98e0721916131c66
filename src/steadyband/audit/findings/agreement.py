"""Under how many of the redrawn tests each finding is raised (METHOD 1.3), worked out for all of them at once.

Each function here mirrors a rule of `findings`; the tests hold the two together, redrawn test by redrawn test.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeDraws
from steadyband.audit.measure.bands import counts_over_draws, walked_below
from steadyband.audit.measure.drift import heart_rate_drift, highest_held_mean
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.model import HEAVY, STEADY
from steadyband.ground.settings import DriftSettings, Settings, SurgeSettings, VerdictSettings

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

FEW_DRAWS = 16
"""Up to this many redrawn tests with one release are counted one by one (measured: sorting pays beyond it)."""


def raised_over_draws(
    arrays: SessionArrays, draws: EdgeDraws, intent: str, settings: Settings
) -> Mapping[str, BoolArray]:
    """For each finding that applies to `intent`: under which redrawn tests [N] it is raised (METHOD 1.3, 7)."""
    counts = counts_over_draws(arrays, draws)
    raised = {
        "too_high": _too_high(arrays, draws, counts, settings.verdict),
        "surges": _surges(arrays, draws, settings),
        "zone_3_drift": highest_held_mean(arrays.load[arrays.measured], settings.drift) >= draws.target_top,
        "heart_rate_drift": np.full(len(draws), _hr_drifts(arrays, settings.drift)),
        "heart_rate_above_test": _heart_rate_above(arrays, draws, settings.drift),
    }
    if intent == "easy":
        harder = counts[STEADY:].sum(axis=0) / counts.sum(axis=0) >= settings.verdict.steady_share
        return {**raised, "steady_in_easy": harder & ~draws.easy_empty, "no_easy_band": harder & draws.easy_empty}
    return {**raised, "too_low": _too_low(arrays, draws, settings.verdict)}


def _too_high(arrays: SessionArrays, draws: EdgeDraws, counts: IntArray, verdict: VerdictSettings) -> BoolArray:
    mean = float(arrays.band_load[arrays.measured].mean())
    high: BoolArray = (mean > draws.target_top) | (
        counts[HEAVY:].sum(axis=0) / counts.sum(axis=0) >= verdict.heavy_share
    )
    return high


def _too_low(arrays: SessionArrays, draws: EdgeDraws, verdict: VerdictSettings) -> BoolArray:
    among = arrays.measured & ~arrays.coasting
    if not among.any():
        return np.zeros(len(draws), bool)
    below = np.searchsorted(np.sort(arrays.band_load[among]), draws.highest_easy, side="left")
    easy = np.where(draws.easy_empty, walked_below(arrays, among, draws.cuts()[1]), below)
    return easy / np.count_nonzero(among) >= verdict.easy_share


def _surges(arrays: SessionArrays, draws: EdgeDraws, settings: Settings) -> BoolArray:
    active_s = int(np.count_nonzero(arrays.active))
    if arrays.channel == "heart_rate" or not active_s:
        return np.zeros(len(draws), bool)
    load = np.sort(arrays.surge_load[arrays.measured])
    above = len(load) - np.searchsorted(load, draws.ceiling, side="left")
    micro = micro_counts(arrays, draws, settings.surges)
    verdict = settings.verdict
    return (3600 * micro / active_s >= verdict.micro_per_hour) | (above / active_s >= verdict.share_above)


def micro_counts(arrays: SessionArrays, draws: EdgeDraws, settings: SurgeSettings) -> IntArray:
    """Micro-surges under each redrawn test [N].

    Only seconds that reach the lowest redrawn ceiling can count. They are linked where the surge load between two of
    them never falls under the release; per distinct release, the k-th highest second of each run then tells for every
    ceiling at once whether the run holds k seconds above it.
    """
    counts = np.zeros(len(draws), np.int64)
    high, links = _linked_seconds(arrays, float(np.min(draws.ceiling, initial=np.inf)))
    if not len(high):
        return counts
    release, group = np.unique(draws.release, return_inverse=True)
    order = np.argsort(group, kind="stable")
    members = np.split(order, np.cumsum(np.bincount(group))[:-1])
    for level, chosen in zip(release, members, strict=True):
        counts[chosen] = _micro_at_release(high, links < level, draws.ceiling[chosen], settings)
    return counts


def _linked_seconds(arrays: SessionArrays, lowest_ceiling: float) -> tuple[FloatArray, FloatArray]:
    """Surge load of the seconds at or above `lowest_ceiling` [m], and the lowest surge load between neighbours [m - 1],
    -inf across the border of a stretch or a missing second."""
    load = np.where(np.isnan(arrays.surge_load), -np.inf, arrays.surge_load)
    rows = np.flatnonzero(load >= lowest_ceiling)
    if len(rows) < 2 or not np.isfinite(lowest_ceiling):
        return load[rows] if np.isfinite(lowest_ceiling) else np.empty(0), np.empty(0)
    between = np.minimum(load[1:], load[:-1])
    between[arrays.stretch[1:] != arrays.stretch[:-1]] = -np.inf
    return load[rows], np.minimum.reduceat(between[: rows[-1]], rows[:-1])


def _micro_at_release(
    high: FloatArray, broken: BoolArray, ceilings: FloatArray, settings: SurgeSettings
) -> IntArray | int:
    run = np.concatenate(([0], np.cumsum(broken)))
    least, most = settings.min_above_s, settings.micro_max_s
    if len(ceilings) <= FEW_DRAWS:
        above = (np.bincount(run[high >= ceiling]) for ceiling in ceilings)
        return np.array([np.count_nonzero((held >= least) & (held <= most)) for held in above])
    ordered = high[np.lexsort((-high, run))]
    starts = np.concatenate(([0], np.flatnonzero(broken) + 1))
    lengths = np.diff(np.append(starts, len(high)))
    held_least = _reaching(np.sort(ordered[starts[lengths >= least] + least - 1]), ceilings)
    return held_least - _reaching(np.sort(ordered[starts[lengths > most] + most]), ceilings)


def _reaching(levels: FloatArray, ceilings: FloatArray) -> IntArray:
    """How many of the sorted `levels` reach each ceiling."""
    return (len(levels) - np.searchsorted(levels, ceilings, side="left")).astype(np.int64)


def _hr_drifts(arrays: SessionArrays, settings: DriftSettings) -> bool:
    found = heart_rate_drift(arrays, settings)
    return found is not None and found.percent > settings.hr_drift_percent


def _heart_rate_above(arrays: SessionArrays, draws: EdgeDraws, settings: DriftSettings) -> BoolArray:
    with_hr = arrays.active & ~np.isnan(arrays.heart_rate)
    total = int(np.count_nonzero(with_hr))
    if arrays.channel == "heart_rate" or not total:
        return np.zeros(len(draws), bool)
    seconds = heart_rate_above_counts(arrays, draws)
    return (seconds >= settings.hr_above_s) & (seconds / total >= settings.hr_above_share)


def heart_rate_above_counts(arrays: SessionArrays, draws: EdgeDraws) -> IntArray:
    """Active seconds with heart rate above the limit and band load below the ceiling, under each redrawn test [N]."""
    kept = np.flatnonzero(arrays.active & ~np.isnan(arrays.heart_rate) & ~np.isnan(arrays.band_load))
    kept = kept[np.argsort(arrays.band_load[kept], kind="stable")]
    load, hr = arrays.band_load[kept], arrays.heart_rate[kept]
    values = np.unique(hr)
    level = np.searchsorted(values, draws.hr_ceiling, side="right")  # NaN sorts last: nothing lies above it
    counts = np.zeros(len(draws), np.int64)
    for number in np.unique(level[level < len(values)]):
        chosen = level == number
        counts[chosen] = np.searchsorted(load[hr >= values[number]], draws.ceiling[chosen], side="left")
    return counts
