"""Small files of rows that are never changed: each is named by the digest of its own bytes.

A file is written beside and moved into place, so that readers in other processes see all of it or nothing. One whose
bytes do not fit its name (cut short, damaged, or by someone else) is never used.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Generic, TypeVar

import msgspec

from steadyband.ground.writing import PRIVATE_FILE, make_private_folder

TRIES = 5
"""Times a listing is read again because another process put its files together meanwhile."""
STALE_S = 3600.0
"""Age from which files that nothing points at are removed: younger ones may belong to a run that is not done."""
TEMPORARY = ".part"
ENDINGS = ("rows", "parquet")
"""What names of the store's files end with; the second was an earlier version's."""
MOST_BYTES = 2**30
"""Bytes that one file may unpack to; what the program itself writes stays far below."""

Row = TypeVar("Row")


class Shards(Generic[Row]):
    """The files of one kind (`sessions`, `detail`, `index`) in one folder: rows of one type, packed at a level of zlib."""

    def __init__(self, folder: Path, kind: str, row: type[Row], level: int = 1) -> None:
        self.folder = folder
        self.kind = kind
        self._level = level
        self._decoder = msgspec.msgpack.Decoder(list[row])  # type: ignore[valid-type]
        self._pattern = re.compile(rf"{kind}-[0-9a-f]{{32}}\.{ENDINGS[0]}")

    def names(self) -> list[str]:
        """The names of all files of this kind, sorted; none where the folder is not there. Raises OSError."""
        try:
            found = [path.name for path in self.folder.iterdir()]
        except (FileNotFoundError, NotADirectoryError):
            return []
        return sorted(name for name in found if self._pattern.fullmatch(name))

    def write(self, rows: Sequence[Row]) -> str:
        """Keep rows; returns their file's name. Raises OSError where there is no room or no permission."""
        data = zlib.compress(msgspec.msgpack.encode(rows), self._level)
        name = self._name_of(data)
        _move_into_place(self.folder, name, data)
        return name

    def read(self, name: str) -> list[Row] | None:
        """The rows in a file; None where its bytes do not fit its name, or it holds no such rows.

        Raises FileNotFoundError where it is gone, and OSError where it cannot be read.
        """
        data = (self.folder / name).read_bytes()
        if name != self._name_of(data):
            return None
        try:
            return self._decoder.decode(zlib.decompressobj().decompress(data, MOST_BYTES))
        except (zlib.error, msgspec.MsgspecError):
            return None

    def read_all(self) -> tuple[dict[str, list[Row]], list[str]]:
        """(every sound file's rows by name, the names of the damaged ones). Raises OSError where one cannot be read."""
        for _ in range(TRIES):
            try:
                found = {name: self.read(name) for name in self.names()}
            except FileNotFoundError:
                continue
            sound = {name: rows for name, rows in found.items() if rows is not None}
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

    def _name_of(self, data: bytes) -> str:
        return f"{self.kind}-{hashlib.sha256(data).hexdigest()[:32]}.{ENDINGS[0]}"


def remove_leftovers(folder: Path, version: int, now: float) -> None:
    """Take away what runs that were killed left half-written, and the files of another version of the store."""
    ours = re.compile(
        rf"(?:sessions|detail|index)(\d+)-[0-9a-f]{{32}}\.(?:{'|'.join(ENDINGS)})|.+{re.escape(TEMPORARY)}"
    )
    for path in folder.iterdir():
        match = ours.fullmatch(path.name)
        if match and match[1] != str(version) and _age(path, now) > STALE_S:
            with contextlib.suppress(OSError):
                path.unlink()


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
