"""Where a surge came from, first cause that fits, and whether the hill forced it (METHOD 4.1 and 4.2)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.gears import Gearing
from steadyband.audit.model import CAUSES, Climb, Surge, Surges
from steadyband.ground.settings import Settings
from steadyband.recording.model import Rows

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Setting:
    """What the causes of surges are read from: rows, grade and distance [m, n], climbs, and the gears where they are known."""

    rows: Rows
    grade: FloatArray
    at_m: FloatArray  # distance from the session's start
    climbs: Sequence[Climb]
    on_foot: bool
    gears: Gearing | None
    settings: Settings


def with_causes(surges: Surges, surge_load: FloatArray, ceiling: float, ground: Setting) -> Surges:
    """The surges with cause and grade of each, forced or avoidable where the gears are known, and the counts of both.

    `surge_load` [W or m/s, n] as they were found by, `ceiling` in the same unit.
    Source: METHOD 4.2.
    """
    events = tuple(_judged(event, surge_load, ceiling, ground) for event in surges.events)
    judged = [event.forced for event in events if event.forced is not None]
    return replace(
        surges,
        events=events,
        forced=sum(judged) if judged or (ground.gears and not events) else None,
        avoidable=len(judged) - sum(judged) if judged or (ground.gears and not events) else None,
        by_cause={cause: sum(event.cause == cause for event in events) for cause in CAUSES},
        seconds_by_cause={
            cause: sum(event.seconds_above for event in events if event.cause == cause) for cause in CAUSES
        },
    )


def _judged(event: Surge, surge_load: FloatArray, ceiling: float, ground: Setting) -> Surge:
    rows = slice(event.start_s, event.start_s + event.length_s)
    known = ground.grade[rows][~np.isnan(ground.grade[rows])]
    grade = float(known.mean()) if len(known) else None
    above = ground.grade[rows][surge_load[rows] >= ceiling]
    at_m = float(ground.at_m[event.start_s])
    return replace(
        event,
        grade=grade,
        cause=cause_of(event.start_s, grade, ground),
        forced=_forced(above, ceiling, ground),
        at_m=at_m if np.isfinite(at_m) else None,
    )


def _forced(above: FloatArray, ceiling: float, ground: Setting) -> bool | None:
    """True where the hill asked for the ceiling or more in half of the seconds above it; `above` are their grades."""
    known = above[~np.isnan(above)]
    if ground.gears is None or not len(known):
        return None
    share = np.count_nonzero(ground.gears.needed(known) >= ceiling) / len(known)
    return bool(share >= ground.settings.surges.forced_share)


def cause_of(start: int, grade: float | None, ground: Setting) -> str:
    """The cause of a surge that begins at row `start` with this mean grade: the first that fits (METHOD 4.1)."""
    if _restarted(start, ground):
        return "restart"
    near = _by_climb(start, ground)
    if near is not None:
        return near
    if grade is None:
        return "unknown"
    terrain = ground.settings.terrain
    if grade >= terrain.rise_grade:
        return "rise"
    return "descent" if grade <= terrain.descent_grade else "flat"


def _restarted(start: int, ground: Setting) -> bool:
    """A pause or a speed under the limit in the seconds before; on foot a stand, for a walk is no stop."""
    before = slice(max(start - ground.settings.surges.restart_s, 0), start)
    slow = ground.settings.grid.moving_mps if ground.on_foot else ground.settings.surges.restart_mps
    speed = ground.rows.channels["speed_mps"][before]
    return bool(ground.rows.pause[before].any() or (speed[~np.isnan(speed)] < slow).any())


def _by_climb(start: int, ground: Setting) -> str | None:
    limits = ground.settings.surges
    if any(-limits.climb_before_s <= start - climb.start_s <= limits.climb_after_s for climb in ground.climbs):
        return "climb start"
    tops = [climb.start_s + climb.seconds for climb in ground.climbs]
    if any(abs(start - top) <= limits.crest_s for top in tops):
        return "crest"
    inside = any(climb.start_s <= start < climb.start_s + climb.seconds for climb in ground.climbs)
    return "on climb" if inside else None
