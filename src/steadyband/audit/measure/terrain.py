"""The ground under a session: courses, height along them, and grade (METHOD 4.1)."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.means import runs
from steadyband.ground.settings import TerrainSettings
from steadyband.recording.model import Rows

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELL_M = 1.0
"""Spacing of the distance grid on which altitude is smoothed [m] (design choice: far below the 30-m windows)."""

JUMP_M = 1000.0
"""A distance that jumps further than this within one row starts a new course (design choice: ten held seconds of riding
stay well below it)."""

BACK_M = 10.0
"""So does a distance that falls back by more than this (design choice: a restarted counter, not a wobble)."""

LEAP_M = 10.0
STEEPEST = 0.6
"""An altitude that leaps by more than both 10 m and this fraction of the distance covered was set anew: the leap is taken
out (design choice: steeper than any road or path)."""

JOINT_M = 1.0
JOINT_STEEPEST = 0.25
"""Across a pause a change of altitude is ground where it is no steeper than 25 %, across a gap or a hole no steeper than
60 %, with a metre allowed for the altimeter's steps; else it drifted or was set anew (design choice)."""

STANDING_M = 0.3
STANDING_S = 20
DRIFT_M = 1.0
"""Rows on end that cover less than 0.3 m each for 20 s are a stop (longer than any held record); what the altimeter drifts
meanwhile, where it is more than 1 m, is no hill (design choice)."""

AROUND = 10
"""Rows each side of a leap whose slope is carried across it (design choice)."""

FASTEST_MPS = 100.0
"""A course covered faster than this on average is none over ground: its grade is unknown (design choice)."""


@dataclass(frozen=True, slots=True)
class Course:
    """A part of a session over which distance runs on, with leaps and drift of the altimeter taken out.

    `rows` [k] are the rows with altitude and distance, `along` [k] their distance from the course's start, `taken` [k] what was
    taken out of the altimeter so far, up or down, and `stood` [k] the part of it that it drifted at stops [m]; `from_m` is the distance from the session's start to the course's. `raw`, `height` and `slope` [cells] stand on a grid of
    `CELL_M`: height as recorded and smoothed [m], grade as a fraction.
    """

    rows: IntArray
    along: FloatArray
    taken: FloatArray
    stood: FloatArray
    from_m: float
    raw: FloatArray
    height: FloatArray
    slope: FloatArray

    @property
    def length_m(self) -> float:
        """Length of the course [m]."""
        return CELL_M * (len(self.height) - 1)

    def row_at(self, metre: float) -> int:
        """First row at or past a distance along the course [m]."""
        place = int(np.searchsorted(self.along, metre, side="left"))
        return int(self.rows[min(place, len(self.rows) - 1)])


def grade(rows: Rows, settings: TerrainSettings) -> FloatArray:
    """Grade of the ground per row as a fraction [n], NaN where it is unknown; see `courses` and `grade_along`."""
    return grade_along(len(rows), courses(rows, settings))


def grade_along(length: int, found: tuple[Course, ...]) -> FloatArray:
    """Grade per row [length] of the courses of a session, NaN in rows without altitude or distance.

    Source: METHOD 4.1, SOURCES S10.
    """
    out = np.full(length, np.nan)
    for course in found:
        out[course.rows] = np.interp(course.along, CELL_M * np.arange(len(course.slope)), course.slope)
    return out


def height_along(length: int, found: tuple[Course, ...]) -> FloatArray:
    """Smoothed height [m] per row [length], leaps and drift taken out; NaN in rows without altitude or distance."""
    out = np.full(length, np.nan)
    for course in found:
        out[course.rows] = np.interp(course.along, CELL_M * np.arange(len(course.height)), course.height)
    return out


def courses(rows: Rows, settings: TerrainSettings) -> tuple[Course, ...]:
    """The courses of a session, in time order; none without altitude or progress.

    Altitude [m] against distance [m], averaged where the distance stands still, laid on an even distance grid, smoothed
    over `smooth_m`, then the slope by least squares over `slope_half_m` each side, cut at the ends of a course. What the
    altimeter leaps or drifts at stops, pauses, gaps and in holes is taken out; a course shorter than `slope_half_m` or
    faster than anything over ground is left out.
    """
    distance = distance_along(rows)
    if distance is None or not rows.has("altitude_m"):
        return ()
    altitude = rows.channels["altitude_m"]
    known = np.flatnonzero(~np.isnan(altitude) & ~np.isnan(distance) & (rows.stretch >= 0))
    if not len(known):
        return ()
    step = np.diff(distance[known])
    borders = np.flatnonzero((step > JUMP_M) | (step < -BACK_M)) + 1
    begin = float(distance[known[0]])
    parts = [_course(part, distance, altitude, rows, settings) for part in np.split(known, borders)]
    return tuple(_from(course, float(distance[course.rows[0]]) - begin) for course in parts if course is not None)


def distance_along(rows: Rows) -> FloatArray | None:
    """Distance [m, n] as recorded, else speed summed up within each stretch; None where neither exists."""
    if rows.has("distance_m"):
        return rows.channels["distance_m"]
    if rows.has("speed_mps"):
        return np.cumsum(np.nan_to_num(rows.channels["speed_mps"]))
    return None


def _from(course: Course, metres: float) -> Course:
    return replace(course, from_m=metres)


