"""Before the ride or run: where the band can be held on a planned way, and where the hill will force it out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import LoadEdges
from steadyband.audit.measure.climbs import Rise, find_climbs
from steadyband.audit.measure.feet import run_up_to, walk_up_to
from steadyband.audit.measure.gears import Gearing, gearing, missing_for_gears
from steadyband.audit.measure.ground import steepest_of
from steadyband.audit.measure.means import runs
from steadyband.audit.measure.price import Pieces, piece_times
from steadyband.audit.measure.terrain import CELL_M, STEEPEST, Course, false_change, on_grid
from steadyband.audit.model import Rider
from steadyband.ground.settings import TerrainSettings
from steadyband.ground.slope import running_cost, walking_cost

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

PIECE_M = 20


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch on which the band cannot be held: from where, how long, its steepest grade, and the gear it needs."""

    start_m: float
    length_m: float
    steepest: float
    gear_ratio: float | None
    gear_cog: int | None
    too_steep: bool | None


@dataclass(frozen=True, slots=True)
class RouteClimb:
    """A climb on the way: seconds at the target top, stretches and metres on which the band cannot be held."""

    start_m: float
    length_m: float
    height_m: float
    mean_grade: float
    steepest: float
    seconds: float | None
    forced_m: float
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class Pace:
    """What one steady load gives on the whole way: load [W or m/s], seconds, mean speed [m/s]."""

    name: str
    load: float
    seconds: float
    speed_mps: float


@dataclass(frozen=True, slots=True)
class RoutePlan:
    """A planned way against the band. `inside` is the share of its length on which the band can be held; None where mass
    or gears are missing. `metres`, `height` [c] and `forced` [c] are for drawing; wind and stops are left out.
    """

    sport: str
    length_m: float
    climbing_m: float
    ceiling: float
    target_top: float
    middle: float
    inside: float | None
    limit: float | None  # steepest grade inside the band: by bike in the lowest gear, on foot running
    walk_up_to: float | None
    stretches: tuple[Stretch, ...]
    climbs: tuple[RouteClimb, ...]
    paces: tuple[Pace, ...]
    missing: tuple[str, ...]
    metres: FloatArray
    height: FloatArray
    forced: BoolArray
    steepest_over_m: float  # length over which the steepest part of a climb is told


def course_of(along: FloatArray, height: FloatArray, settings: TerrainSettings) -> Course:
    """A planned way as a course: heights [m] at distances [m], both [n]; leaps steeper than any path are taken out."""
    shift = false_change(along, height, np.full(len(along) - 1, STEEPEST))
    height = height - np.concatenate(([0.0], np.cumsum(shift)))
    places = np.flatnonzero(np.diff(along, prepend=-1.0) > 0)
    rows = np.arange(len(along), dtype=np.int64)
    still = np.zeros(len(along))
    return on_grid((rows, along, still, still), (along[places], height[places]), settings)


def plan_route(course: Course, edges: LoadEdges, sport: str, rider: Rider, settings: TerrainSettings) -> RoutePlan:
    """What the way asks for against the band of `edges` (W by bike, m/s flat-equivalent on foot) (METHOD 4.2)."""
    middle = 0.5 * (edges.floor + edges.target_top) if np.isfinite(edges.floor) else edges.target_top
    loads = (("target top", edges.target_top), ("middle of the band", middle))
    if sport == "cycling":
        gears = gearing(rider, settings)
        limit = gears.steepest(edges.ceiling) if gears else None
        times = [_ride(course, load, gears, settings.descent_mps) for _, load in loads] if gears else []
        missing = tuple(missing_for_gears(rider))
    else:
        gears, missing = None, ()
        limit = run_up_to(edges.ceiling, settings)
        times = [_run(course, load, limit, settings) for _, load in loads]
    forced = (
        np.zeros(len(course.slope), np.bool_) if limit is None and sport == "cycling" else course.slope > (limit or 0.0)
    )
    stretches = tuple(
        _geared(item, course, edges.ceiling, gears, settings) for item in _stretches(course, forced, settings)
    )
    return RoutePlan(
        sport=sport,
        length_m=course.length_m,
        climbing_m=float(np.maximum(np.diff(course.height), 0.0).sum()),
        ceiling=edges.ceiling,
        target_top=edges.target_top,
        middle=middle,
        inside=None if missing else 1 - sum(item.length_m for item in stretches) / course.length_m,
        limit=limit,
        walk_up_to=None if sport == "cycling" else walk_up_to(edges.ceiling, settings),
        stretches=stretches,
        climbs=tuple(_climbs(course, stretches, times[0] if times else None, settings)),
        paces=tuple(_pace(name, load, time, course) for (name, load), time in zip(loads, times, strict=False)),
        missing=missing,
        metres=np.asarray(CELL_M * np.arange(len(course.height)), dtype=np.float64),
        height=course.height,
        forced=_kept(forced, stretches),
        steepest_over_m=settings.steepest_m,
    )


