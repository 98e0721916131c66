"""The same hill again: climbs recognised across sessions by where they lie, without any map (METHOD 4.4)."""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from steadyband.audit.edges import edges_used
from steadyband.audit.measure import hill
from steadyband.audit.model import Audit, Climb
from steadyband.ground.settings import TerrainSettings
from steadyband.ground.units import EARTH_RADIUS_M, distance_text, height_text

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Effort:
    """One time up a climb: when it was begun, in which file, the climb as it was measured then, and the ceiling it was judged by."""

    start: datetime  # local
    file: str
    climb: Climb
    unit: str  # of its loads: W, m/s or bpm
    ceiling: float | None = None  # in that unit; None where it is open or there was no test

    @property
    def above(self) -> hill.Effort | None:
        """Work above the ceiling with its scatter; None where surges were not judged."""
        known = self.climb.above_s, self.climb.above_scatter_s
        return None if known[0] is None or known[1] is None else hill.Effort(known[0], known[1])


@dataclass(frozen=True, slots=True)
class RepeatClimb:
    """One climb ridden or run twice or more, its efforts in time order; numbered by how often, then by when first."""

    number: int
    sport: str
    length_m: float
    height_m: float
    mean_grade: float
    efforts: tuple[Effort, ...]

    @property
    def latest(self) -> Effort:
        """The last effort."""
        return self.efforts[-1]

    @property
    def before(self) -> tuple[Effort, ...]:
        """The efforts that the latest may be compared with: earlier ones, judged by the same ceiling; none where it was not judged."""
        if self.latest.above is None:
            return ()
        same = (effort for effort in self.efforts[:-1] if effort.above is not None)
        return tuple(one for one in same if (one.unit, one.ceiling) == (self.latest.unit, self.latest.ceiling))

    @property
    def smoothest(self) -> Effort:
        """The effort with the least work above the ceiling among those that may be compared; the latest of equal ones."""
        return min((self.latest, *reversed(self.before)), key=lambda effort: effort.climb.above_s or 0.0)

    @property
    def compared(self) -> hill.Compared | None:
        """The latest effort against those before; None where there is nothing to compare it with (METHOD 4.4)."""
        last, before = self.latest.above, [one.above for one in self.before if one.above is not None]
        return hill.compared(last, before) if last is not None and before else None

    @property
    def name(self) -> str:
        """ "1.3 km at 6.2 %"."""
        return f"{distance_text(self.length_m)} at {100 * self.mean_grade:.1f} %"


@dataclass(frozen=True, slots=True)
class Placed:
    """A climb with its ends on the Earth [m] and its direction [deg]."""

    effort: Effort
    sport: str
    foot: Point
    top: Point
    bearing: float


def repeat_climbs(audits: Iterable[Audit]) -> tuple[RepeatClimb, ...]:
    """Every climb that was ridden or run twice or more, most often first (METHOD 4.4).

    Climbs whose foot or top is not told (near the start or end of a track, or positions switched off) cannot be
    recognised and are left out. What counts as the same hill stands in the terrain settings of the first audit. Each climb is compared with the first effort of those near it.
    """
    known = list(audits)
    limits = known[0].settings.terrain if known else TerrainSettings()
    groups: list[list[Placed]] = []
    near: dict[tuple[str, int, int, int], list[int]] = {}
    for placed in sorted(_placed(known), key=lambda item: item.effort.start):
        number = next((one for one in _nearby(placed, near, limits) if is_same(groups[one][0], placed, limits)), None)
        if number is None:
            near.setdefault((placed.sport, *_cell(placed.foot, limits)), []).append(len(groups))
            groups.append([placed])
        else:
            groups[number].append(placed)
    again = sorted(
        (group for group in groups if len(group) > 1), key=lambda group: (-len(group), group[0].effort.start)
    )
    return tuple(_repeat(number, group) for number, group in enumerate(again, 1))


def _placed(audits: Iterable[Audit]) -> Iterable[Placed]:
    for audit in audits:
        for climb in audit.climbs:
            ends = (climb.start_lat, climb.start_lon, climb.end_lat, climb.end_lon)
            if any(value is None for value in ends):
                continue
            begun = datetime.fromtimestamp(audit.info.start.timestamp() + climb.start_s, audit.info.local_start.tzinfo)
            unit = audit.load.unit if audit.load else ""
            effort = Effort(begun, audit.info.file, climb, unit, _ceiling(audit))
            foot, top = (float(ends[0] or 0), float(ends[1] or 0)), (float(ends[2] or 0), float(ends[3] or 0))
            yield Placed(effort, audit.info.sport, _on_earth(*foot), _on_earth(*top), _bearing(foot, top))


def _ceiling(audit: Audit) -> float | None:
    if audit.load is None or audit.zones is None:
        return None
    ceiling = edges_used(audit.zones, audit.load.channel).ceiling
    return ceiling if math.isfinite(ceiling) else None


def _on_earth(lat: float, lon: float) -> Point:
    """A position as metres from the middle of a sphere, so that no pole or date line is a border."""
    phi, lam = math.radians(lat), math.radians(lon)
    radius = EARTH_RADIUS_M
    return radius * math.cos(phi) * math.cos(lam), radius * math.cos(phi) * math.sin(lam), radius * math.sin(phi)


