"""Micro-surges under many sets of edges at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeSets
from steadyband.audit.measure.loads import SessionArrays
from steadyband.ground.settings import SurgeSettings

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

FEW_SETS = 16
"""Up to this many sets of edges with one release are counted one by one (measured: sorting pays beyond it)."""


def micro_counts(arrays: SessionArrays, sets: EdgeSets, settings: SurgeSettings) -> IntArray:
    """Micro-surges under each set of edges [N].

    Only seconds that reach the lowest ceiling can count. They are linked where the surge load between two of
    them never falls under the release; per distinct release, the k-th highest second of each run then tells for every
    ceiling at once whether the run holds k seconds above it.
    """
    counts = np.zeros(len(sets), np.int64)
    high, links = _linked_seconds(arrays, float(np.min(sets.ceiling, initial=np.inf)))
    if not len(high):
        return counts
    release, group = np.unique(sets.release, return_inverse=True)
    order = np.argsort(group, kind="stable")
    members = np.split(order, np.cumsum(np.bincount(group))[:-1])
    for level, chosen in zip(release, members, strict=True):
        counts[chosen] = _micro_at_release(high, links < level, sets.ceiling[chosen], settings)
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
    if len(ceilings) <= FEW_SETS:
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
