"""Speed without distance and the other way round: the missing one is worked out from the records (METHOD 2)."""

from __future__ import annotations

import dataclasses

import numpy as np

from steadyband.ground.settings import CleaningSettings
from steadyband.recording.model import FloatArray, Repair, SessionRecords

WHAT = "worked out"

MOMENT_S = 0.1
"""Points closer in time than this are one moment: no speed is worked out between them (design choice)."""


def with_derived(
    session: SessionRecords, rules: CleaningSettings, hold_s: int
) -> tuple[SessionRecords, tuple[Repair, ...]]:
    """The session with speed from distance or distance from speed where one is absent, and what was worked out.

    Source: METHOD 2.
    """
    has_speed, has_distance = (_carries(session, name) for name in ("speed_mps", "distance_m"))
    if not rules.derive_missing or has_speed == has_distance or len(session.time_s) < 2:
        return session, ()
    name = "distance_m" if has_speed else "speed_mps"
    source = session.channels["speed_mps" if has_speed else "distance_m"]
    made = (distance_from_speed if has_speed else speed_from_distance)(session.time_s, source, hold_s)
    if not np.any(made[np.isfinite(made)] != 0):
        return session, ()
    completed = dataclasses.replace(session, channels={**session.channels, name: made})
    return completed, (Repair(WHAT, name, int(np.count_nonzero(np.isfinite(made)))),)


def _carries(session: SessionRecords, name: str) -> bool:
    values = session.channels.get(name)
    return values is not None and bool(np.any(values[np.isfinite(values)] != 0))


def speed_from_distance(time_s: FloatArray, distance_m: FloatArray, hold_s: int) -> FloatArray:
    """Speed from each record to the next that has a distance [m/s]; missing over a fall of the counter or a long hole."""
    known = np.flatnonzero(np.isfinite(distance_m) & np.isfinite(time_s))
    way, seconds = np.diff(distance_m[known]), np.diff(time_s[known])
    sound = (seconds > 0) & (seconds <= hold_s) & (way >= 0)
    speed = np.full(len(time_s), np.nan)
    speed[known[:-1]] = np.divide(way, seconds, out=np.full(len(way), np.nan), where=sound)
    if len(known) > 1:
        speed[known[-1]] = speed[known[-2]]
    return speed


def speed_to_next(way_m: FloatArray, seconds: FloatArray) -> FloatArray:
    """Speed [m/s, n] from each point to the next, which a held second then carries; the ways [m, n-1] may be missing.

    The last point before a missing way, and the last of all, keep the speed before it.
    """
    speed = np.divide(way_m, seconds, out=np.full(len(way_m), np.nan), where=seconds >= MOMENT_S)
    speed = np.append(speed, np.nan)
    ends = np.append(np.isnan(way_m), True)
    return np.where(ends, np.concatenate(([np.nan], speed[:-1])), speed)


def distance_from_speed(time_s: FloatArray, speed_mps: FloatArray, hold_s: int) -> FloatArray:
    """Distance covered up to each record [m]: each speed holds until the next record, but no longer than `hold_s`."""
    seconds = np.diff(time_s)
    held = np.where((seconds > 0) & (seconds <= hold_s), seconds, 0.0)
    way = np.where(np.isfinite(speed_mps[:-1]), speed_mps[:-1], 0.0) * np.nan_to_num(held)
    return np.concatenate(([0.0], np.cumsum(way)))
