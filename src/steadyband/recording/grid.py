"""From the records of a session to one-second rows (METHOD 2)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.errors import NoTimedTrackError, RecordingError
from steadyband.ground.settings import GridSettings
from steadyband.recording.limits import SPAN_MAX_S
from steadyband.recording.model import CHANNELS, BoolArray, FloatArray, Repair, Rows, SessionRecords
from steadyband.recording.timeline import own_records

ELAPSED_MAX_S = SPAN_MAX_S
"""Longest session laid out in seconds (design choice): a broken clock must not fill the memory."""

IndexArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Kept:
    """The records near the file's own start: row of each, in time order, and their channels."""

    start_s: int
    rows: int
    row: IndexArray
    keep: BoolArray


def to_rows(session: SessionRecords, settings: GridSettings = GridSettings()) -> Rows:
    """Lay the records of a session out in whole seconds (METHOD 2).

    Every second from the first to the last record is recorded, pause or gap; pause wins. A second without a record of
    its own takes the earlier one where two records are at most `hold_s` apart. Channels are NaN outside recorded
    seconds, in longer holes, before the first and after the last valid value. Power and heart rate out of range are
    missing, power below zero among them; a channel that is zero throughout is absent.

    Raises NoTimedTrackError where no record has a time, RecordingError where the session is longer than 14 days.
    """
    kept = _near_start(session, settings)
    own = np.zeros(kept.rows, dtype=bool)
    own[kept.row] = True
    pause = _pauses(session, kept)
    bridged = _held_positions(np.flatnonzero(own), kept.rows, settings.hold_s) >= 0
    recorded = bridged & ~pause
    channels, absent, repairs = _channels(session, kept, recorded, settings)
    stretch = _stretches(recorded, session.breaks, kept.start_s)
    return Rows(
        start_s=kept.start_s,
        channels=channels,
        absent=absent,
        recorded=recorded,
        pause=pause,
        gap=~bridged & ~pause,
        active=active_rows(channels, absent, stretch, settings),
        stretch=stretch,
        records=len(kept.row),
        dropped=session.dropped + len(session.time_s) - len(kept.row),
        held_s=int(np.count_nonzero(recorded & ~own)),
        repairs=repairs,
    )


def first_second(session: SessionRecords, settings: GridSettings = GridSettings()) -> int:
    """The Unix second that the rows of a session begin at; raises as `to_rows`."""
    return _near_start(session, settings).start_s


def _near_start(session: SessionRecords, settings: GridSettings) -> _Kept:
    time_s = session.time_s
    if not np.isfinite(time_s).any():
        raise NoTimedTrackError("expected records with a time, found none.", hint="Export the session again.")
    keep = own_records(time_s, session.origin_s, settings.max_day_shift_s)
    second = np.floor(time_s[keep])
    start, rows = int(second.min()), int(second.max() - second.min()) + 1
    if rows > ELAPSED_MAX_S:
        raise RecordingError(
            f"the records span {rows / 86400:.0f} days, more than the {ELAPSED_MAX_S // 86400} that one session may last.",
            hint="Split the recording, or check the device's clock.",
        )
    return _Kept(start, rows, (second - start).astype(np.int64), keep)


def _pauses(session: SessionRecords, kept: _Kept) -> BoolArray:
    pause = np.zeros(kept.rows, dtype=bool)
    for stop, start in session.pauses:
        first = max(0, math.floor(stop) + 1 - kept.start_s)
        last = min(kept.rows, math.ceil(start) - kept.start_s)
        pause[first : max(first, last)] = True
    return pause


def _held_positions(known: IndexArray, rows: int, hold_s: int) -> IndexArray:
    """For each row the known row whose value it takes, or -1: its own, or the earlier of two at most `hold_s` apart."""
    source = np.full(rows, -1, dtype=np.int64)
    if not len(known):
        return source
    source[known] = known
    latest = np.maximum.accumulate(source)
    distance = np.zeros(rows, dtype=np.int64)
    distance[known[:-1]] = np.diff(known)
    inside = (latest >= 0) & (np.arange(rows) < known[-1])
    held = inside & (distance[np.maximum(latest, 0)] <= hold_s)
    return np.where(held, latest, source)


