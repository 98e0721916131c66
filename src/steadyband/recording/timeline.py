"""Which time a file starts at, and records in time order."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from steadyband.recording.model import BoolArray, FloatArray

DAY_S = 86400.0


def own_start(candidates: Iterable[float], time_s: FloatArray, within_s: float = DAY_S) -> float:
    """The file's own start: the first candidate that at least half of the records lie within `within_s` of.

    `candidates` [s] Unix seconds in order of trust, NaN where the file does not tell; `time_s` [n] Unix seconds, in
    any order, at least one finite. The median of the records is tried last, so one record with a broken clock, or a
    header with one, does not decide. Where nothing reaches half, the candidate nearest to most records.
    """
    known = time_s[np.isfinite(time_s)]
    tried = [c for c in (*candidates, float(np.median(known))) if np.isfinite(c)]
    near = [int(np.count_nonzero(np.abs(known - c) <= within_s)) for c in tried]
    enough = [c for c, count in zip(tried, near, strict=True) if 2 * count >= len(known)]
    return enough[0] if enough else tried[int(np.argmax(near))]


def own_records(time_s: FloatArray, origin_s: float, within_s: float = DAY_S) -> BoolArray:
    """Which records [n] are a file's own, and not the fault of a clock: those that no break of more than `within_s` parts.

    `time_s` [n] Unix seconds in any order, at least one finite; of the parts between such breaks the one of the file's own
    start (`own_start` of `origin_s` and the first record) is taken. However long a recording is, it loses nothing.
    """
    known = np.flatnonzero(np.isfinite(time_s))
    order = known[np.argsort(time_s[known], kind="stable")]
    times = time_s[order]
    borders = np.flatnonzero(np.diff(times) > within_s) + 1
    own = np.zeros(len(time_s), np.bool_)
    if not len(borders):
        own[known] = True
        return own
    start = own_start((origin_s, float(time_s[known[0]])), times, within_s)
    lows, highs = np.append(0, borders), np.append(borders, len(times))
    away = np.maximum(times[lows] - start, start - times[highs - 1])
    part = int(np.argmin(np.maximum(away, 0.0)))
    own[order[lows[part] : highs[part]]] = True
    return own


def time_order(time_s: FloatArray) -> tuple[NDArray[np.intp], int]:
    """(stable order of the records by time, how many stood before an earlier one)."""
    backwards = int(np.count_nonzero(np.diff(time_s) < 0))
    return np.argsort(time_s, kind="stable"), backwards
