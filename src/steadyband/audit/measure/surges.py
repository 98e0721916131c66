"""Surges above the ceiling (METHOD 4), cause and climbs aside."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import LoadEdges
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.measure.means import runs
from steadyband.audit.model import CAUSES, Surge, Surges
from steadyband.ground.settings import SurgeSettings

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LENGTH_EDGES_S: tuple[int | None, ...] = (10, 20, 30, 60, 120, 300, None)
"""Upper edges (inclusive) of the histogram of seconds above, the last one open (design choice)."""


def surge_runs(
    surge_load: FloatArray, stretch: NDArray[np.int32], release: float, ceiling: float, min_above_s: int
) -> tuple[IntArray, IntArray, IntArray]:
    """First rows, ends (exclusive) and seconds above of all surges.

    A surge is a maximal run of `surge_load` [W or m/s, n] >= `release` within one stretch that holds at least
    `min_above_s` seconds at or above `ceiling`, in one piece or several (METHOD 4).
    """
    starts, ends = runs(surge_load >= release, stretch)
    totals = np.concatenate(([0], np.cumsum(surge_load >= ceiling)))
    above = totals[ends] - totals[starts]
    held = above >= min_above_s
    return starts[held], ends[held], above[held]


def find_surges(arrays: SessionArrays, edges: LoadEdges, settings: SurgeSettings) -> Surges | None:
    """All surges of a session; None where the ceiling is open, by heart rate, which cannot see them, or where they would be noise.

    Source: METHOD 4.
    """
    if not arrays.surges_judged or not math.isfinite(edges.ceiling):
        return None
    found = surge_runs(arrays.surge_load, arrays.stretch, edges.release, edges.ceiling, settings.min_above_s)
    events = _events(arrays, edges.ceiling, found, settings)
    above = arrays.active & (arrays.surge_load >= edges.ceiling)
    seconds_above, active_s = int(np.count_nonzero(above)), int(np.count_nonzero(arrays.active))
    micro = sum(event.micro for event in events)
    return Surges(
        count=len(events),
        micro=micro,
        sustained=len(events) - micro,
        per_hour=3600 * len(events) / active_s if active_s else 0.0,
        seconds_above=seconds_above,
        share_above=seconds_above / active_s if active_s else 0.0,
        work_above_kj=float(np.sum((arrays.load - edges.ceiling)[above])) / 1000 if arrays.channel == "power" else None,
        forced=None,
        by_cause={cause: sum(event.cause == cause for event in events) for cause in CAUSES},
        lengths=length_histogram(found[2]),
        carry_over_max=float(np.max(carry_over(arrays.load, edges.ceiling, settings.carry_over_tau_s), initial=0.0)),
        events=events,
    )


def _events(
    arrays: SessionArrays, ceiling: float, found: tuple[IntArray, IntArray, IntArray], settings: SurgeSettings
) -> tuple[Surge, ...]:
    starts, ends, above = found
    excess = np.where(arrays.surge_load >= ceiling, arrays.load - ceiling, 0.0)
    events, previous = [], None
    for start, end, seconds in zip(starts.tolist(), ends.tolist(), above.tolist(), strict=True):
        run = arrays.surge_load[start:end]
        surge = Surge(
            start_s=start,
            length_s=end - start,
            seconds_above=seconds,
            mean=float(run.mean()),
            highest=float(run.max()),
            work_above_j=float(excess[start:end].sum()) if arrays.channel == "power" else None,
            gap_before_s=None if previous is None else start - previous,
            lat=known(arrays.lat[start]),
            lon=known(arrays.lon[start]),
            grade=known(arrays.grade[start]),
            cause="unknown",
            forced=None,
            micro=seconds <= settings.micro_max_s,
        )
        events.append(surge)
        previous = end
    return tuple(events)


def telling(surges: Surges, most: int) -> list[Surge]:
    """The surges with the most work, or else the most seconds, above the ceiling, in time order."""
    ranked = sorted(surges.events, key=lambda event: (event.work_above_j or 0.0, event.seconds_above), reverse=True)
    return sorted(ranked[:most], key=lambda event: event.start_s)


def known(value: float) -> float | None:
    """The number, None where it is missing."""
    return float(value) if math.isfinite(value) else None


def length_histogram(seconds_above: IntArray) -> tuple[tuple[int | None, int], ...]:
    """Surges by seconds above: (upper edge in s, inclusive, or None; count) (METHOD 4)."""
    bins = np.searchsorted(np.array(LENGTH_EDGES_S[:-1]), seconds_above, side="left")
    counts = np.bincount(bins, minlength=len(LENGTH_EDGES_S))
    return tuple(zip(LENGTH_EDGES_S, counts.tolist(), strict=True))


def carry_over(load: FloatArray, ceiling: float, tau_s: float) -> FloatArray:
    """Carry-over [load x s, n]: x' = (load - ceiling)+ - x / tau, exact for a load constant within each second (METHOD 4).

    `load` [W or m/s, n] per second, NaN counts as below the ceiling; `tau_s` [s]. It decays through pauses and gaps.
    A relative index for comparing parts of a session, never a lactate forecast.
    """
    keep = math.exp(-1 / tau_s)
    inflow = np.maximum(np.nan_to_num(load - ceiling, nan=0.0), 0.0) * tau_s * (1 - keep)
    block = max(1, int(30 * tau_s))  # growth over a block stays under exp(30)
    growth = np.exp(np.arange(1, min(block, len(load)) + 1) / tau_s)
    out, last = np.empty(len(load)), 0.0
    for start in range(0, len(load), block):
        piece = inflow[start : start + block]
        grown = growth[: len(piece)]
        out[start : start + block] = (last + np.cumsum(piece * grown)) / grown
        last = float(out[start + len(piece) - 1])
    return out
