"""Surges by dose: one definition of load above the ceiling for counts, work, ticks, ribbons and limits.

The load is taken as its mean over a second and the five on either side (11-s mean), so that one-second, smart and averaged
recordings are judged alike. A stretch is a run of that mean at or above the release. Its dose is the sum of what lies
above the ceiling, told in seconds' worth of the ceiling; from `DOSE_S` on the stretch is a surge. Pedalling scatters
around its mean far more from second to second than over ten seconds, so that it rarely gathers such a dose.

How to use it:

>>> import numpy as np
>>> load = np.full(600, 150.0)
>>> load[300:320] = 216.0
>>> stretch = np.zeros(600, np.int32)
>>> mean = surge_mean(load, stretch)
>>> found = surges_at(mean, stretch, ceiling=176.0, release=166.0)
>>> [(one.start, one.end, round(one.dose_s, 1), round(one.above)) for one in found]
[(297, 323, 3.6, 628)]
>>> counted = count_surges(mean, stretch, np.array([176.0, 200.0, 230.0]), np.array([166.0, 190.0, 215.0]))
>>> counted.tolist()
[1, 0, 0]
>>> seconds, above = above_ceilings(mean, np.array([176.0, 200.0, 230.0]))
>>> seconds.tolist(), above.round().tolist()
([22, 14, 0], [628.0, 188.0, 0.0])
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.means import centred_mean, runs
from steadyband.ground.settings import SurgeSettings

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
StretchArray = NDArray[np.int32]

WINDOW_S = SurgeSettings().window_s
"""Span of the mean [s], unless set otherwise (set by benchmarks/verdict_sessions.py)."""

BLOCK = 40
"""Pairs of ceiling and release read off the list of changes together (measured: fastest)."""

DOSE_S = SurgeSettings().dose_s
"""Least dose of a surge, unless set otherwise, in seconds' worth of the ceiling: 1.5 s are 264 J under a ceiling of 176 W."""


@dataclass(frozen=True, slots=True)
class DosedSurge:
    """One surge: rows `start` to `end` (exclusive), seconds at or above the ceiling, and its dose.

    `above` is the sum of what lies above the ceiling [load x s]: J for power, metres gained on the ceiling's pace for speeds;
    `dose_s` is the same in seconds' worth of the ceiling. `highest` and `mean` are of the 11-s mean [load].
    """

    start: int
    end: int
    seconds_above: int
    above: float
    dose_s: float
    mean: float
    highest: float


def surge_mean(load: FloatArray, stretch: StretchArray, window_s: int = WINDOW_S) -> FloatArray:
    """The centred mean of the load over `window_s` seconds [T], never across a gap or pause.

    Args: `load` [T] per second in W or m/s, NaN where unmeasured; `stretch` [T] numbers, -1 outside a stretch.
    Returns [T] in the unit of the load, NaN where the second itself is unmeasured.
    """
    return centred_mean(load, stretch, window_s)


def above_ceilings(mean: FloatArray, ceilings: FloatArray) -> tuple[IntArray, FloatArray]:
    """Seconds at or above each ceiling [N], and the sum of what lies above it [load x s, N].

    Args: `mean` [T] of `surge_mean`, NaN is never above; `ceilings` [N], inf for an open one (nothing is above it).
    """
    load = np.sort(mean[~np.isnan(mean)])
    first = np.searchsorted(load, ceilings, side="left")
    sums = np.concatenate((np.cumsum(load[::-1])[::-1], [0.0]))[first]
    seconds = len(load) - first
    level = np.where(np.isfinite(ceilings), ceilings, 0.0)
    return seconds.astype(np.int64), np.maximum(sums - seconds * level, 0.0)


def cumulative_above(mean: FloatArray, ceiling: float) -> FloatArray:
    """What has gathered above the ceiling up to and with each second [load x s, T]: kJ x 1000 for power.

    It stands still through gaps and pauses, and ends at `above_ceilings` of the same ceiling.
    """
    return np.cumsum(np.nan_to_num(np.maximum(mean - ceiling, 0.0), nan=0.0))