def _bearing(foot: tuple[float, float], top: tuple[float, float]) -> float:
    """First bearing of the great circle from foot to top [deg]."""
    lat, to = math.radians(foot[0]), math.radians(top[0])
    turn = math.radians(top[1] - foot[1])
    east = math.sin(turn) * math.cos(to)
    return math.degrees(math.atan2(east, math.cos(lat) * math.sin(to) - math.sin(lat) * math.cos(to) * math.cos(turn)))


def _cell(point: Point, limits: TerrainSettings) -> tuple[int, int, int]:
    x, y, z = (math.floor(value / limits.same_ends_m) for value in point)
    return x, y, z


def _nearby(placed: Placed, near: dict[tuple[str, int, int, int], list[int]], limits: TerrainSettings) -> list[int]:
    """Groups whose first foot lies in the same cell of `same_ends_m` or one beside it, oldest first."""
    x, y, z = _cell(placed.foot, limits)
    steps = itertools.product((-1, 0, 1), repeat=3)
    found = [near.get((placed.sport, x + i, y + j, z + k), ()) for i, j, k in steps]
    return sorted(itertools.chain.from_iterable(found))


def is_same(one: Placed, other: Placed, limits: TerrainSettings) -> bool:
    """True where two climbs are the same hill, ridden the same way (METHOD 4.4): foot, top, direction and length are near.

    Lengths may also differ by what both ends may be out together: on a real ride with an altimeter of 2 m scatter, two
    of four hills would not know themselves otherwise.
    """
    lengths = one.effort.climb.length_m, other.effort.climb.length_m
    turned = abs((one.bearing - other.bearing + 180) % 360 - 180)
    return (
        math.dist(one.foot, other.foot) <= limits.same_ends_m
        and math.dist(one.top, other.top) <= limits.same_ends_m
        and turned <= limits.same_direction_deg
        and abs(lengths[0] - lengths[1]) <= max(limits.same_length * max(lengths), 2 * limits.same_ends_m)
    )


def _repeat(number: int, group: Sequence[Placed]) -> RepeatClimb:
    climbs = [placed.effort.climb for placed in group]
    return RepeatClimb(
        number=number,
        sport=group[0].sport,
        length_m=statistics.median(climb.length_m for climb in climbs),
        height_m=statistics.median(climb.height_m for climb in climbs),
        mean_grade=statistics.median(climb.mean_grade for climb in climbs),
        efforts=tuple(placed.effort for placed in group),
    )


def learnt_text(climb: RepeatClimb) -> str:
    """What the efforts on a climb say about riding it smoothly: the latest against the median before, beyond scatter only."""
    latest, before = climb.latest, climb.before
    if latest.above is None:
        return "The latest effort is not compared: its surges could not be judged."
    if not before:
        return "The latest effort is not compared: no earlier one was judged by the same ceiling."
    last, usual = latest.above.above_s, statistics.median(one.above.above_s for one in before if one.above is not None)
    if last == usual == 0:
        return "As before: nothing above the ceiling."
    surges = f"{latest.climb.surges} surge{'' if latest.climb.surges == 1 else 's'}"
    where = "above the ceiling" if latest.unit == "W" else "gained on the ceiling's pace"
    then = (
        f"{work_text(usual, latest)} {'the time before' if len(before) == 1 else f'(median of {len(before)} before)'}"
    )
    return f"{LEARNT[climb.compared or 'as_before']}: {work_text(last, latest)} {where} with {surges}, after {then}."


LEARNT: Mapping[hill.Compared, str] = {
    "smoother": "Smoother than before",
    "rougher": "Rougher than before",
    "as_before": "As before, as far as the scatter of the efforts lets one tell",
}


def work_text(above_s: float, effort: Effort) -> str:
    """Work above the ceiling of an effort, given in seconds' worth of it: kJ, or on foot the metres gained on its pace.

    >>> effort = Effort(datetime(2026, 5, 2), "ride.fit", Climb(0, 900, 50, 0.055, 2, 20), "W", ceiling=180.0)
    >>> work_text(12.0, effort)
    '2.2 kJ'
    """
    worth = above_s * (effort.ceiling or 0.0)
    return f"{worth / 1000:.1f} kJ" if effort.unit == "W" else height_text(worth)


def repeat_climbs_to_dict(found: Sequence[RepeatClimb]) -> dict[str, Any]:
    """The repeat climbs for programs: units in the names, loads in `unit`, no positions."""
    return {"schema": 1, "climbs": [_climb_dict(climb) for climb in found]}


def _climb_dict(climb: RepeatClimb) -> dict[str, Any]:
    return {
        "number": climb.number,
        "sport": climb.sport,
        "length_m": climb.length_m,
        "height_m": climb.height_m,
        "mean_grade": climb.mean_grade,
        "compared": climb.compared,
        "learnt": learnt_text(climb),
        "efforts": [_effort_dict(effort, climb) for effort in climb.efforts],
    }


def _effort_dict(effort: Effort, climb: RepeatClimb) -> dict[str, Any]:
    one = effort.climb
    return {
        "start": effort.start.isoformat(),
        "file": effort.file,
        "seconds": one.seconds,
        "mean_load": one.mean_load,
        "unit": effort.unit,
        "surges": one.surges,
        "forced": one.forced,
        "seconds_above": one.seconds_above,
        "above_s": one.above_s,
        "above_scatter_s": one.above_scatter_s,
        "ceiling": effort.ceiling,
        "walked_s": one.walked_s,
        "smoothest": effort is climb.smoothest,
        "latest": effort is climb.latest,
        "load_by_distance": list(one.parts),
    }
