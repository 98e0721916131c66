"""Places, distances and speeds that nobody can have reached, taken out of the records before anything is made of them.

What counts as impossible goes by sport and stands in the settings (METHOD 2): faster than anyone goes, and for some
seconds faster or slower than the seconds around by more than legs or brakes can do. What is taken out is missing and
counted; what the reader worked out from positions is worked out again from those that are left.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.settings import CleaningSettings
from steadyband.recording.deriving import speed_to_next
from steadyband.recording.geo import apart_m
from steadyband.recording.model import BoolArray, FloatArray, Repair, SessionRecords

WHAT = "impossible"
JUMP = "jump"
FOOT = frozenset({"running", "walking", "hiking"})

JUMPS_MAX = 10_000
"""A track or counter that jumps more often than this is none at all (design choice; no real one comes near)."""

LOOK_BACK = 40
"""How many parts back a part may follow on from another (design choice)."""

TICK_S = 1.0
"""A step may have taken so much longer than its times say: many devices write whole seconds (design choice)."""

LEAST_S = 1.0
"""Changes of speed are judged over at least so long (design choice)."""

BACK_M = 10.0
"""A counter that falls by more was set anew (design choice: as for the ground)."""

CREEP_MPS = 0.5
"""Places that repeat while the way goes on slower than this are a stop, not a receiver that stood still (design choice)."""

IndexArray = NDArray[np.int64]
Metres = Callable[[IndexArray, IndexArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Limits:
    """What is possible in one sport: highest speed [m/s], highest change of speed [m/s²]."""

    mps: float
    mps2: float

    @classmethod
    def of(cls, sport: str, rules: CleaningSettings) -> Limits:
        """The limits of a sport; those of `other` hold for every other one, and for one that is not known."""
        if sport == "cycling":
            return cls(rules.fastest_cycling_mps, rules.sudden_cycling_mps2)
        if sport in FOOT:
            return cls(rules.fastest_foot_mps, rules.sudden_foot_mps2)
        return cls(rules.fastest_other_mps, np.inf)


@dataclass(frozen=True, slots=True)
class Believed:
    """Which of n points are believed, and which of those do not follow on from the believed one before."""

    kept: BoolArray
    cut: BoolArray


def with_sound_track(
    session: SessionRecords, sport: str, rules: CleaningSettings
) -> tuple[SessionRecords, tuple[Repair, ...]]:
    """The session without impossible positions, distances and speeds, and what was taken out, counted in records.

    Source: METHOD 2.
    """
    if not rules.impossible_track or len(session.time_s) < 2:
        return session, ()
    limits, channels, repairs = Limits.of(sport, rules), dict(session.channels), list[Repair]()
    if {"lat_deg", "lon_deg"} <= channels.keys():
        repairs += _positions(session, channels, limits, rules)
    if "distance_m" in channels and "distance_m" not in session.derived:
        repairs += _distance(session.time_s, channels, limits, rules)
    if "speed_mps" in channels and "speed_mps" not in session.derived:
        speed = sound_speed(session.time_s, channels["speed_mps"], limits, rules.sudden_s)
        repairs += _counted(WHAT, "speed_mps", np.count_nonzero(np.isfinite(channels["speed_mps"]) & np.isnan(speed)))
        channels["speed_mps"] = speed
    return (dataclasses.replace(session, channels=channels), tuple(repairs)) if repairs else (session, ())


def _counted(what: str, channel: str, count: int | np.intp) -> list[Repair]:
    return [Repair(what, channel, int(count))] if count else []


def _positions(
    session: SessionRecords, channels: dict[str, FloatArray], limits: Limits, rules: CleaningSettings
) -> list[Repair]:
    known = np.flatnonzero(np.isfinite(channels["lat_deg"]) & np.isfinite(channels["lon_deg"]))
    lat, lon, time_s = channels["lat_deg"][known], channels["lon_deg"][known], session.time_s[known]
    apart = _segment_starts(time_s, session.breaks)
    found = believed(
        time_s, lambda a, b: apart_m(lat[a], lon[a], lat[b], lon[b]), apart, limits, rules.sudden_s, rules.astray_s
    )
    jumps = found.cut & ~apart
    if found.kept.all() and not (jumps.any() and session.derived):
        return []
    for name in ("lat_deg", "lon_deg"):
        channels[name] = _without(channels[name], known[~found.kept])
    _work_out(session, channels, known[found.kept], found.cut[found.kept])
    removed = _counted(WHAT, "lat_deg", np.count_nonzero(~found.kept))
    return [*removed, *(_counted(JUMP, "lat_deg", np.count_nonzero(jumps)) if session.derived else [])]


def _work_out(session: SessionRecords, channels: dict[str, FloatArray], points: IndexArray, cut: BoolArray) -> None:
    """Distance and speed that the reader had worked out from positions, worked out again from the believed `points`."""
    lat, lon = channels["lat_deg"][points], channels["lon_deg"][points]
    way = np.where(cut[1:], np.nan, apart_m(lat[:-1], lon[:-1], lat[1:], lon[1:]))
    made = {
        "distance_m": np.concatenate(([0.0], np.cumsum(np.nan_to_num(way)))),
        "speed_mps": speed_to_next(way, np.diff(session.time_s[points])),
    }
    for name in session.derived:
        channels[name] = np.full(len(session.time_s), np.nan)
        channels[name][points] = made[name]


def _segment_starts(time_s: FloatArray, breaks: tuple[float, ...]) -> BoolArray:
    out = np.zeros(len(time_s), np.bool_)
    places = np.searchsorted(time_s, breaks)
    out[places[places < len(out)]] = True
    return out


def _distance(
    time_s: FloatArray, channels: dict[str, FloatArray], limits: Limits, rules: CleaningSettings
) -> list[Repair]:
    """The counter without values that lead nowhere; all that follows a jump is moved back by it."""
    known = np.flatnonzero(np.isfinite(channels["distance_m"]))
    metres = channels["distance_m"][known]

    def way(start: IndexArray, end: IndexArray) -> FloatArray:
        step = metres[end] - metres[start]
        return np.where(step < -BACK_M, np.inf, np.abs(step))

    found = believed(
        time_s[known], way, np.zeros(len(known), np.bool_), Limits(limits.mps, np.inf), 0.0, rules.sudden_s
    )
    kept = known[found.kept]
    step = np.diff(channels["distance_m"][kept], prepend=np.nan)
    jump = np.where(found.cut[found.kept] & (step > 0), step, 0.0)
    if found.kept.all() and not jump.any():
        return []
    channels["distance_m"] = _without(channels["distance_m"], known[~found.kept])
    channels["distance_m"][kept] -= np.cumsum(jump)
    removed = np.count_nonzero(~found.kept)
    return [*_counted(WHAT, "distance_m", removed), *_counted(JUMP, "distance_m", np.count_nonzero(jump))]


def _without(values: FloatArray, places: IndexArray) -> FloatArray:
    made = values.copy()
    made[places] = np.nan
    return made


def sound_speed(time_s: FloatArray, speed_mps: FloatArray, limits: Limits, longest_s: float) -> FloatArray:
    """Speed [m/s, n] with what is faster than `limits`, or suddenly other than before and after, made missing."""
    known = np.flatnonzero(np.isfinite(speed_mps))
    possible = known[(speed_mps[known] <= limits.mps) & (speed_mps[known] >= 0)]
    made = np.full(len(speed_mps), np.nan)
    made[possible] = speed_mps[possible]
    middle = time_s[possible]
    for sign in (1.0, -1.0):
        first, last = _sudden(middle, sign * speed_mps[possible], limits.mps2, longest_s)
        for start, end in zip(first.tolist(), last.tolist(), strict=True):
            made[possible[start : end + 1]] = np.nan
    return made


def _sudden(time_s: FloatArray, speed: FloatArray, mps2: float, longest_s: float) -> tuple[IndexArray, IndexArray]:
    """(first, last) places of peaks of at most `longest_s` that rise and fall faster than `mps2` allows."""
    most = mps2 * np.maximum(np.diff(time_s), LEAST_S)
    up, down = np.flatnonzero(np.diff(speed) > most) + 1, np.flatnonzero(-np.diff(speed) > most)
    at = np.searchsorted(down, up)
    up, at = up[at < len(down)], at[at < len(down)]
    end = down[at]
    brief = time_s[end] - time_s[up] < longest_s
    return up[brief], end[brief]


def believed(
    time_s: FloatArray, metres: Metres, apart: BoolArray, limits: Limits, sudden_s: float, astray_s: float
) -> Believed:
    """The points of a track, or values of a counter, that can follow one another.

    `time_s` [n] rising; `metres(a, b)` the way between points; `apart` [n] points that begin a segment of their own. The
    track is cut where a step is impossible. Of the parts, those that hold the most time are believed; a part that can
    only be reached by a jump has to last half of `astray_s` for each jump. Places that repeat up to a jump, which the
    time of their first one explains, are a receiver that stood still: they are not believed, and there is no jump.
    """
    count = len(time_s)
    if count < 2:
        return Believed(np.ones(count, np.bool_), apart)
    places = np.arange(count)
    way, seconds = metres(places[:-1], places[1:]), np.diff(time_s)
    cut = apart.copy()
    cut[1:] |= way > limits.mps * (seconds + TICK_S)
    if np.isfinite(limits.mps2):
        middle = (time_s[:-1] + time_s[1:]) / 2
        for edge in _sudden(middle, way / np.maximum(seconds, LEAST_S), limits.mps2, sudden_s):
            cut[edge + 1] = True
    if not (cut & ~apart).any():
        return Believed(np.ones(count, np.bool_), apart)
    first = np.flatnonzero(cut | (places == 0))
    if len(first) > JUMPS_MAX:
        return Believed(np.zeros(count, np.bool_), apart)
    fresh = np.maximum.accumulate(np.where(np.concatenate(([True], way > 0)) | cut, places, 0))
    parts = _Parts(time_s, first, np.append(first[1:], count) - 1, fresh, apart, metres)
    return _assembled(parts, _chain(parts, limits, astray_s / 2), count)


@dataclass(frozen=True, slots=True)
class _Parts:
    """Parts of a track between impossible steps: places of the first and last point of each, and for each point the
    first one of the same place."""

    time_s: FloatArray
    first: IndexArray
    last: IndexArray
    fresh: IndexArray
    apart: BoolArray
    metres: Metres


@dataclass(frozen=True, slots=True)
class _Link:
    """How a believed part follows on: from which part (-1 for none), by a jump, after places that only repeated."""

    part: int
    before: int
    jump: bool
    stale: bool


def _chain(parts: _Parts, limits: Limits, jump_s: float) -> list[_Link]:
    """The parts that are believed, in time order: those that hold the most time, each jump taken as `jump_s` less."""
    lasting = parts.time_s[parts.last] - parts.time_s[parts.first] + LEAST_S
    best = np.zeros(len(lasting))
    links: list[_Link] = []
    for part in range(len(lasting)):
        before = np.arange(max(0, part - LOOK_BACK), part)
        straight, stale = _reached(parts, before, part, limits)
        free = bool(parts.apart[parts.first[part]])
        worth = np.append(best[before] - np.where(straight | stale | free, 0.0, jump_s), 0.0)
        chosen = len(worth) - 1 - int(np.argmax(worth[::-1]))
        best[part] = lasting[part] + worth[chosen]
        if chosen == len(before):
            links.append(_Link(part, -1, True, False))
        else:
            links.append(_Link(part, int(before[chosen]), not (straight | stale)[chosen], bool(stale[chosen])))
    return _back(links, int(np.argmax(best)))


def _back(links: list[_Link], last: int) -> list[_Link]:
    chain = []
    while last >= 0:
        chain.append(links[last])
        last = links[last].before
    return chain[::-1]


def _reached(parts: _Parts, before: IndexArray, part: int, limits: Limits) -> tuple[BoolArray, BoolArray]:
    """Which parts `before` a part can follow: at a possible speed, or only if their last places merely repeated."""
    start, ends = parts.first[part], parts.last[before]
    way = parts.metres(ends, np.full(len(ends), start))
    straight = way <= limits.mps * (parts.time_s[start] - parts.time_s[ends] + TICK_S)
    straight &= (before < part - 1) | parts.apart[start]
    since = parts.time_s[start] - parts.time_s[parts.fresh[ends]]
    stale = (parts.fresh[ends] < ends) & (way <= limits.mps * since) & (way >= CREEP_MPS * since)
    return straight, stale & ~straight


def _assembled(parts: _Parts, chain: list[_Link], count: int) -> Believed:
    kept, cut = np.zeros(count, np.bool_), np.zeros(count, np.bool_)
    for link in chain:
        kept[parts.first[link.part] : parts.last[link.part] + 1] = True
        cut[parts.first[link.part]] = link.jump and link.before >= 0
        if link.stale:
            last = parts.last[link.before]
            kept[parts.fresh[last] + 1 : last + 1] = False
    return Believed(kept, cut | parts.apart)