def _pace(name: str, load: float, times: FloatArray, course: Course) -> Pace:
    seconds = float(times.sum())
    return Pace(name, load, seconds, course.length_m / seconds)


def _grades(course: Course) -> tuple[FloatArray, FloatArray]:
    """Length [m] and mean grade of pieces of `PIECE_M` along the course, the last one shorter."""
    borders = np.append(np.arange(0, len(course.height) - 1, PIECE_M), len(course.height) - 1)
    metres = np.diff(borders) * CELL_M
    return metres, np.diff(course.height[borders]) / metres


def _ride(course: Course, load: float, gears: Gearing, descent_mps: float) -> FloatArray:
    """Seconds for each piece at a steady load [W], or what the slowest sensible speed needs where that is more (S4)."""
    metres, grade = _grades(course)
    count = len(metres)
    power = np.maximum(load, gears.needed(grade))
    cap = np.full(count, descent_mps)
    standing = np.arange(count) == 0
    return piece_times(Pieces(metres, metres / 2.0, grade, power, cap, standing), gears.vehicle)


def _run(course: Course, load: float, limit: float | None, settings: TerrainSettings) -> FloatArray:
    """Seconds for each piece at a steady flat-equivalent speed [m/s], walking where running would leave the band (S5)."""
    metres, grade = _grades(course)
    running = np.minimum(load * running_cost(0.0) / running_cost(grade), settings.downhill_gain * load)
    walking = np.minimum(load * running_cost(0.0) / walking_cost(grade), settings.walk_most_mps)
    speed = np.where(grade > (limit or 0.0), walking, running)
    return np.asarray(metres / speed)


def _stretches(course: Course, forced: BoolArray, settings: TerrainSettings) -> list[Stretch]:
    """Forced stretches [cells] that are long enough to be told, without their gear."""
    return [
        Stretch(start * CELL_M, (end - start) * CELL_M, float(course.slope[start:end].max()), None, None, None)
        for start, end in zip(*(side.tolist() for side in runs(forced)), strict=True)
        if (end - start) * CELL_M >= settings.forced_least_m
    ]


def _geared(item: Stretch, course: Course, ceiling: float, gears: Gearing | None, settings: TerrainSettings) -> Stretch:
    """A stretch with its gear: that of the steepest part of its climb, as in the audit of a ride, where that is forced too."""
    if gears is None:
        return item
    over = [
        steepest_of(course, rise, settings.steepest_m) for rise in find_climbs(course, settings) if _meet(item, rise)
    ]
    limit = gears.steepest(ceiling)
    grade = next((grade for grade in over if limit is None or grade > limit), item.steepest)
    ratio = gears.ratio_for(grade, ceiling)
    return replace(item, gear_ratio=ratio, gear_cog=gears.cog_for(ratio) if ratio else None, too_steep=ratio is None)


def _meet(item: Stretch, rise: Rise) -> bool:
    return item.start_m < rise.end_m and item.start_m + item.length_m > rise.start_m


def _kept(forced: BoolArray, stretches: Sequence[Stretch]) -> BoolArray:
    out = np.zeros(len(forced), np.bool_)
    for item in stretches:
        out[round(item.start_m / CELL_M) : round((item.start_m + item.length_m) / CELL_M)] = True
    return out


def _climbs(
    course: Course, stretches: Sequence[Stretch], times: FloatArray | None, settings: TerrainSettings
) -> list[RouteClimb]:
    clock = np.concatenate(([0.0], np.cumsum(times))) if times is not None else None
    at = np.minimum(PIECE_M * CELL_M * np.arange(len(clock)), course.length_m) if clock is not None else None
    found = []
    for rise in find_climbs(course, settings):
        inside = tuple(item for item in stretches if _meet(item, rise))
        seconds = None
        if clock is not None and at is not None:
            seconds = float(np.interp(rise.end_m, at, clock) - np.interp(rise.start_m, at, clock))
        found.append(
            RouteClimb(
                start_m=rise.start_m,
                length_m=rise.length_m,
                height_m=rise.height_m,
                mean_grade=rise.mean_grade,
                steepest=steepest_of(course, rise, settings.steepest_m),
                seconds=seconds,
                forced_m=sum(item.length_m for item in inside),
                stretches=inside,
            )
        )
    return found


def plan_to_dict(plan: RoutePlan) -> dict[str, Any]:
    """A planned way for programs: units in the names, loads in W or m/s, no positions and nothing for drawing."""
    found = {key: value for key, value in asdict(plan).items() if key not in ("metres", "height", "forced")}
    return {"schema": 1, **found}