def _channels(
    session: SessionRecords, kept: _Kept, recorded: BoolArray, settings: GridSettings
) -> tuple[dict[str, FloatArray], frozenset[str], tuple[Repair, ...]]:
    channels: dict[str, FloatArray] = {}
    absent: set[str] = set()
    repairs: list[Repair] = []
    for name in CHANNELS:
        values, outside = _in_range(name, _values(session, name, kept), settings)
        if outside:
            repairs.append(Repair("out of range", name, outside))
        if not np.any(values[np.isfinite(values)] != 0):
            channels[name] = np.full(kept.rows, np.nan)
            absent.add(name)
            continue
        channels[name], held = _spread(values, kept, recorded, settings.hold_s)
        if held:
            repairs.append(Repair("held", name, held))
    return channels, frozenset(absent), tuple(repairs)


def _values(session: SessionRecords, name: str, kept: _Kept) -> FloatArray:
    if name not in session.channels:
        return np.full(len(kept.row), np.nan)
    return session.channels[name][kept.keep]


def _in_range(name: str, values: FloatArray, settings: GridSettings) -> tuple[FloatArray, int]:
    low, high = {
        "power_w": (0.0, settings.power_max_w),
        "heart_rate_bpm": (settings.heart_rate_min_bpm, settings.heart_rate_max_bpm),
    }.get(name, (-math.inf, math.inf))
    zero_throughout = not np.any(values[np.isfinite(values)] != 0)
    outside = (values < low) | (values > high)
    if zero_throughout or not outside.any():
        return values, 0
    return np.where(outside, np.nan, values), int(np.count_nonzero(outside))


def _spread(values: FloatArray, kept: _Kept, recorded: BoolArray, hold_s: int) -> tuple[FloatArray, int]:
    valid = np.isfinite(values)
    laid = np.full(kept.rows, np.nan)
    laid[kept.row[valid]] = values[valid]
    own = np.isfinite(laid)
    source = _held_positions(np.flatnonzero(own), kept.rows, hold_s)
    taken = (source >= 0) & recorded
    spread = np.where(taken, laid[source], np.nan)
    return spread, int(np.count_nonzero(taken & ~own))


def active_rows(
    channels: Mapping[str, FloatArray], absent: frozenset[str], stretch: NDArray[np.int32], settings: GridSettings
) -> BoolArray:
    """Recorded seconds that move or carry power; all recorded ones where neither channel exists (METHOD 2).

    Between two active ones of a stretch, seconds of unknown speed are active as well: coasting where power is zero for at
    most `coast_s`, unmeasured where power is not known either.
    """
    recorded = stretch >= 0
    if {"speed_mps", "power_w"} <= absent:
        return recorded
    speed, power = channels["speed_mps"], channels["power_w"]
    active = recorded & ((speed >= settings.moving_mps) | (power > 0))
    unsure = recorded & ~active & np.isnan(speed)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], unsure, [False])).astype(np.int8)))
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        between = start > 0 and end < len(unsure) and active[start - 1] and active[end]
        if not between or stretch[start - 1] != stretch[end]:
            continue
        active[start:end] = end - start <= settings.coast_s or np.isnan(power[start:end]).all()
    return active


def _stretches(recorded: BoolArray, breaks: tuple[float, ...], start_s: int) -> NDArray[np.int32]:
    begins = recorded & ~np.concatenate(([False], recorded[:-1]))
    cut = np.zeros(len(recorded), dtype=bool)
    rows = [math.floor(at) - start_s for at in breaks]
    cut[[row for row in rows if 0 <= row < len(recorded)]] = True
    number = np.cumsum(begins | (cut & recorded)) - 1
    return np.where(recorded, number, -1).astype(np.int32)
