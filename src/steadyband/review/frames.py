"""Sessions, surges and weeks as polars frames, for Python and notebooks (`.to_pandas()` gives pandas frames)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.folder import AthleteFolder, open_folder, recordings_in
from steadyband.athlete.season import Season, load_season
from steadyband.athlete.store import open_store
from steadyband.audit.model import BAND_NAMES, Audit
from steadyband.ground.reader import written_for
from steadyband.review.block_drift import load_ratio_of
from steadyband.review.fit_of_test import session_shift
from steadyband.review.history import history
from steadyband.review.model import Week, week_name
from steadyband.told import audit_to_flat

if TYPE_CHECKING:
    from polars import DataFrame


def sessions(folder: str | Path) -> DataFrame:
    """Every session of an athlete folder, one row each: the columns of `audit --format csv` and a few more.

    Added: `path`, `iso_week`, `guess` (what the load looks like), `load_over_target_top` (by power or speed; null by
    heart rate), `hr_shift_bpm` (heart rate above the test's in steady stretches). Files that cannot be read are left out; `unreadable` lists them.
    Raises UsageError where the folder has no athlete.toml, AthleteFileError and TestFileError where a file is faulty.
    """
    home = open_folder(Path(folder))
    season = _season(home)
    with written_for(home.athlete.reader):
        return sessions_frame(season.sessions)


def _season(home: AthleteFolder) -> Season:
    return load_season(recordings_in(home.athlete.activities), home, open_store(home))


def unreadable(folder: str | Path) -> DataFrame:
    """The files of an athlete folder that could not be read: file, message."""
    import polars as pl

    home = open_folder(Path(folder))
    failures = _season(home).failures
    rows = [{"file": item.file, "message": item.message} for item in failures]
    return pl.DataFrame(rows, schema={"file": pl.String, "message": pl.String})


def weeks(folder: str | Path) -> DataFrame:
    """Hours per band of each week and sport, and how many sessions held the band, one row a week and sport."""
    import polars as pl

    home = open_folder(Path(folder))
    season = _season(home)
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
        for week in history(home, season.sessions).weeks
        if isinstance(week, Week)
        for item in week.hours
    ]
    return pl.DataFrame(rows, infer_schema_length=None)


def _held(sport: str, found: Sequence[Condensed]) -> dict[str, int]:
    judged = [item for item in found if item.audit.info.sport == sport and item.audit.verdict.in_band is not None]
    return {"judged": len(judged), "held": sum(item.audit.verdict.in_band is True for item in judged)}


def sessions_frame(found: Sequence[Condensed]) -> DataFrame:
    """One row a session; always the same columns, whatever the sessions carry."""
    import polars as pl

    return pl.DataFrame([_row(item) for item in found], infer_schema_length=None)


def _row(item: Condensed) -> dict[str, object]:
    shift = session_shift(item.audit, item.stretches)
    return {
        **audit_to_flat(item.audit),
        "path": str(item.path) if item.path else None,
        "iso_week": week_name(item.day),
        "guess": item.guess.intent,
        "load_over_target_top": load_ratio_of(item.audit),
        "hr_shift_bpm": shift.shift if shift else None,
    }


def traces(audit: Audit) -> DataFrame:
    """The one-second rows of one audited session: elapsed_s, band, load, band_load, heart_rate_bpm; null where missing."""
    import polars as pl

    from steadyband.audit.model import RIBBON_NAMES

    found = audit.traces
    frame = pl.DataFrame(
        {
            "elapsed_s": range(len(found.ribbon)),
            "band": [RIBBON_NAMES[code] for code in found.ribbon],
            "load": found.load,
            "band_load": found.band_load,
            "heart_rate_bpm": found.heart_rate_bpm,
        }
    )
    return frame.fill_nan(None)
