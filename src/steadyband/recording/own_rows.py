"""A recording made from a table of one's own: columns of a frame or a mapping, without a file."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import numpy as np

from steadyband.ground.errors import UsageError
from steadyband.recording.limits import check_span
from steadyband.recording.model import CHANNELS, FloatArray, Recording, SessionRecords

CLOCKS = ("time_s", "elapsed_s")
"""Columns that may tell the time: Unix seconds, or seconds from the start."""


def recording_from(
    table: Mapping[str, Any] | Any, *, sport: str, start: datetime | None = None, name: str = "own rows"
) -> Recording:
    """A recording of one session out of a table: a mapping of columns, or a polars or pandas frame.

    Args: table, columns of equal length named as in `CHANNELS` (power_w, heart_rate_bpm, speed_mps, distance_m,
    altitude_m, lat_deg, lon_deg, cadence_rpm, temperature_c), missing values null or NaN; `time_s` [Unix s] or `elapsed_s` [s
    from the start] tells when, without either a row is a second. `start` is when it began, with its time zone; not needed
    with `time_s`. Columns of other names are left out.
    Raises UsageError where there is no column of a known name, columns differ in length, or nothing tells when it was.

    >>> from datetime import UTC
    >>> ride = recording_from({"power_w": [150.0] * 600}, sport="cycling", start=datetime(2026, 5, 16, 8, tzinfo=UTC))
    >>> ride
    Recording(own rows: cycling 600 records)
    """
    columns = {str(key): _values(table[key], str(key)) for key in _names(table) if str(key) in (*CHANNELS, *CLOCKS)}
    channels = {key: values for key, values in columns.items() if key in CHANNELS}
    if not channels:
        raise UsageError(
            f"expected a table with columns such as {', '.join(CHANNELS[:4])}; found {', '.join(map(str, _names(table))) or 'none'}.",
            hint="Rename your columns; loads are in W, speeds in m/s, heights in m.",
        )
    lengths = {key: len(values) for key, values in columns.items()}
    if len(set(lengths.values())) > 1:
        raise UsageError(f"expected columns of equal length, found {lengths}.", hint="Fill what is missing with null.")
    time_s = _time(columns, start, len(next(iter(channels.values()))))
    order = np.argsort(time_s, kind="stable")
    check_span([float(np.ptp(time_s)) if len(time_s) else 0.0])
    session = SessionRecords(
        sport=sport, sub_sport=None, name=None, time_s=time_s[order],
        channels={key: values[order] for key, values in channels.items()},
    )  # fmt: skip
    made = hashlib.sha256(sport.encode() + time_s.tobytes())
    for key in sorted(channels):
        made.update(key.encode() + channels[key].tobytes())
    return Recording(file=name, sha256=made.hexdigest(), format="rows", sessions=(session,))


def _names(table: Any) -> Iterable[Any]:
    return list(table.columns if hasattr(table, "columns") else table)


def _values(column: Any, name: str) -> FloatArray:
    try:
        return np.array([np.nan if item is None else item for item in column], dtype=np.float64)
    except (TypeError, ValueError) as fault:
        raise UsageError(f"column {name}: expected numbers, found something else ({fault}).") from fault


def _time(columns: Mapping[str, FloatArray], start: datetime | None, count: int) -> FloatArray:
    """Unix seconds [n] of the rows."""
    if count == 0:
        raise UsageError("expected a table with rows, found none.")
    time_s = columns.get("time_s")
    if time_s is None:
        if start is None or start.tzinfo is None:
            raise UsageError(
                "expected the column time_s or a start with its time zone, found neither.",
                hint="Give start=datetime(2026, 5, 16, 8, tzinfo=UTC).",
            )
        time_s = start.timestamp() + columns.get("elapsed_s", np.arange(count, dtype=np.float64))
    if not np.isfinite(time_s).all():
        raise UsageError("expected a time in every row, found rows without one.", hint="Drop those rows.")
    return np.asarray(time_s, dtype=np.float64)
