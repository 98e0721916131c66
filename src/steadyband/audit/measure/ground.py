"""The ground of one session put together: its climbs with what was done on them, and what can be held on a hill."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.climbs import Rise, find_climbs
from steadyband.audit.measure.drift import ride_scatter
from steadyband.audit.measure.feet import run_up_to, walk_up_to
from steadyband.audit.measure.gears import Gearing, gearing, missing_for_gears
from steadyband.audit.measure.hill import DAY_TO_DAY, effort_above
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.measure.means import runs
from steadyband.audit.measure.terrain import CELL_M, Course
from steadyband.audit.model import Climb, Ground, SessionInfo, Surges
from steadyband.ground.said import Said
from steadyband.ground.settings import TerrainSettings

FloatArray = NDArray[np.float64]

PARTS = 40
"""Even parts of a climb's length whose mean load is kept for overlaying efforts (design choice)."""

NO_ALTITUDE = Said("no_altitude")
LEAPS_NAMED = 3
"""Leaps of the altimeter that are named; more are counted (design choice)."""


def bare_climbs(courses: Sequence[Course], settings: TerrainSettings) -> tuple[Climb, ...]:
    """The climbs of a session, in time order, with place, time and grade alone."""
    return tuple(_bare(course, rise, settings) for course in courses for rise in find_climbs(course, settings))


def _bare(course: Course, rise: Rise, settings: TerrainSettings) -> Climb:
    first, last = course.row_at(rise.start_m), course.row_at(rise.end_m)
    return Climb(
        start_m=course.from_m + rise.start_m,
        length_m=rise.length_m,
        height_m=rise.height_m,
        mean_grade=rise.mean_grade,
        surges=0,
        seconds_above=0,
        start_s=first,
        seconds=last - first,
        steepest=steepest_of(course, rise, settings.steepest_m),
    )


def steepest_of(course: Course, rise: Rise, over_m: float) -> float:
    """Grade of the steepest `over_m` of a climb."""
    height = course.height[round(rise.start_m / CELL_M) : round(rise.end_m / CELL_M) + 1]
    cells = min(round(over_m / CELL_M), len(height) - 1)
    return float(np.max(height[cells:] - height[:-cells])) / (cells * CELL_M)


def placed(climbs: Sequence[Climb], lat: FloatArray, lon: FloatArray) -> tuple[Climb, ...]:
    """The climbs with the positions [deg, n] of foot and top, None where a position is missing or left out."""
    return tuple(
        replace(
            climb,
            start_lat=_known(lat[climb.start_s]),
            start_lon=_known(lon[climb.start_s]),
            end_lat=_known(lat[climb.start_s + climb.seconds]),
            end_lon=_known(lon[climb.start_s + climb.seconds]),
        )
        for climb in climbs
    )


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def ridden(climbs: Sequence[Climb], arrays: SessionArrays, along: FloatArray | None) -> tuple[Climb, ...]:
    """The climbs with their load: its mean, over even parts of the length, and the seconds walked; `along` [m, n]."""
    return tuple(_ridden(climb, arrays, along) for climb in climbs)


def _ridden(climb: Climb, arrays: SessionArrays, along: FloatArray | None) -> Climb:
    rows = slice(climb.start_s, climb.start_s + climb.seconds)
    load, measured = arrays.load[rows], arrays.measured[rows]
    return replace(
        climb,
        mean_load=float(load[measured].mean()) if measured.any() else None,
        walked_s=int(np.count_nonzero(arrays.walked[rows] & arrays.active[rows])) if arrays.on_foot else None,
        parts=_parts(load, along[rows]) if along is not None else (),
    )


def _parts(load: FloatArray, along: FloatArray) -> tuple[float | None, ...]:
    """Mean load over even parts of the distance covered by rows [k]; None in a part without a value."""
    known = ~np.isnan(load) & ~np.isnan(along)
    if not known.any():
        return ()
    length = max(float(along[known].max() - along[known].min()), 1e-9)
    part = np.minimum((PARTS * (along[known] - along[known].min()) / length).astype(np.int64), PARTS - 1)
    counts = np.bincount(part, minlength=PARTS)
    sums = np.bincount(part, weights=load[known], minlength=PARTS)
    return tuple(float(total / count) if count else None for total, count in zip(sums, counts, strict=True))


