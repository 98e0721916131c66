"""Zip archives of recordings, read member by member in memory: nothing is ever unpacked to disk."""

from __future__ import annotations

import lzma
import os
import re
import struct
import threading
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import BinaryIO, cast

from steadyband.ground.errors import RecordingError, UnknownFormatError
from steadyband.ground.opening import open_regular
from steadyband.ground.plain import plain
from steadyband.recording.formats import FORMATS, PACKED
from steadyband.recording.source import GZIP_MAGIC, SIZE_MAX, packed_bytes

ZIP_MAGIC = (b"PK\x03\x04", b"PK\x05\x06")
MEMBERS_MAX = 50_000
"""Most members of one archive (design choice: ten years hold a few thousand sessions)."""
TOTAL_MAX = 20 * 2**30
"""Most bytes that the members of one archive may unpack to (design choice)."""
INNER_MAX = 256 * 2**20
"""Largest archive within an archive [bytes] (design choice: it is held in memory while its members are read)."""
DIRECTORY_MAX = 16 * 2**20
"""Largest list of members at the end of an archive [bytes]: about 300 for each of the most members (design choice)."""
METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2)
"""Ways of packing that are read: they take little memory whatever the packed bytes say."""
RATIO_MAX = 200
"""Most bytes a packed byte may unpack to (design choice: FIT packs 2 to 4 times, GPX up to about 25; deflate can reach
1,032, which only made-up data does)."""
RATIO_FROM = 2**20
"""Members that unpack to less than this are harmless whatever their ratio [bytes]."""

_HEAD = 64
_SUFFIXES = frozenset((*FORMATS, *PACKED))
_BEFORE_XML = b"\xef\xbb\xbf\xff\xfe\0 \t\r\n"
_TAIL = 2**16 + 22 + 20 + 56
"""The longest comment, and the three records before it [bytes]."""

_FAULTS = (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, struct.error, ValueError, OSError)


@dataclass(frozen=True, slots=True, order=True)
class Source:
    """One recording: a file, or a member of an archive (`inside`: its name, after the name of an archive within)."""

    path: Path
    inside: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The name shown: `ride.fit`, or `archive.zip/inner/ride.fit`."""
        return plain("/".join((self.path.name, *self.inside)))

    @property
    def place(self) -> str:
        """The whole path shown in messages."""
        return plain("/".join((str(self.path), *self.inside)))


@dataclass(frozen=True, slots=True)
class Listing:
    """The recordings that a file may hold, the members that are refused unread, and what all unpack to [bytes]."""

    sources: tuple[Source, ...]
    refused: tuple[tuple[Source, RecordingError], ...] = ()
    unpacked: int = 0


def is_zip(head: bytes) -> bool:
    """True where the bytes begin like a zip archive."""
    return head.startswith(ZIP_MAGIC)


def list_sources(path: Path) -> Listing:
    """What a file holds: itself, or the members of a zip archive and of the archives in it (one level deep)."""
    try:
        with open_regular(path) as stream:
            if not is_zip(stream.read(4)):
                return Listing((Source(path),))
            return _listed(Source(path), stream)
    except RecordingError as fault:
        return Listing((), ((Source(path), fault),))
    except OSError:
        return Listing((Source(path),))


def contents(sources: Sequence[Source]) -> Iterator[tuple[Source, bytes | RecordingError]]:
    """The bytes of each source as packed in its file, or why they cannot be had.

    The list of an archive's members is read once, and again only where the file changed: who asks for a few members at a
    time takes no longer than who asks for all.
    """
    for (path, packed), group in groupby(sources, key=lambda item: (item.path, bool(item.inside))):
        if packed:
            yield from _from_archive(path, list(group))
        else:
            yield from ((source, _file_bytes(path)) for source in group)


def _file_bytes(path: Path) -> bytes | RecordingError:
    try:
        return packed_bytes(path)
    except RecordingError as fault:
        return fault


def _from_archive(path: Path, members: Sequence[Source]) -> Iterator[tuple[Source, bytes | RecordingError]]:
    try:
        directory = _directory(path, _identity(path), threading.get_ident())
        with directory.file:
            for outer, group in groupby(members, key=lambda item: item.inside[:-1]):
                yield from directory.members(outer, list(group))
    except OSError as fault:
        yield from ((source, _unreadable(str(path), fault)) for source in members)
    except RecordingError as refused:
        yield from ((source, refused) for source in members)


def _identity(path: Path) -> tuple[int, ...]:
    found = path.stat()
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns


class _Reopened:
    """A file that is open inside `with` alone, for a library that keeps what it read from."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._stream: BinaryIO | None = None

    def __enter__(self) -> None:
        self._stream = open_regular(self._path)

    def __exit__(self, *_: object) -> None:
        self._open.close()
        self._stream = None

    @property
    def _open(self) -> BinaryIO:
        if self._stream is None:
            raise ValueError("the archive is not open")
        return self._stream

    def read(self, size: int = -1) -> bytes:
        return self._open.read(size)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        return self._open.seek(offset, whence)

    def tell(self) -> int:
        return self._open.tell()

    def seekable(self) -> bool:
        return True


