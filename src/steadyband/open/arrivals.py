"""Recordings that come in from the browser: piece by piece to a file of their own, looked at, and put into activities/ or not at all.

A name that a browser gives is a label: letters of it go into the new file's name, never a path. Nothing is ever replaced, and
the bytes are kept as they came. What a crash leaves half-written is hidden, and is removed by the next start.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import tempfile
import threading
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Literal

from steadyband.athlete.folder import recordings_in
from steadyband.ground.errors import RecordingError, SteadybandError
from steadyband.ground.opening import open_regular
from steadyband.ground.settings import Settings
from steadyband.ground.writing import PREFIX, SUFFIX, make_private_folder
from steadyband.recording.archives import Listing, contents, is_zip, list_sources
from steadyband.recording.formats import FORMATS, formats_text
from steadyband.recording.registry import HEAD_SIZE, READERS
from steadyband.recording.source import GZIP_MAGIC, SIZE_MAX, load

ARCHIVE_MAX = 4 * 2**30
"""Largest archive taken in [bytes] (design choice: what browsers and plain zip files can hold)."""
FILES_MAX = 50_000
"""Most files that activities/ may hold for more to be taken in (design choice, that of an archive's members)."""
ROOM_LEFT = 256 * 2**20
"""Bytes that stay free on the disk."""
NAME_MAX = 80
TESTS = (".toml", ".csv", ".xlsx", ".ods")
"""Suffixes of step tests."""
_HASH_PIECE = 2**20

Kind = Literal["kept", "copy", "test", "refused"]


@dataclass(frozen=True, slots=True)
class Arrived:
    """What became of a file: kept, a copy of one that is there, kept as a step test, or refused; in words."""

    kind: Kind
    text: str


@dataclass(slots=True)
class Incoming:
    """A file that is being written; `write` takes the pieces, `close` ends it whatever happened."""

    name: str
    place: Path
    stream: IO[bytes]
    most: int
    size: int = 0
    head: bytes = b""
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)

    def write(self, piece: bytes) -> None:
        """One more piece. Raises RecordingError past the limit of its kind, OSError where the disk refuses."""
        if len(self.head) < HEAD_SIZE:
            self.head += piece[: HEAD_SIZE - len(self.head)]
        self.size += len(piece)
        if self.size > (most := self.most if is_zip(self.head) else min(self.most, SIZE_MAX)):
            raise RecordingError(
                f"expected at most {most // 2**20:,} MiB, found more; it was not kept.",
                hint="Split it, or give the recordings themselves.",
            )
        self.digest.update(piece)
        self.stream.write(piece)


class Shelf:
    """Where files arrive: one athlete's activities/ and tests/."""

    def __init__(self, activities: Path, tests: Path, settings: Settings) -> None:
        self.activities, self.tests, self.settings = activities, tests, settings
        self._lock = threading.Lock()

    @contextlib.contextmanager
    def incoming(self, name: str, expected: int | None) -> Iterator[Incoming]:
        """A file to write into; it is gone after the block unless `keep` took it.

        Raises SteadybandError where the disk has no room for `expected` bytes or the folder cannot be written to.
        """
        try:
            make_private_folder(self.activities)
            self._check_room(expected or 0)
            handle, place = tempfile.mkstemp(prefix=PREFIX, suffix=SUFFIX, dir=self.activities)
        except OSError as fault:
            raise SteadybandError(
                f"expected to write into this folder, but the system said: {fault.strerror or fault}.",
                file=str(self.activities),
                hint="Choose a folder that you may write to.",
            ) from fault
        try:
            with os.fdopen(handle, "wb") as stream:
                yield Incoming(clean_name(name), Path(place), stream, ARCHIVE_MAX)
        finally:
            with contextlib.suppress(OSError):
                Path(place).unlink()

    def _check_room(self, expected: int) -> None:
        if shutil.disk_usage(self.activities).free < expected + ROOM_LEFT:
            raise SteadybandError(
                f"expected room for {expected / 2**20:.0f} MiB and {ROOM_LEFT // 2**20} MiB more on the disk, found less.",
                file=str(self.activities),
                hint="Make room and give the file again.",
            )

    def keep(self, item: Incoming) -> Arrived:
        """Looks at a file that has come whole, and keeps it under a name nobody has. Raises OSError where the disk refuses."""
        item.stream.flush()
        os.fsync(item.stream.fileno())
        if not item.size:
            return Arrived("refused", "the file is empty.")
        if Path(item.name).suffix.casefold() in TESTS and not any(reader.sniff(item.head) for reader in READERS):
            return self._keep_test(item)
        suffix, why = kind_of(item.place, item.head)
        if not suffix:
            return Arrived("refused", why)
        with self._lock:
            files = recordings_in(self.activities)
            if len(files) >= FILES_MAX:
                return Arrived("refused", f"activities/ holds {FILES_MAX:,} files already.")
            twin = _twin(item, files)
            if twin is not None:
                return Arrived("copy", f"the same bytes are there already, as {twin.name}.")
            made = _placed(item.place, self.activities, _stem(item.name), suffix)
        return Arrived("kept", f"kept as {made.name}.")

    def _keep_test(self, item: Incoming) -> Arrived:
        """A step test is read first, and kept only where it can be."""
        from steadyband.steptest.file.reading import load_test

        suffix = Path(item.name).suffix.casefold()
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder, f"test{suffix}")
            shutil.copyfile(item.place, copy)
            try:
                load_test(copy, self.settings.steptest)
            except SteadybandError as fault:
                return Arrived("refused", f"no step test that can be read: {fault.message} {fault.hint}")
        with self._lock:
            make_private_folder(self.tests)
            twin = _twin(item, recordings_in(self.tests))
            if twin is not None:
                return Arrived("copy", f"the same test is there already, as {twin.name}.")
            made = _placed(item.place, self.tests, _stem(item.name), suffix)
        return Arrived("test", f"kept among the step tests as {made.name}.")


