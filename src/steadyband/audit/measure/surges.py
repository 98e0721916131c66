"""The surges of one session under the edges as tested (METHOD 4), cause and climbs aside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import LoadEdges
from steadyband.audit.measure.dose import DosedSurge, cumulative_above, surges_at
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.measure.surging import surging
from steadyband.audit.model import CAUSES, Surge, Surges
from steadyband.ground.settings import Settings

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LENGTH_EDGES_S: tuple[int | None, ...] = (10, 20, 30, 60, 120, 300, None)
"""Upper edges (inclusive) of the histogram of seconds above, the last one open (design choice)."""


def find_surges(arrays: SessionArrays, edges: LoadEdges, settings: Settings) -> Surges | None:
    """All surges of a session; None where the ceiling is open, by heart rate, which cannot see them, or where they would be noise.

    Source: METHOD 4.
    """
    if not arrays.surges_judged or not math.isfinite(edges.ceiling):
        return None
    found = surges_at(arrays.surge_load, arrays.stretch, edges.ceiling, edges.release, settings.surges.dose_s)
    rate = surging(arrays.surge_load, arrays.stretch, np.array([edges.ceiling]), np.array([edges.release]), settings)
    events = _events(arrays, found, settings.surges.micro_max_s)
    seconds_above, active_s = int(np.count_nonzero(arrays.surge_load >= edges.ceiling)), np.count_nonzero(arrays.active)
    micro = sum(event.micro for event in events)
    gathered = gathered_above(arrays, edges.ceiling)
    return Surges(
        count=len(events),
        micro=micro,
        sustained=len(events) - micro,
        per_hour=float(rate.per_hour[0]),
        seconds_above=seconds_above,
        share_above=seconds_above / int(active_s) if active_s else 0.0,
        work_above_kj=float(gathered[-1]) / 1000 if arrays.channel == "power" else None,
        forced=None,
        by_cause={cause: sum(event.cause == cause for event in events) for cause in CAUSES},
        lengths=length_histogram(np.array([event.seconds_above for event in events], np.int64)),
        above_per_hour_s=float(rate.above_s[0]),
        explained_per_hour_s=float(rate.explained_s[0]),
        events=events,
    )


def gathered_above(arrays: SessionArrays, ceiling: float) -> FloatArray:
    """What the surge load has gathered above the ceiling up to each second [load x s, n], standing still in pauses.

    J for power; for speeds metres gained on the ceiling's pace. Source: METHOD 4.
    """
    return cumulative_above(arrays.surge_load, ceiling)


def _events(arrays: SessionArrays, found: Sequence[DosedSurge], micro_max_s: int) -> tuple[Surge, ...]:
    gaps = [None, *(after.start - before.end for before, after in pairwise(found))]
    return tuple(
        Surge(
            start_s=one.start,
            length_s=one.end - one.start,
            seconds_above=one.seconds_above,
            mean=one.mean,
            highest=one.highest,
            dose_s=one.dose_s,
            work_above_j=one.above if arrays.channel == "power" else None,
            gap_before_s=gap,
            lat=known(arrays.lat[one.start]),
            lon=known(arrays.lon[one.start]),
            grade=known(arrays.grade[one.start]),
            cause="unknown",
            forced=None,
            micro=one.seconds_above <= micro_max_s,
        )
        for one, gap in zip(found, gaps, strict=False)
    )


def telling(surges: Surges, most: int) -> list[Surge]:
    """The surges with the most work above the ceiling, in time order."""
    ranked = sorted(surges.events, key=lambda event: event.dose_s, reverse=True)
    return sorted(ranked[:most], key=lambda event: event.start_s)


def known(value: float) -> float | None:
    """The number, None where it is missing."""
    return float(value) if math.isfinite(value) else None


def length_histogram(seconds_above: IntArray) -> tuple[tuple[int | None, int], ...]:
    """Surges by seconds above: (upper edge in s, inclusive, or None; count) (METHOD 4)."""
    bins = np.searchsorted(np.array(LENGTH_EDGES_S[:-1]), seconds_above, side="left")
    counts = np.bincount(bins, minlength=len(LENGTH_EDGES_S))
    return tuple(zip(LENGTH_EDGES_S, counts.tolist(), strict=True))
