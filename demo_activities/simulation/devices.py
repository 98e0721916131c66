"""Device habits: a record every second, smart recording, timer stops, dropped sensors."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from simulation.track import Track

Value = TypeVar("Value", int, float)

SPIKE_W = 3120
"""A meter's nonsense value [W], well over what a reader may take for power."""


@dataclass(frozen=True, slots=True)
class Record:
    """One record: second since the start, and what the device wrote; None where it wrote nothing."""

    second: int
    distance_m: float
    speed_mps: float
    heart_rate_bpm: int | None
    cadence_rpm: int
    altitude_m: float | None = None
    lat_deg: float | None = None
    lon_deg: float | None = None
    power_w: int | None = None
    temperature_c: int | None = None


def every_second(track: Track) -> list[Record]:
    """A record for every second in which the timer ran."""
    return [_record(track, second) for second in range(len(track)) if track.running[second]]


def every_other(track: Track) -> list[Record]:
    """A record every other second, as some phones write them."""
    return every_second(track)[::2]


def smart(track: Track, seed: int) -> list[Record]:
    """Records only where something changed, or after 5 to 8 s; always the first, the last and next to a timer stop."""
    dice = random.Random(seed)
    kept: list[int] = []
    wait = 5
    for second in range(len(track)):
        if track.running[second] and (_edge(track, second) or _changed(track, kept[-1], second, wait)):
            kept.append(second)
            wait = dice.randint(5, 8)
    return [_record(track, second) for second in kept]


def _edge(track: Track, second: int) -> bool:
    last = len(track) - 1
    return second in (0, last) or not (track.running[second - 1] and track.running[second + 1])


def _changed(track: Track, before: int, second: int, wait: int) -> bool:
    power = bool(track.power_w) and abs(track.power_w[second] - track.power_w[before]) >= 9
    beats = abs(track.heart_rate_bpm[second] - track.heart_rate_bpm[before]) >= 2
    return power or beats or second - before >= wait


def _record(track: Track, second: int) -> Record:
    return Record(
        second=second,
        distance_m=track.distance_m[second],
        speed_mps=track.speed_mps[second],
        heart_rate_bpm=track.heart_rate_bpm[second],
        cadence_rpm=track.cadence_rpm[second],
        altitude_m=_of(track.altitude_m, second),
        lat_deg=_of(track.lat_deg, second),
        lon_deg=_of(track.lon_deg, second),
        power_w=_of(track.power_w, second),
        temperature_c=_of(track.temperature_c, second),
    )


def _of(values: Sequence[Value], second: int) -> Value | None:
    return values[second] if values else None


def drop_power(records: Sequence[Record], first: int, seconds: int) -> list[Record]:
    """The meter falls silent for some seconds."""
    silent = range(first, first + seconds)
    return [replace(item, power_w=None) if item.second in silent else item for item in records]


def drop_heart_rate(records: Sequence[Record], first: int, seconds: int) -> list[Record]:
    """The strap loses contact for some seconds."""
    silent = range(first, first + seconds)
    return [replace(item, heart_rate_bpm=None) if item.second in silent else item for item in records]


def spike(records: Sequence[Record], second: int) -> list[Record]:
    """The meter writes nonsense once."""
    return [replace(item, power_w=SPIKE_W) if item.second == second else item for item in records]
