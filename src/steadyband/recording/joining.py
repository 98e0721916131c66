"""Two parts of one session put together at the level of records, before anything is laid out in seconds."""

from __future__ import annotations

import dataclasses

import numpy as np

from steadyband.recording.model import FloatArray, SessionRecords


def join_records(first: SessionRecords, second: SessionRecords) -> SessionRecords:
    """One session of two: the time between them is a pause, and the second's distance goes on from the first's."""
    names = sorted({*first.channels, *second.channels})
    channels = {name: np.concatenate([_column(part, name) for part in (first, second)]) for name in names}
    count = len(first.time_s)
    if "distance_m" in channels:
        channels["distance_m"][count:] += _carried_on(channels["distance_m"][:count], channels["distance_m"][count:])
    end, start = float(first.time_s[-1]), float(second.time_s[0])
    return dataclasses.replace(
        first,
        time_s=np.concatenate((first.time_s, second.time_s)),
        channels=channels,
        pauses=(*first.pauses, (end, start), *second.pauses),
        breaks=(*first.breaks, start, *second.breaks),
        laps=(*first.laps, *second.laps),
        dropped=first.dropped + second.dropped,
    )


def _column(part: SessionRecords, name: str) -> FloatArray:
    return part.channels[name].copy() if name in part.channels else np.full(len(part.time_s), np.nan)


def _carried_on(first: FloatArray, second: FloatArray) -> float:
    """What to add to the second distance: the first's last, unless the device counted on by itself."""
    ends, starts = first[np.isfinite(first)], second[np.isfinite(second)]
    if not len(ends) or not len(starts) or starts[0] >= ends[-1] > 0:
        return 0.0
    return float(ends[-1])