class _Directory:
    """An archive whose list of members is known, and the last archive inside of it that was asked for."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.file = _Reopened(path)
        with self.file:
            self._whole = _opened(cast("BinaryIO", self.file), str(path))
        self._inner: tuple[tuple[str, ...], zipfile.ZipFile] = ((), self._whole)

    def members(
        self, outer: tuple[str, ...], sources: Sequence[Source]
    ) -> Iterator[tuple[Source, bytes | RecordingError]]:
        """The bytes of members of the archive itself, or of one inside of it; `file` must be open."""
        try:
            archive = self._archive(outer)
        except RecordingError as refused:
            yield from ((source, refused) for source in sources)
            return
        for source in sources:
            yield source, _member_or_fault(archive, source)

    def _archive(self, outer: tuple[str, ...]) -> zipfile.ZipFile:
        if not outer:
            return self._whole
        if self._inner[0] != outer:
            packed = Source(self.path, outer)
            self._inner = (), self._whole  # the last one's bytes go before the next one's come
            self._inner = outer, _opened(BytesIO(_member(self._whole, packed, INNER_MAX)), packed.place)
        return self._inner[1]


@lru_cache(maxsize=1)
def _directory(path: Path, identity: tuple[int, ...], thread: int) -> _Directory:
    """The directory of an archive as it stands on the disk now; one thread alone uses it."""
    return _Directory(path)


def _member_or_fault(archive: zipfile.ZipFile, source: Source) -> bytes | RecordingError:
    try:
        return _member(archive, source)
    except RecordingError as fault:
        return fault


def _opened(stream: BinaryIO, place: str) -> zipfile.ZipFile:
    if _directory_size(stream) > DIRECTORY_MAX:
        raise RecordingError(
            f"expected an archive of at most {MEMBERS_MAX} members, found a list of {DIRECTORY_MAX // 2**20} MiB or more.",
            file=place,
            hint="Split it, or give the recordings themselves.",
        )
    try:
        return zipfile.ZipFile(stream)
    except (*_FAULTS, NotImplementedError) as fault:
        raise RecordingError(
            f"expected a zip archive, found one that is damaged ({fault}).", file=place, hint="Download it again."
        ) from fault


def _directory_size(stream: BinaryIO) -> int:
    """What the end of an archive says its list of members takes [bytes], 0 where it says nothing.

    The records of the end are those of APPNOTE.TXT 4.3.14 and 4.3.16: the size stands 40 and 12 bytes into them. The
    largest size said anywhere counts, so that a second record cannot hide the one that is used.
    """
    end = stream.seek(0, os.SEEK_END)
    stream.seek(max(0, end - _TAIL))
    tail = stream.read(_TAIL)
    stream.seek(0)
    said = [0]
    for sign, at, code in ((b"PK\x05\x06", 12, "<I"), (b"PK\x06\x06", 40, "<Q")):
        starts = [found.start() + at for found in re.finditer(re.escape(sign), tail)]
        size = struct.calcsize(code)
        said += [struct.unpack_from(code, tail, place)[0] for place in starts if place + size <= len(tail)]
    return max(size for size in said if size != 0xFFFFFFFF)


def _listed(source: Source, stream: BinaryIO) -> Listing:
    archive = _opened(stream, source.place)
    found: list[Source] = []
    refused: list[tuple[Source, RecordingError]] = []
    unpacked = 0
    times = Counter(info.filename for info in archive.filelist)
    for info in _members(archive, source):
        member = Source(source.path, (*source.inside, info.filename))
        try:
            _check_once(times[info.filename], member)
            inner = _inner(archive, info, member)
        except RecordingError as fault:
            refused.append((member, fault))
            continue
        found += inner.sources if inner else (member,)
        refused += inner.refused if inner else ()
        unpacked += info.file_size + (inner.unpacked if inner else 0)
        _check_total(len(found), unpacked, source)
    return Listing(tuple(found), tuple(refused), unpacked)


def _inner(archive: zipfile.ZipFile, info: zipfile.ZipInfo, member: Source) -> Listing | None:
    """The listing of an archive within an archive; None where the member is none. Looks at its head first."""
    _check_method(info, member)
    head = b""
    with suppress(*_FAULTS, NotImplementedError, RuntimeError), archive.open(info) as stream:
        head = stream.read(_HEAD)
    if not _may_be_recording(info, head):
        return None
    _check_size(info, member, INNER_MAX if is_zip(head) else SIZE_MAX)
    if not is_zip(head):
        return None
    if len(member.inside) > 1:
        raise RecordingError(
            "an archive three deep is not opened.", file=member.place, hint="Unpack the outer ones first."
        )
    return _listed(member, BytesIO(_member(archive, member, INNER_MAX)))


def _members(archive: zipfile.ZipFile, source: Source) -> list[zipfile.ZipInfo]:
    """The members that may be recordings, each name once; hidden ones and folders are passed over."""
    infos = archive.infolist()
    _check_total(len(infos), sum(info.file_size for info in infos), source)
    _check_apart(archive, infos, source)
    by_name = {info.filename: info for info in infos if not info.filename.endswith("/") and not _hidden(info.filename)}
    return [by_name[name] for name in sorted(by_name)]


def _check_total(members: int, unpacked: int, source: Source) -> None:
    if members > MEMBERS_MAX or unpacked > TOTAL_MAX:
        raise RecordingError(
            f"expected an archive of at most {MEMBERS_MAX} members and {TOTAL_MAX // 2**30} GiB unpacked, found "
            f"{members} members and {unpacked / 2**30:.1f} GiB or more.",
            file=source.place,
            hint="Split it, or give the recordings themselves.",
        )


def _check_once(times: int, member: Source) -> None:
    if times > 1:
        raise RecordingError(
            "stands in the archive more than once, so it is not clear which one is meant.",
            file=member.place,
            hint="Unpack it yourself.",
        )


def _check_apart(archive: zipfile.ZipFile, infos: Sequence[zipfile.ZipInfo], source: Source) -> None:
    """Members that share packed bytes make an archive of any size out of a small one."""
    if sum(info.compress_size for info in infos) > archive.start_dir:
        raise RecordingError(
            "expected members that stand one after the other, found some that share their bytes, which only made-up "
            "archives do.",
            file=source.place,
            hint="Leave it out.",
        )


def _hidden(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return any((part.startswith(".") and part != "..") or part == "__MACOSX" for part in parts)


def _may_be_recording(info: zipfile.ZipInfo, head: bytes) -> bool:
    """False for pictures, videos and tables of whatever size, which an export of a whole account holds as well."""
    suffix = info.filename.rpartition(".")[2].casefold()
    return (
        suffix in _SUFFIXES
        or head[8:12] == b".FIT"
        or head.lstrip(_BEFORE_XML).startswith((GZIP_MAGIC, b"<", *ZIP_MAGIC))
    )


def _check_method(info: zipfile.ZipInfo, member: Source) -> None:
    if info.compress_type not in METHODS:
        raise RecordingError(
            "is packed in a way that is not read (expected none, deflate or bzip2).",
            file=member.place,
            hint="Unpack it yourself.",
        )


def _check_size(info: zipfile.ZipInfo, member: Source, most: int) -> None:
    if info.file_size > most:
        raise RecordingError(
            f"expected at most {most // 2**20} MiB, found {info.file_size / 2**20:.0f}.",
            file=member.place,
            hint="Split the recording.",
        )
    if info.file_size > RATIO_FROM and info.file_size > RATIO_MAX * max(1, info.compress_size):
        raise RecordingError(
            f"unpacks to {info.file_size / max(1, info.compress_size):.0f} times its packed size, which no recording "
            f"does (at most {RATIO_MAX} is read).",
            file=member.place,
            hint="Leave it out.",
        )


def _member(archive: zipfile.ZipFile, source: Source, most: int = SIZE_MAX) -> bytes:
    """The bytes of a member, never more than its checked size."""
    try:
        info = archive.getinfo(source.inside[-1])
        _check_method(info, source)
        with archive.open(info) as stream:
            head = stream.read(_HEAD)
            if not _may_be_recording(info, head) and info.file_size > RATIO_FROM:
                raise UnknownFormatError("expected a recording, found another file.", file=source.place)
            _check_size(info, source, most)
            return head + stream.read(info.file_size + 1 - len(head))
    except KeyError as fault:
        raise RecordingError("the archive no longer holds it.", file=source.place, hint="Run again.") from fault
    except RuntimeError as fault:
        locked = "password" in str(fault) or "encrypt" in str(fault)
        found = "one that is locked with a password" if locked else f"one that cannot be unpacked ({fault})"
        raise RecordingError(
            f"expected a readable member, found {found}.", file=source.place, hint="Unpack it yourself."
        ) from fault
    except _FAULTS as fault:
        raise RecordingError(
            f"the member is damaged ({fault}).", file=source.place, hint="Download the archive again."
        ) from fault


def _unreadable(place: str, fault: OSError) -> RecordingError:
    return RecordingError(f"the file cannot be read: {os.strerror(fault.errno or 0)}.", file=place, hint="Copy it.")