def surges_at(
    mean: FloatArray, stretch: StretchArray, ceiling: float, release: float, least_s: float = DOSE_S
) -> tuple[DosedSurge, ...]:
    """Every surge under one ceiling and release [load], in time order; none under an open ceiling (METHOD 4).

    `mean` [T] of `surge_mean`, `stretch` [T]; `least_s` is the least dose in seconds' worth of the ceiling.
    """
    if not np.isfinite(ceiling):
        return ()
    starts, ends = runs(mean >= min(release, ceiling), stretch)
    totals = np.concatenate(([0.0], cumulative_above(mean, ceiling)))
    counts = np.concatenate(([0], np.cumsum(mean >= ceiling)))
    held = totals[ends] - totals[starts] >= least_s * ceiling
    return tuple(
        DosedSurge(
            start=start,
            end=end,
            seconds_above=int(counts[end] - counts[start]),
            above=float(totals[end] - totals[start]),
            dose_s=float(totals[end] - totals[start]) / ceiling,
            mean=float(mean[start:end].mean()),
            highest=float(mean[start:end].max()),
        )
        for start, end in zip(starts[held].tolist(), ends[held].tolist(), strict=True)
    )


def count_surges(
    mean: FloatArray, stretch: StretchArray, ceilings: FloatArray, releases: FloatArray, least_s: float = DOSE_S
) -> IntArray:
    """How many surges there are under each ceiling and release [N]: `len(surges_at(...))` for all of them at once.

    Only seconds at or above the lowest ceiling can add to a dose. As the release falls, stretches merge, like islands as
    water falls; each island holds a surge for every ceiling up to a level of its own, since the dose shrinks and what is asked
    grows with the ceiling. So each merging tells for which ceilings the count changes, and all pairs are read off the list.
    """
    counts = np.zeros(len(ceilings), np.int64)
    closed = np.flatnonzero(np.isfinite(ceilings))
    if not len(closed):
        return counts
    ceiling, release = ceilings[closed], np.minimum(releases[closed], ceilings[closed])
    load, links = _linked(mean, stretch, float(ceiling.min()))
    if not len(load):
        return counts
    islands = _Islands(load, (float(ceiling.min()), float(ceiling.max())), least_s)
    leaves, changes = islands.merged(links, float(release.min()), float(release.max()))
    counts[closed] = _at_least(leaves, ceiling) + _changed(changes, ceiling, release)
    return counts


def _linked(mean: FloatArray, stretch: StretchArray, lowest: float) -> tuple[FloatArray, FloatArray]:
    """The seconds at or above `lowest` [m], and the lowest mean between neighbours [m - 1], -inf across a border."""
    load = np.where(np.isnan(mean), -np.inf, mean)
    rows = np.flatnonzero(load >= lowest)
    if len(rows) < 2:
        return load[rows], np.empty(0)
    between = np.minimum(load[1:], load[:-1])
    between[stretch[1:] != stretch[:-1]] = -np.inf
    return load[rows], np.minimum.reduceat(between[: rows[-1]], rows[:-1])


