"""What lies within sessions as polars frames: their seconds, surges and climbs; the same columns whatever a session carries."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyband.audit.model import RIBBON_NAMES, Audit, Climb, Surge
from steadyband.review.whole import audits
from steadyband.told.columns import Kind, frame_of

if TYPE_CHECKING:
    from polars import DataFrame

Source = Audit | Iterable[Audit] | str | Path
"""One audit, several, or an athlete folder with all its sessions."""

OF_SESSION: dict[str, Kind] = {"file": "text", "start": "time", "local_date": "date", "sport": "text"}
"""The columns that say which session a row belongs to."""
SECOND_COLUMNS: dict[str, Kind] = {
    **OF_SESSION,
    "elapsed_s": "whole",
    "band": "text",
    "load": "number",
    "band_load": "number",
    "heart_rate_bpm": "number",
    "distance_m": "number",
    "height_m": "number",
    "grade": "number",
    "lat_deg": "number",
    "lon_deg": "number",
}
SURGE_COLUMNS: dict[str, Kind] = {
    **OF_SESSION,
    "start_s": "whole",
    "length_s": "whole",
    "seconds_above": "whole",
    "mean": "number",
    "highest": "number",
    "dose_s": "number",
    "work_above_j": "number",
    "gap_before_s": "whole",
    "cause": "text",
    "forced": "truth",
    "micro": "truth",
    "grade": "number",
    "at_m": "number",
    "lat": "number",
    "lon": "number",
}
CLIMB_COLUMNS: dict[str, Kind] = {
    **OF_SESSION,
    "start_m": "number",
    "length_m": "number",
    "height_m": "number",
    "mean_grade": "number",
    "steepest": "number",
    "start_s": "whole",
    "seconds": "whole",
    "mean_load": "number",
    "surges": "whole",
    "seconds_above": "whole",
    "above_s": "number",
    "forced": "whole",
    "start_lat": "number",
    "start_lon": "number",
    "end_lat": "number",
    "end_lon": "number",
}


def seconds(source: Source) -> DataFrame:
    """The one-second rows of a session, or of several.

    `elapsed_s` counts from the session's start; `load` and `band_load` (its 31-s mean) are W, m/s or bpm; `height_m` is smoothed,
    `grade` a ratio; positions are left out within `privacy_m` of start and end. Null where nothing was measured.

    In the folder of the project:

    >>> from steadyband.athlete.auditing import audit
    >>> ride = audit("demo_activities/activities/2026-W20/2026-05-16-moor-tracks.fit")
    >>> seconds(ride).height == len(ride[0].traces.ribbon)
    True
    """
    import polars as pl

    parts = [_seconds_of(audit) for audit in audits_of(source)]
    empty = frame_of([], SECOND_COLUMNS)
    return pl.concat([empty, *parts]) if parts else empty


def surges(source: Source) -> DataFrame:
    """Every surge above the ceiling, one row each: when, how much above it, on what grade, where, and why (METHOD 4).

    In the folder of the project:

    >>> from steadyband.athlete.auditing import audit
    >>> ride = audit("demo_activities/activities/2026-W20/2026-05-16-moor-tracks.fit")
    >>> surges(ride).select("start_s", "cause").height
    29
    """
    return _rows_of(source, SURGE_COLUMNS, _surges_in)


def climbs(source: Source) -> DataFrame:
    """Every climb, one row each: where, how long and steep, with what load and how many surges (METHOD 4.1).

    >>> climbs([]).columns[:6]
    ['file', 'start', 'local_date', 'sport', 'start_m', 'length_m']
    """
    return _rows_of(source, CLIMB_COLUMNS, lambda audit: audit.climbs)


def _surges_in(audit: Audit) -> tuple[Surge, ...]:
    return audit.surges.events if audit.surges else ()


def _rows_of(
    source: Source, columns: Mapping[str, Kind], within: Callable[[Audit], Iterable[Surge | Climb]]
) -> DataFrame:
    own = [name for name in columns if name not in OF_SESSION]
    rows = [
        _session(audit) | {name: _known(getattr(item, name)) for name in own}
        for audit in audits_of(source)
        for item in within(audit)
    ]
    return frame_of(rows, columns)


def _known(value: Any) -> Any:
    return None if isinstance(value, float) and not np.isfinite(value) else value


def audits_of(source: Source) -> Iterable[Audit]:
    """The audits themselves; those of a folder one day after the other, so that no season of seconds is held at once.

    Raises UsageError where a folder has no athlete.toml, AthleteFileError and TestFileError where a file is faulty.
    """
    if isinstance(source, Audit):
        return (source,)
    return audits(source) if isinstance(source, str | Path) else source


def _session(audit: Audit) -> dict[str, Any]:
    info = audit.info
    return {"file": info.file, "start": info.start, "local_date": info.local_start.date(), "sport": info.sport}


def _seconds_of(audit: Audit) -> DataFrame:
    import polars as pl

    traces, count = audit.traces, len(audit.traces.ribbon)
    numbers = [name for name, kind in SECOND_COLUMNS.items() if kind == "number"]
    columns = {name: getattr(traces, name) for name in numbers}
    return pl.DataFrame(
        {
            **{name: [value] * count for name, value in _session(audit).items()},
            "elapsed_s": range(count),
            "band": [RIBBON_NAMES[code] for code in traces.ribbon],
            **{name: values if len(values) == count else np.full(count, np.nan) for name, values in columns.items()},
        },
        schema=frame_of([], SECOND_COLUMNS).schema,
    ).fill_nan(None)