def judged(
    climbs: Sequence[Climb],
    surges: Surges | None,
    arrays: SessionArrays,
    ceiling: float,
    gears: Gearing | None,
    load_error: float = 0.0,
) -> tuple[Climb, ...]:
    """The climbs with their surges, seconds and work above the ceiling, and the gear each would need.

    `load_error` is the share by which grade may leave the load of a climb wrong, on foot.
    """
    if surges is None:
        return tuple(climbs)
    climbs = worked(climbs, arrays, ceiling, load_error)
    above = arrays.surge_load >= ceiling
    return tuple(_geared(_counted(climb, surges, above), ceiling, gears) for climb in climbs)


def worked(climbs: Sequence[Climb], arrays: SessionArrays, ceiling: float, load_error: float) -> tuple[Climb, ...]:
    """The climbs with their work above the ceiling and its standard deviation by scatter, in seconds' worth of it (METHOD 4.4)."""
    if not climbs:
        return ()
    mean = arrays.surge_load
    scatter, apart = ride_scatter(arrays), math.hypot(DAY_TO_DAY, load_error)
    efforts = (effort_above(mean[one.start_s : one.start_s + one.seconds], ceiling, scatter, apart) for one in climbs)
    return tuple(
        replace(climb, above_s=effort.above_s, above_scatter_s=effort.scatter_s)
        for climb, effort in zip(climbs, efforts, strict=True)
    )


def _counted(climb: Climb, surges: Surges, above: NDArray[np.bool_]) -> Climb:
    end = climb.start_s + climb.seconds
    inside = [event for event in surges.events if climb.start_s <= event.start_s < end]
    known = [event.forced for event in inside if event.forced is not None]
    return replace(
        climb,
        surges=len(inside),
        seconds_above=int(np.count_nonzero(above[climb.start_s : end])),
        forced=sum(known) if known or surges.forced is not None else None,
    )


def _geared(climb: Climb, ceiling: float, gears: Gearing | None) -> Climb:
    if gears is None or climb.steepest is None:
        return climb
    if float(gears.needed(climb.steepest)) < ceiling:
        return replace(climb, too_steep=False)
    ratio = gears.ratio_for(climb.steepest, ceiling)
    if ratio is None:
        return replace(climb, too_steep=True)
    return replace(climb, gear_ratio=ratio, gear_cog=gears.cog_for(ratio), too_steep=False)


def hill_limits(
    info: SessionInfo, arrays: SessionArrays, ceiling: float, terrain: TerrainSettings, known: bool
) -> Ground:
    """What this athlete can hold inside the band on a hill (METHOD 4.2 and 5); `known`: the session has altitude."""
    notes = () if known else (NO_ALTITUDE,)
    if not np.isfinite(ceiling):
        return Ground(known, notes=notes)
    if arrays.channel == "flat_equivalent_speed":
        limits = run_up_to(ceiling, terrain), walk_up_to(ceiling, terrain)
        return Ground(known, run_up_to=limits[0], walk_up_to=limits[1], notes=notes)
    if arrays.channel != "power" or info.sport != "cycling":
        return Ground(known, notes=notes)
    gears = gearing(info.rider, terrain)
    if gears is not None:
        return Ground(known, gears.steepest(ceiling), gears.slowest_mps, notes=notes)
    return Ground(known, notes=(*notes, Said("gears_unknown", {"missing": missing_for_gears(info.rider)})))


def altimeter_notes(courses: Iterable[Course], untrusted_m: float) -> tuple[Said, ...]:
    """What the altimeter leapt or drifted, where it was much: such hills are not to be trusted."""
    leaps = [leap for course in courses for leap in _leaps(course, untrusted_m)]
    if not leaps:
        return ()
    return (Said("altimeter_leapt", {"leaps": leaps[:LEAPS_NAMED], "more": max(len(leaps) - LEAPS_NAMED, 0)}),)


def _leaps(course: Course, untrusted_m: float) -> Iterable[dict[str, float]]:
    """Leaps and drifts of a course of `untrusted_m` and more, each with its time."""
    steps = np.diff(course.taken)
    for start, end in zip(*runs(steps > 0), strict=True):
        metres = float(steps[start:end].sum())
        if metres >= untrusted_m:
            yield {"metres": metres, "at_s": int(course.rows[start + 1])}
