"""Sessions, surges and weeks as polars frames, for Python and notebooks (`.to_pandas()` gives pandas frames)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from steadyband.athlete.auditing import Test
from steadyband.athlete.condensed import Condensed
from steadyband.athlete.model import SessionLabel
from steadyband.athlete.own_words import own_words
from steadyband.audit.model import BAND_NAMES
from steadyband.ground.reader import written_for
from steadyband.review.block_drift import load_ratio_of
from steadyband.review.fit_of_test import session_shift
from steadyband.review.history import history
from steadyband.review.model import Week, week_name
from steadyband.review.whole import season_of
from steadyband.told import audit_to_flat
from steadyband.told.columns import Kind, frame_of, session_columns

if TYPE_CHECKING:
    from polars import DataFrame


def sessions(folder: str | Path, *, test: Test | None = None) -> DataFrame:
    """Every session of an athlete folder, one row each: the columns of `audit --format csv` and a few more.

    Added: `path`, `iso_week`, `guess` (what the load looks like), `load_over_target_top` (by power or speed; null by heart
    rate), `hr_shift_bpm` (heart rate above the test's in steady stretches), and what the athlete told: `note`, `effort`, `sleep_h`, `illness`. Columns and types are the
    same whatever the folder holds, an empty one too; `local_start` is the clock's reading, `start` the instant. Files that cannot be read are left out; `unreadable` lists them.
    With `test` (a file, a test, a zone set, `given_edges`) every session of its sport is judged by it, whatever the dates.
    Raises UsageError where the folder has no athlete.toml, AthleteFileError and TestFileError where a file is faulty.

    In the folder of the project:

    >>> season = sessions("demo_activities")
    >>> season.height, season.schema["local_date"], season["in_band"].sum()
    (22, Date, 12)
    """
    home, season = season_of(folder, test)
    with written_for(home.athlete.reader):
        return sessions_frame(season.sessions, home.labels)


def unreadable(folder: str | Path) -> DataFrame:
    """The files of an athlete folder that could not be read: file, message.

    In the folder of the project:

    >>> unreadable("demo_activities").height
    0
    """
    _, season = season_of(folder)
    rows = [{"file": item.file, "message": item.message} for item in season.failures]
    return frame_of(rows, {"file": "text", "message": "text"})


WEEK_COLUMNS: dict[str, Kind] = {
    "iso_week": "text",
    "first_day": "date",
    "sport": "text",
    "sessions": "whole",
    "active_h": "number",
    **{f"{name}_h": "number" for name in BAND_NAMES},
    "not_banded_h": "number",
    "judged": "whole",
    "held": "whole",
}


def weeks(folder: str | Path) -> DataFrame:
    """Hours per band of each week and sport, and how many sessions held the band, one row a week and sport.

    In the folder of the project:

    >>> weeks("demo_activities").filter(sport="cycling").select("iso_week", "judged", "held").row(-1)
    ('2026-W20', 3, 1)
    """
    home, season = season_of(folder)
    rows = [
        {
            "iso_week": week.name,
            "first_day": week.first_day,
            "sport": item.sport,
            "sessions": item.sessions,
            "active_h": item.active_s / 3600,
            **{f"{name}_h": item.bands[name] / 3600 for name in BAND_NAMES},
            "not_banded_h": item.not_banded_s / 3600,
            **_held(item.sport, week.sessions),
        }
        for week in (history(home, season.sessions).weeks if season.sessions else ())
        if isinstance(week, Week)
        for item in week.hours
    ]
    return frame_of(rows, WEEK_COLUMNS)


def _held(sport: str, found: Sequence[Condensed]) -> dict[str, int]:
    judged = [item for item in found if item.audit.info.sport == sport and item.audit.verdict.in_band is not None]
    return {"judged": len(judged), "held": sum(item.audit.verdict.in_band is True for item in judged)}


def season_columns() -> dict[str, Kind]:
    """Every column of a table of a season's sessions, with its kind."""
    more: dict[str, Kind] = {
        "path": "text",
        "iso_week": "text",
        "guess": "text",
        "load_over_target_top": "number",
        "hr_shift_bpm": "number",
        "note": "text",
        "effort": "number",
        "sleep_h": "number",
        "illness": "text",
    }
    return session_columns() | more


def sessions_frame(found: Sequence[Condensed], labels: Sequence[SessionLabel] = (), *, dates: bool = True) -> DataFrame:
    """One row a session; always the same columns and types, whatever the sessions carry. `dates` as in `frame_of`."""
    return frame_of([_row(item, labels) for item in found], season_columns(), dates=dates)


def _row(item: Condensed, labels: Sequence[SessionLabel]) -> dict[str, object]:
    shift = session_shift(item.audit, item.stretches)
    told = own_words(labels, item.audit.info.local_start, item.audit.info.sport)
    return {
        **audit_to_flat(item.audit),
        "path": str(item.path) if item.path else None,
        "iso_week": week_name(item.day),
        "guess": item.guess.intent,
        "load_over_target_top": load_ratio_of(item.audit),
        "hr_shift_bpm": shift.shift if shift else None,
        "note": told.note or None,
        "effort": told.effort,
        "sleep_h": told.sleep_h,
        "illness": told.illness or None,
    }