def clean_name(given: str) -> str:
    """The letters of a name that may stand in a file's name; its folders are left out.

    >>> clean_name("../../etc/Früh am Deich (2).FIT")
    'Fruh-am-Deich-2.FIT'
    """
    last = re.split(r"[/\\\\]", given)[-1]
    plain = unicodedata.normalize("NFKD", last).encode("ascii", "ignore").decode()
    stem, dot, suffix = plain.rpartition(".")
    parts = [re.sub(r"[^A-Za-z0-9_]+", "-", part).strip("-_") for part in ((stem, suffix) if dot else (plain, ""))]
    name = parts[0][:NAME_MAX] or "recording"
    return f"{name}.{parts[1][:10]}" if parts[1] else name


def kind_of(place: Path, head: bytes) -> tuple[str, str]:
    """(suffix of a recording or archive, "") by content, or ("", why it is neither)."""
    if is_zip(head):
        return _kind_of_archive(list_sources(place))
    try:
        data = head if not head.startswith(GZIP_MAGIC) else load(place).data[:HEAD_SIZE]
    except RecordingError as fault:
        return "", f"{fault.message} {fault.hint}"
    packed = ".gz" if head.startswith(GZIP_MAGIC) else ""
    for reader in READERS:
        if reader.sniff(data):
            return f".{reader.format}{packed}", ""
    return "", f"expected {formats_text()} or an archive of them, found something else."


def _kind_of_archive(listing: Listing) -> tuple[str, str]:
    whole = [fault for source, fault in listing.refused if not source.inside]
    if whole:
        return "", f"{whole[0].message} {whole[0].hint}"
    found = (data for _, data in contents(listing.sources) if not isinstance(data, RecordingError))
    if any(data.startswith(GZIP_MAGIC) or any(reader.sniff(data[:HEAD_SIZE]) for reader in READERS) for data in found):
        return ".zip", ""
    return "", "an archive without a recording in it."


def _stem(name: str) -> str:
    """The name without the suffixes that content decides."""
    stem = name
    for suffix in (".gz", ".zip", *(f".{one}" for one in FORMATS), *TESTS):
        if stem.casefold().endswith(suffix):
            stem = stem[: -len(suffix)]
    return re.sub(r"[^A-Za-z0-9_-]+", "-", stem).strip("-") or "recording"


def _twin(item: Incoming, files: list[Path]) -> Path | None:
    """A file with the same bytes."""
    for path in files:
        with contextlib.suppress(OSError):
            if path.stat().st_size == item.size and _sha256(path) == item.digest.digest():
                return path
    return None


def _sha256(path: Path) -> bytes:
    made = hashlib.sha256()
    with open_regular(path) as stream:
        while piece := stream.read(_HASH_PIECE):
            made.update(piece)
    return made.digest()


def _placed(draft: Path, folder: Path, stem: str, suffix: str) -> Path:
    """The file under the first free name: it takes one that nobody has in one step, or the next."""
    number = 1
    while True:
        place = folder / f"{stem}{f'-{number}' if number > 1 else ''}{suffix}"
        try:
            _take(draft, place)
        except FileExistsError:
            number += 1
            continue
        return place


def _take(draft: Path, place: Path) -> None:
    """Gives a file its name, never one that is taken. Raises FileExistsError, or OSError."""
    try:
        os.link(draft, place)
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links
        os.close(os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        draft.replace(place)


def remove_leftovers(activities: Path) -> None:
    """Removes what a killed run left half-written. Only for the one run that has the folder open."""
    for left in activities.glob(f"{PREFIX}*{SUFFIX}"):
        with contextlib.suppress(OSError):
            left.unlink()
