"""Sessions of many athletes as Parquet, by month and athlete (docs/scale.md): written once, appended to, scanned lazily by polars."""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from steadyband.athlete.folder import open_folder, real_path
from steadyband.ground.errors import UsageError
from steadyband.ground.plain import shown
from steadyband.ground.writing import write_bytes_atomically
from steadyband.review.frames import season_columns, sessions
from steadyband.told.columns import frame_of

if TYPE_CHECKING:
    from polars import DataFrame, LazyFrame

SESSIONS = "sessions"
ID = re.compile(r"[A-Za-z0-9_-]{1,64}")
LOCAL = ("path", "note", "effort", "sleep_h", "illness")
"""Columns of a season that stay with the athlete: where files lie, and the athlete's own words."""
WHOSE = ("sha256", "start", "sport")
"""What tells one session of an athlete from the others."""


def add_to_dataset(dataset: str | Path, folder: str | Path, athlete: str | None = None) -> tuple[Path, ...]:
    """Put the sessions of an athlete folder into a dataset; the files written, none where nothing is new.

    The layout is `sessions/month=2026-05/athlete=ID/DIGEST.parquet`. A month that grew gets one file more; a month in which a session
    changed (a new test, a new label) is written anew; nothing else is touched. `athlete` is the ID, letters, digits, - and _;
    without one it is a digest of the folder's path, never a name. The athlete's own words and paths are left out.
    Raises UsageError for an ID that is none, and as `sessions` does.
    """
    home = open_folder(Path(folder))
    chosen = athlete or hashlib.blake2b(str(real_path(home.path)).encode(), digest_size=6).hexdigest()
    return append(dataset, sessions(folder), chosen)


def append(dataset: str | Path, frame: DataFrame, athlete: str) -> tuple[Path, ...]:
    """The same with a frame of `sessions`; its files are named after what is in them."""
    import polars as pl

    if not ID.fullmatch(athlete):
        raise UsageError(f"expected an ID of letters, digits, - and _, found {shown(athlete)}.")
    rows = frame.drop(LOCAL, strict=False).with_columns(month=pl.col("local_date").dt.strftime("%Y-%m"))
    written: list[Path] = []
    for (month,), part in rows.group_by("month", maintain_order=True):
        place = Path(dataset) / SESSIONS / f"month={month}" / f"athlete={athlete}"
        written += _append_month(place, part.drop("month"))
    return tuple(written)


def _append_month(place: Path, rows: DataFrame) -> Sequence[Path]:
    import polars as pl

    there = sorted(place.glob("*.parquet"))
    if not there:
        return [_write(place, rows)]
    known = pl.concat([pl.read_parquet(path, hive_partitioning=False) for path in there])
    fresh = rows.join(known, on=WHOSE, how="anti")
    kept = rows.join(known, on=WHOSE, how="semi")
    before = known.join(rows, on=WHOSE, how="semi")
    if len(before) == len(known) and kept.sort(WHOSE).equals(before.sort(WHOSE)):
        return [_write(place, fresh)] if len(fresh) else []
    path = _write(place, rows)
    for old in there:
        if old != path:
            old.unlink()
    return [path]


def _write(place: Path, rows: DataFrame) -> Path:
    buffer = io.BytesIO()
    rows.write_parquet(buffer)
    data = buffer.getvalue()
    path = place / f"{hashlib.blake2b(data, digest_size=12).hexdigest()}.parquet"
    write_bytes_atomically(path, data)
    return path


def scan_dataset(dataset: str | Path) -> LazyFrame:
    """All sessions of all athletes of a dataset as a lazy polars frame: the columns of `sessions`, and `month` and `athlete`.

    A filter on month or athlete opens the files of those alone. An empty dataset gives the columns. Raises UsageError where
    there is no such folder.

    >>> import tempfile
    >>> scan_dataset(tempfile.mkdtemp()).collect_schema().names()[-2:]
    ['month', 'athlete']
    """
    import polars as pl

    place = Path(dataset)
    if not place.is_dir():
        raise UsageError(f"expected a dataset, found no folder at {place}.", hint="Write one with add_to_dataset.")
    if next((place / SESSIONS).rglob("*.parquet"), None) is None:
        columns = {name: kind for name, kind in season_columns().items() if name not in LOCAL}
        return frame_of([], {**columns, "month": "text", "athlete": "text"}).lazy()
    hive = {"month": pl.String, "athlete": pl.String}
    return pl.scan_parquet(place / SESSIONS / "**" / "*.parquet", hive_partitioning=True, hive_schema=hive)
