"""Drift within a session (METHOD 6)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeSets, LoadEdges
from steadyband.audit.measure.held import drift_level
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.measure.means import runs, trailing_mean
from steadyband.audit.measure.scatter import calm_scatter
from steadyband.audit.model import Drift
from steadyband.ground.robust import theil_sen as theil_sen
from steadyband.ground.settings import DriftSettings

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class HrDrift:
    """Heart rate against load in both halves: means in bpm and W or m/s."""

    percent: float
    hr_first: float
    hr_second: float
    load_first: float
    load_second: float


def drift_of(arrays: SessionArrays, edges: LoadEdges, hr_ceiling: float | None, settings: DriftSettings) -> Drift:
    """All drift of one session; `hr_ceiling` [bpm] is the test's limit at the ceiling, if measured."""
    level = float(drift_level(np.array(edges.ceiling), ride_scatter(arrays)))
    drifted_s, longest_s, start = load_drift(arrays, level, np.inf, settings)
    trend = load_trend(arrays.load[arrays.measured], settings)
    by_hr = heart_rate_drift(arrays, settings)
    return Drift(
        load_drifted_s=drifted_s,
        load_longest_s=longest_s,
        load_longest_start_s=start,
        load_slope_per_h=trend[0] if trend else None,
        load_slope_range=(trend[1], trend[2]) if trend else None,
        hr_drift_percent=by_hr.percent if by_hr else None,
        hr_above_test_s=heart_rate_above_s(arrays, edges.ceiling, hr_ceiling),
        top_of_band_s=load_drift(arrays, edges.target_top, level, settings)[0],
    )


def load_held(arrays: SessionArrays) -> FloatArray:
    """The load that drift is looked for in [k]: judged seconds laid end to end (METHOD 6)."""
    return arrays.load[arrays.judged]


def ride_scatter(arrays: SessionArrays) -> float:
    """Scatter of the 11-s mean in the calm minutes, as a share; 0 by heart rate, which is smooth by itself (METHOD 6)."""
    if arrays.channel == "heart_rate":
        return 0.0
    return calm_scatter(arrays.surge_load)


def load_drift(arrays: SessionArrays, low: float, high: float, settings: DriftSettings) -> tuple[int, int, int | None]:
    """Seconds covered by trailing means from `low` up to below `high`, the longest run of them [s], and the row it begins at.

    With the level of drift and inf: drift into zone 3. With target top and that level: time at the top of the band
    (METHOD 6).
    """
    means = trailing_mean(load_held(arrays), settings.window_s)
    covered = np.zeros(len(means) + settings.window_s - 1 if len(means) else 0, np.int64)
    starts, ends = runs((means >= low) & (means < high))
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        covered[start : end + settings.window_s - 1] = 1
    first, last = runs(covered == 1)
    if not len(first):
        return 0, 0, None
    longest = int(np.argmax(last - first))
    row = int(np.flatnonzero(arrays.measured)[first[longest]])
    return int(covered.sum()), int(last[longest] - first[longest]), row


def load_trend(load: FloatArray, settings: DriftSettings) -> tuple[float, float, float] | None:
    """Theil-Sen slope of the load [load per hour] and its 95 % interval, over full bins after the warm-up.

    Source: METHOD 6.
    """
    kept = load[settings.skip_s :]
    bins = len(kept) // settings.bin_s
    if bins < settings.bins_min:
        return None
    means = kept[: bins * settings.bin_s].reshape(bins, settings.bin_s).mean(axis=1)
    hours = np.arange(bins) * settings.bin_s / 3600
    return theil_sen(hours, means)


def heart_rate_drift(arrays: SessionArrays, settings: DriftSettings) -> HrDrift | None:
    """(HR/load, second half) / (HR/load, first half) - 1 [%] after the warm-up; None where it cannot be judged.

    Needs power or speed as the load, `hr_min_s` seconds left that carry both, and half-mean loads within
    `hr_load_within` of each other.
    Source: METHOD 6, SOURCES S7.
    """
    if arrays.channel == "heart_rate":
        return None
    kept = np.flatnonzero(arrays.measured)[settings.skip_s :]
    kept = kept[~np.isnan(arrays.heart_rate[kept])]
    if len(kept) < settings.hr_min_s:
        return None
    first, second = kept[: len(kept) // 2], kept[len(kept) // 2 :]
    load_first, load_second = float(arrays.load[first].mean()), float(arrays.load[second].mean())
    if min(load_first, load_second) <= 0 or abs(load_second / load_first - 1) > settings.hr_load_within:
        return None
    hr_first, hr_second = float(arrays.heart_rate[first].mean()), float(arrays.heart_rate[second].mean())
    ratio = (hr_second / load_second) / (hr_first / load_first)
    return HrDrift(100 * (ratio - 1), hr_first, hr_second, load_first, load_second)


def heart_rate_above(arrays: SessionArrays, ceiling: float, hr_ceiling: float) -> BoolArray:
    """Active seconds [n] with heart rate above the test's limit while the band load is below the ceiling."""
    return arrays.active & (arrays.heart_rate > hr_ceiling) & (arrays.band_load < ceiling)


def heart_rate_above_s(arrays: SessionArrays, ceiling: float, hr_ceiling: float | None) -> int | None:
    """How many seconds; None where heart rate or its limit is missing, or heart rate is itself the load (METHOD 6)."""
    if arrays.channel == "heart_rate" or hr_ceiling is None or not np.any(~np.isnan(arrays.heart_rate)):
        return None
    return int(np.count_nonzero(heart_rate_above(arrays, ceiling, hr_ceiling)))


def heart_rate_above_counts(arrays: SessionArrays, sets: EdgeSets) -> IntArray:
    """Active seconds with heart rate above the limit and band load below the ceiling, under each set of edges [N]."""
    kept = np.flatnonzero(arrays.active & ~np.isnan(arrays.heart_rate) & ~np.isnan(arrays.band_load))
    kept = kept[np.argsort(arrays.band_load[kept], kind="stable")]
    load, hr = arrays.band_load[kept], arrays.heart_rate[kept]
    values = np.unique(hr)
    level = np.searchsorted(values, sets.hr_ceiling, side="right")  # NaN sorts last: nothing lies above it
    counts = np.zeros(len(sets), np.int64)
    for number in np.unique(level[level < len(values)]):
        chosen = level == number
        counts[chosen] = np.searchsorted(load[hr >= values[number]], sets.ceiling[chosen], side="left")
    return counts