class _Islands:
    """The highest ceiling under which each run of linked seconds still is a surge, as runs merge."""

    def __init__(self, load: FloatArray, ceilings: tuple[float, float], least_s: float) -> None:
        self.load, self.least_s = load, least_s
        self.lowest, self.highest = ceilings
        self.low, self.high = (
            np.concatenate(([0.0], np.cumsum(np.maximum(load - level, 0.0)))).tolist() for level in ceilings
        )

    def level(self, start: int, end: int) -> float | None:
        """inf where even the highest ceiling leaves seconds `start` to `end` the dose, -inf where the lowest does not, else None."""
        if self.high[end] - self.high[start] >= self.least_s * self.highest:
            return np.inf
        return -np.inf if self.low[end] - self.low[start] < self.least_s * self.lowest else None

    def between(self, tops: FloatArray, known: float) -> tuple[float, FloatArray]:
        """Highest ceiling that leaves the seconds `tops` [k] the dose, and those of them above it.

        The dose at a ceiling c is the sum of (load - c) over the seconds above c, so it is reached up to the largest
        sum / (number + least) over the highest seconds: Dinkelbach's iteration climbs to it from any lower level `known`.
        Source: Dinkelbach W (1967) Management Science 13:492-498 (from memory).
        """
        level, before = max(known, self.lowest), -np.inf
        while level > before:
            tops, before = tops[tops > level], level
            level = max(float(np.add.reduce(tops)) / (len(tops) + self.least_s), level)
        return level, tops

    def merged(self, links: FloatArray, lowest: float, highest: float) -> tuple[FloatArray, FloatArray]:
        """Levels of the islands at the highest release [k], and what changes below it [3, e].

        A change is (release from which downward, ceiling up to which, +1 or -1). `tops` are the seconds of an island that can
        still matter: all of them until it holds a surge, then those above its level.
        """
        cuts = self._valleys(links, highest)
        starts, ends = [0, *(cuts + 1).tolist()], [*(cuts + 1).tolist(), len(self.load)]
        tops = [self.load[start:end] for start, end in zip(starts, ends, strict=True)]
        levels = []
        for number, (start, end) in enumerate(zip(starts, ends, strict=True)):
            level = self.level(start, end)
            if level is None:
                level, tops[number] = self.between(tops[number], -np.inf)
            levels.append(level)
        leaves, changes = np.array(levels), []
        left, right = list(range(len(starts))), list(range(len(starts)))  # first, last leaf, told at an island's ends
        at = links[cuts]
        order = np.argsort(-at, kind="stable")
        order = order[at[order] >= lowest]
        for cut, link in zip(order.tolist(), at[order].tolist(), strict=True):
            first, last = left[cut], right[cut + 1]
            lower, known = sorted((levels[first], levels[cut + 1]))
            start, end = starts[first], ends[last]
            level = known if known == np.inf else self.level(start, end)
            if level is None:
                both = self.load[start:end] if known == -np.inf else np.concatenate((tops[first], tops[cut + 1]))
                level, tops[first] = self.between(both, known)
            elif level == -np.inf:
                tops[first] = self.load[start:end]
            if lower > -np.inf:
                changes.append((link, lower, -1.0))
            if level > known:
                changes += [(link, level, 1.0), (link, known, -1.0)]
            levels[first], left[last], right[first] = level, first, last
        return leaves, np.array(changes).reshape(-1, 3).T

    def _valleys(self, links: FloatArray, highest: float) -> IntArray:
        """Where one island ends and the next begins: links under `highest` that are the bottom between two peaks.

        A second on a slope goes with its higher neighbour: wherever it lies above a ceiling, it also lies above the release.
        """
        downhill = links == self.load[1:]
        hidden = links < self.load[:-1]
        bottom = np.concatenate(([False], downhill[:-1]))
        return np.flatnonzero((links < highest) & ~downhill & (hidden | bottom))


def _at_least(levels: FloatArray, ceiling: FloatArray) -> IntArray:
    return (len(levels) - np.searchsorted(np.sort(levels), ceiling, side="left")).astype(np.int64)


def _changed(changes: FloatArray, ceiling: FloatArray, release: FloatArray) -> IntArray:
    """Sum of the changes that hold for each ceiling and release [N].

    The pairs are taken by falling release in blocks; changes that hold for a whole block wait, summed by ceiling.
    """
    link, level, sign = changes[:, np.argsort(-changes[0], kind="stable")]
    rank = np.searchsorted(np.sort(ceiling), level, side="right")  # how many ceilings a change reaches
    place = np.argsort(np.argsort(ceiling, kind="stable"), kind="stable")
    total, waiting, past = np.zeros(len(ceiling)), np.zeros(len(ceiling) + 1), 0
    for block in np.array_split(np.argsort(-release, kind="stable"), max(len(ceiling) // BLOCK, 1)):
        reach = int(np.searchsorted(-link, -release[block].max(), side="right"))
        waiting += np.bincount(rank[past:reach], sign[past:reach], len(waiting))
        past, rest = reach, slice(reach, int(np.searchsorted(-link, -release[block].min(), side="right")))
        whole = np.cumsum(waiting[::-1])[::-1][place[block] + 1]
        holds = (link[rest, None] >= release[block]) & (rank[rest, None] > place[block])
        total[block] = whole + sign[rest] @ holds
    return total.astype(np.int64)
