"""Climbs of a course: where they begin and end (METHOD 4.1)."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.terrain import CELL_M, Course
from steadyband.ground.settings import TerrainSettings

FloatArray = NDArray[np.float64]

COARSE = 5
"""Cells between the points that climbs are first looked for on: 5 m, far below the shortest climb."""

BEND_HALF_M = 100
BEND_WITHIN_M = 60
BEND_LEAST_M = 40
"""The foot and the top of a climb are where two straight lines fit the height within 100 m best, looked for within 60 m of the
first guess, where at least 40 m of course lie on both sides (design choice; tried on courses with altimeter steps)."""


HOLE_M = 100.0
"""Altitude known only this far apart or further is a hole (design choice)."""


@dataclass(frozen=True, slots=True)
class Rise:
    """A climb on a course, in metres along it, and its height [m]."""

    start_m: float
    end_m: float
    height_m: float

    @property
    def length_m(self) -> float:
        """Length along the course [m]."""
        return self.end_m - self.start_m

    @property
    def mean_grade(self) -> float:
        """Height over length."""
        return self.height_m / self.length_m


def find_climbs(course: Course, settings: TerrainSettings) -> tuple[Rise, ...]:
    """Climbs of a course in order (METHOD 4.1).

    A climb is `climb_length_m` long and `climb_height_m` high or more, at `climb_grade` mean or more; ends that rise less
    than `climb_foot_grade` do not belong to it. It is ended by a dip of `dip_height_m` and `dip_length_m`, or by
    `flat_length_m` of ground that rises less than its foot would.
    """
    height = course.height[::COARSE]
    found = sorted(_search(height, settings))
    rises, past = [], 0.0
    for start, end in found:
        low, high = (_bend(course.raw, place * COARSE) for place in (start, end))
        low = max(low, round(past / CELL_M))
        rise = Rise(low * CELL_M, high * CELL_M, float(course.height[high] - course.height[low]))
        if _is_climb(rise.length_m, rise.height_m, settings) and _trusted(course, rise):
            rises.append(rise)
            past = rise.end_m
    return tuple(rises)


def _trusted(course: Course, rise: Rise) -> bool:
    """True where no more than half of a climb lies in holes, and the altimeter drifted at stops by no more than half its height."""
    first, last = np.searchsorted(course.along, (rise.start_m, rise.end_m))
    inside = course.along[first:last]
    steps = np.diff(np.concatenate(([rise.start_m], inside, [rise.end_m])))
    drifted = course.stood[min(last, len(course.stood) - 1)] - course.stood[first]
    return bool(steps[steps > HOLE_M].sum() <= rise.length_m / 2 and drifted <= rise.height_m / 2)


def _search(height: FloatArray, settings: TerrainSettings) -> list[tuple[int, int]]:
    """(first, last) point of every climb; the ranges still to be searched wait on a list."""
    found: list[tuple[int, int]] = []
    waiting = [(0, len(height), settings.climb_foot_grade)]
    while waiting:
        first, end, foot = waiting.pop()
        if (end - first - 1) * COARSE * CELL_M < settings.climb_length_m:
            continue
        tilted = height[first:end] - foot * COARSE * CELL_M * np.arange(end - first)
        low, high = _best(tilted)
        whole = height[first + low : first + high + 1]
        if whole[-1] - whole[0] < settings.climb_height_m:
            continue
        split = _split(whole, tilted[low : high + 1], settings)
        if split is not None:
            one, two = first + low + split[0], first + low + split[1]
            waiting += [(first, one + 1, foot), (one, two + 1, foot), (two, end, foot)]
        elif _is_climb((high - low) * COARSE * CELL_M, float(whole[-1] - whole[0]), settings):
            found.append((first + low, first + high))
            waiting += [(first, first + low + 1, foot), (first + high, end, foot)]
        elif foot < settings.climb_grade:
            waiting += [(first, first + low + 1, foot), (first + high, end, foot)]
            waiting.append((first + low, first + high + 1, settings.climb_grade))
        else:
            waiting += [(first, first + low + 1, foot), (first + high, end, foot)]
    return found


def _best(tilted: FloatArray) -> tuple[int, int]:
    """Points between which the tilted height gains most."""
    gained = tilted - np.minimum.accumulate(tilted)
    high = int(np.argmax(gained))
    return int(np.argmin(tilted[: high + 1])), high


def _split(height: FloatArray, tilted: FloatArray, settings: TerrainSettings) -> tuple[int, int] | None:
    """The dip or the long flat that ends a climb on its way, None where it is one climb."""
    fallen = np.maximum.accumulate(height) - height
    low = int(np.argmax(fallen))
    top = int(np.argmax(height[: low + 1]))
    if fallen[low] >= settings.dip_height_m and (low - top) * COARSE * CELL_M >= settings.dip_length_m:
        return top, low
    highest = np.maximum.accumulate(tilted)
    fresh = np.flatnonzero(tilted >= highest)
    waits = np.diff(fresh)
    if len(waits) and waits.max() * COARSE * CELL_M > settings.flat_length_m:
        longest = int(np.argmax(waits))
        flat = slice(int(fresh[longest]), int(fresh[longest + 1]) + 1)
        return flat.start, flat.start + max(int(np.argmin(tilted[flat])), 1)
    return None


def _is_climb(length_m: float, height_m: float, settings: TerrainSettings) -> bool:
    long, high = length_m >= settings.climb_length_m, height_m >= settings.climb_height_m
    return long and high and height_m >= settings.climb_grade * length_m


def _bend(raw: FloatArray, cell: int) -> int:
    """The cell near `cell` where the height bends: the best of all fits by two lines that meet."""
    half = min(BEND_HALF_M, cell, len(raw) - 1 - cell)
    if half < BEND_LEAST_M:
        return cell
    corners = _corners(half)
    gain = np.square(corners @ raw[cell - half : cell + half + 1])
    return cell + int(np.argmax(gain)) - (len(corners) // 2)


@functools.lru_cache(maxsize=128)
def _corners(half: int) -> FloatArray:
    """For each place of the corner a unit vector [places, cells]: the corner less all that one line can fit."""
    cell = np.arange(-half, half + 1, dtype=np.float64)
    reach = min(BEND_WITHIN_M, half - BEND_LEAST_M // 2)
    places = np.arange(-reach, reach + 1)
    line = np.linalg.qr(np.stack([np.ones(len(cell)), cell], axis=1))[0]
    corner = np.maximum(cell[None, :] - places[:, None], 0.0)
    rest = corner - (corner @ line) @ line.T
    return np.asarray(rest / np.linalg.norm(rest, axis=1, keepdims=True), dtype=np.float64)
