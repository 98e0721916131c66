"""A few numbers a minute of a session: enough to tell whether two files hold the same one, or one ride in two parts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.arrays import SmallArray
from steadyband.recording.model import FloatArray, SessionRecords
from steadyband.recording.timeline import own_records

MINUTE_S = 60
COUNTED = ("power_w", "heart_rate_bpm", "cadence_rpm", "speed_mps", "distance_m", "altitude_m", "lat_deg")

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Outline:
    """One session: span in Unix seconds, the channels it carries, where it begins and ends (degrees), and by minute of
    Unix time from `first_minute` on the last position, mean heart rate, power and speed; NaN where there is none."""

    format: str
    start_s: float
    end_s: float
    records: int
    channels: tuple[str, ...]
    starts_at: Place | None
    ends_at: Place | None
    first_minute: int
    lat_deg: SmallArray
    lon_deg: SmallArray
    heart_rate_bpm: SmallArray
    power_w: SmallArray
    speed_mps: SmallArray


def outline_of(session: SessionRecords, format: str) -> Outline:
    """The outline of a session as read; records too far from the file's own start are left out."""
    keep = own_records(session.time_s, session.origin_s)
    time_s = session.time_s[keep]
    minute = (time_s // MINUTE_S).astype(np.int64)
    first = int(minute[0])
    bins = minute - first
    count = int(bins[-1]) + 1
    lat, lon = (_channel(session, name, keep) for name in ("lat_deg", "lon_deg"))
    known = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    return Outline(
        format=format,
        start_s=float(time_s[0]),
        end_s=float(time_s[-1]),
        records=len(time_s),
        channels=tuple(name for name in COUNTED if _carried(session, name)),
        starts_at=(float(lat[known[0]]), float(lon[known[0]])) if len(known) else None,
        ends_at=(float(lat[known[-1]]), float(lon[known[-1]])) if len(known) else None,
        first_minute=first,
        lat_deg=_last(lat, bins, known, count),
        lon_deg=_last(lon, bins, known, count),
        heart_rate_bpm=_mean(_channel(session, "heart_rate_bpm", keep), bins, count),
        power_w=_mean(_channel(session, "power_w", keep), bins, count),
        speed_mps=_mean(_channel(session, "speed_mps", keep), bins, count),
    )


def _carried(session: SessionRecords, name: str) -> bool:
    values = session.channels.get(name)
    return values is not None and bool(np.any(values[np.isfinite(values)] != 0))


def _channel(session: SessionRecords, name: str, keep: NDArray[np.bool_]) -> FloatArray:
    values = session.channels.get(name)
    return values[keep] if values is not None else np.full(int(np.count_nonzero(keep)), np.nan)


def _last(values: FloatArray, bins: NDArray[np.int64], known: NDArray[np.intp], count: int) -> SmallArray:
    found = np.full(count, np.nan, np.float32)
    found[bins[known]] = values[known]
    return found


def _mean(values: FloatArray, bins: NDArray[np.int64], count: int) -> SmallArray:
    known = np.isfinite(values)
    sums = np.bincount(bins[known], values[known], count)
    counted = np.bincount(bins[known], minlength=count)
    means: FloatArray = np.divide(sums, counted, out=np.full(count, np.nan), where=counted > 0)
    return means.astype(np.float32)
