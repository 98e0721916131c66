"""Small Parquet files that are never changed: each is named by the digest of its own bytes.

A file is written beside and moved into place, so that readers in other processes see all of it or nothing. One whose
bytes do not fit its name (cut short, damaged, or by someone else) is never used.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
from collections.abc import Callable, Iterable
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyband.ground.writing import PRIVATE_FILE, make_private_folder

if TYPE_CHECKING:
    import polars as pl

TRIES = 5
"""Times a listing is read again because another process put its files together meanwhile."""
STALE_S = 3600.0
"""Age from which files that nothing points at are removed: younger ones may belong to a run that is not done."""
TEMPORARY = ".part"


Columns = Callable[[], dict[str, Any]]


class Shards:
    """The files of one kind (`sessions`, `detail`, `index`) in one folder; `columns()` names and types its columns."""

    def __init__(self, folder: Path, kind: str, columns: Columns | None = None) -> None:
        self.folder = folder
        self.kind = kind
        self._columns = columns
        self._pattern = re.compile(rf"{kind}-[0-9a-f]{{32}}\.parquet")

    def names(self) -> list[str]:
        """The names of all files of this kind, sorted."""
        try:
            found = [path.name for path in self.folder.iterdir()]
        except OSError:
            return []
        return sorted(name for name in found if self._pattern.fullmatch(name))

    def write(self, frame: pl.DataFrame) -> str:
        """Keep a frame; returns its file's name. Raises OSError where there is no room or no permission."""
        content = BytesIO()
        frame.write_parquet(content, compression="zstd")
        data = content.getvalue()
        name = f"{self.kind}-{_name_of(data)}.parquet"
        _move_into_place(self.folder, name, data)
        return name

    def read(self, name: str) -> pl.DataFrame | None:
        """The frame in a file; None where its bytes do not fit its name, or it is no such table.

        Raises FileNotFoundError where it is gone.
        """
        import polars as pl

        data = (self.folder / name).read_bytes()
        if name != f"{self.kind}-{_name_of(data)}.parquet":
            return None
        try:
            frame = pl.read_parquet(BytesIO(data))
        except pl.exceptions.PolarsError:
            return None
        return frame if self._columns is None or dict(frame.schema) == self._columns() else None

    def read_all(self) -> tuple[dict[str, pl.DataFrame], list[str]]:
        """(every sound file's frame by name, the names of the damaged ones)."""
        for _ in range(TRIES):
            try:
                found = {name: self.read(name) for name in self.names()}
            except FileNotFoundError:
                continue
            except OSError:
                return {}, []
            sound = {name: frame for name, frame in found.items() if frame is not None}
            return sound, [name for name in found if name not in sound]
        return {}, []

    def remove(self, names: Iterable[str]) -> None:
        """Take files away; one that is gone already, or may not be removed, is left."""
        for name in names:
            with contextlib.suppress(OSError):
                (self.folder / name).unlink()

    def remove_stale(self, kept: set[str], now: float) -> None:
        """Take away files that nothing points at and that no running process can have just written; `now` Unix seconds."""
        self.remove(name for name in self.names() if name not in kept and _age(self.folder / name, now) > STALE_S)


def remove_leftovers(folder: Path, version: int, now: float) -> None:
    """Take away what runs that were killed left half-written, and the files of another version of the store."""
    ours = re.compile(r"(?:sessions|detail|index)(\d+)-[0-9a-f]{32}\.parquet|.+" + re.escape(TEMPORARY))
    for path in folder.iterdir():
        match = ours.fullmatch(path.name)
        if match and match[1] != str(version) and _age(path, now) > STALE_S:
            with contextlib.suppress(OSError):
                path.unlink()


def _name_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:32]


def _age(path: Path, now: float) -> float:
    try:
        return now - path.stat().st_mtime
    except OSError:
        return 0.0


def _move_into_place(folder: Path, name: str, data: bytes) -> None:
    make_private_folder(folder)
    handle, made = tempfile.mkstemp(suffix=TEMPORARY, dir=folder)
    try:
        with os.fdopen(handle, "wb") as file:
            Path(made).chmod(PRIVATE_FILE)
            file.write(data)
        Path(made).replace(folder / name)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(made).unlink()
        raise