def _course(
    part: IntArray, distance: FloatArray, altitude: FloatArray, rows: Rows, settings: TerrainSettings
) -> Course | None:
    progress = np.maximum.accumulate(distance[part]) - distance[part[0]]
    if not settings.slope_half_m <= progress[-1] <= FASTEST_MPS * (part[-1] - part[0] + 1):
        return None
    broken = (np.diff(part) > 1) | (np.diff(rows.stretch[part]) != 0)
    paused = np.diff(np.cumsum(rows.pause)[part]) > 0
    shift = false_change(progress, altitude[part], np.where(paused, JOINT_STEEPEST, np.where(broken, STEEPEST, np.inf)))
    level = altitude[part] - np.concatenate(([0.0], np.cumsum(shift)))
    places = np.flatnonzero(np.diff(progress, prepend=-1.0) > 0)
    heights = np.add.reduceat(level, places) / np.diff(np.append(places, len(progress)))
    taken, stood = (
        np.concatenate(([0.0], np.cumsum(np.abs(out)))) for out in (shift, np.where(_standing(progress), shift, 0.0))
    )
    return on_grid((part, progress, taken, stood), (progress[places], heights), settings)


def on_grid(
    rows: tuple[IntArray, FloatArray, FloatArray, FloatArray],
    points: tuple[FloatArray, FloatArray],
    settings: TerrainSettings,
) -> Course:
    """A course from heights [m] at rising distances [m], both [p]; `rows` is `rows` to `stood` of `Course`."""
    grid = CELL_M * np.arange(int(points[0][-1] / CELL_M) + 1)
    raw = np.interp(grid, *points)
    height = _smoothed(raw, round(settings.smooth_m / 2 / CELL_M))
    slope = _least_squares_slope(height, round(settings.slope_half_m / CELL_M))
    return Course(*rows, 0.0, raw, height, slope)


def resloped(course: Course, half_m: float) -> Course:
    """The course with its slope taken over `half_m` each side [m] (METHOD 4.1)."""
    return replace(course, slope=_least_squares_slope(course.height, round(half_m / CELL_M)))


def false_change(progress: FloatArray, altitude: FloatArray, joint: FloatArray) -> FloatArray:
    """What to take out of each change of altitude [m, n]: leaps, and drift at stops, pauses and holes.

    `joint` [n] is the steepest grade believed across a pause, gap or hole, inf where the rows follow each other. The slope
    around is carried across what is taken out.
    """
    step, rise = np.diff(progress), np.diff(altitude)
    leap = np.maximum(LEAP_M, STEEPEST * step)
    believed = np.where(np.isinf(joint), leap, JOINT_M + np.where(np.isinf(joint), 0.0, joint) * step)
    false = np.abs(rise) > believed
    for start, end in zip(*runs(_standing(progress)), strict=True):
        if abs(altitude[end] - altitude[start]) > DRIFT_M:
            false[start:end] = True
    return np.where(false, rise - step * _slope_around(step, rise, false), 0.0)


def _standing(progress: FloatArray) -> NDArray[np.bool_]:
    """Steps [n - 1] that belong to a stop."""
    slow = np.diff(progress) < STANDING_M
    out = np.zeros(len(slow), dtype=np.bool_)
    for start, end in zip(*runs(slow), strict=True):
        out[start:end] = end - start >= STANDING_S
    return out


def _slope_around(step: FloatArray, rise: FloatArray, false: NDArray[np.bool_]) -> FloatArray:
    """Slope [m/m] of the true steps around each false one [n]; 0 elsewhere and where nothing moved."""
    out = np.zeros(len(step))
    for place in np.flatnonzero(false & (step > 0)):
        near = slice(max(place - AROUND, 0), place + AROUND + 1)
        metres = float(step[near][~false[near]].sum())
        out[place] = float(rise[near][~false[near]].sum()) / metres if metres > 0 else 0.0
    return out


def _smoothed(height: FloatArray, half: int) -> FloatArray:
    """Centred mean over `half` cells each side; near the ends the window shrinks on both sides, so a ramp stays one."""
    cell = np.arange(len(height))
    reach = np.minimum(half, np.minimum(cell, len(height) - 1 - cell))
    totals = np.concatenate(([0.0], np.cumsum(height)))
    means: FloatArray = (totals[cell + reach + 1] - totals[cell - reach]) / (2 * reach + 1)
    return means


def _least_squares_slope(height: FloatArray, half: int) -> FloatArray:
    """Slope [m/m] of the least-squares line through the cells within `half` each side, cut at the ends."""
    cell = np.arange(len(height), dtype=np.float64)
    centred = height - height.mean()
    totals = np.concatenate(([0.0], np.cumsum(centred)))
    moments = np.concatenate(([0.0], np.cumsum(cell * centred)))
    low = np.maximum(cell.astype(np.int64) - half, 0)
    high = np.minimum(cell.astype(np.int64) + half, len(height) - 1) + 1
    count = (high - low).astype(np.float64)
    middle = (low + high - 1) / 2
    spread = count * (count * count - 1) / 12  # sum of squared distances of `count` even cells from their middle
    product = (moments[high] - moments[low]) - middle * (totals[high] - totals[low])
    slope: FloatArray = product / np.maximum(spread, 1.0) / CELL_M
    return slope
