"""Zip archives of recordings, read member by member in memory: nothing is ever unpacked to disk."""

from __future__ import annotations

import lzma
import os
import struct
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import BinaryIO

from steadyband.errors import RecordingError
from steadyband.recording.source import SIZE_MAX, packed_bytes

ZIP_MAGIC = (b"PK\x03\x04", b"PK\x05\x06")
MEMBERS_MAX = 50_000
"""Most members of one archive (design choice: ten years hold a few thousand sessions)."""
TOTAL_MAX = 20 * 2**30
"""Most bytes that the members of one archive may unpack to (design choice)."""
RATIO_MAX = 200
"""Most bytes a packed byte may unpack to (design choice: FIT packs 2 to 4 times, GPX up to about 25; deflate can reach
1,032, which only made-up data does)."""
RATIO_FROM = 2**20
"""Members that unpack to less than this are harmless whatever their ratio [bytes]."""

_FAULTS = (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, struct.error, ValueError, OSError)


@dataclass(frozen=True, slots=True, order=True)
class Source:
    """One recording: a file, or a member of an archive (`inside`: its name, after the name of an archive within)."""

    path: Path
    inside: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The name shown: `ride.fit`, or `archive.zip/inner/ride.fit`."""
        return _shown("/".join((self.path.name, *self.inside)))

    @property
    def place(self) -> str:
        """The whole path shown in messages."""
        return _shown("/".join((str(self.path), *self.inside)))


def _shown(name: str) -> str:
    """A name from an archive may hold anything: what a terminal might obey is not passed on."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in name)


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
        with path.open("rb") as stream:
            if not is_zip(stream.read(4)):
                return Listing((Source(path),))
            return _listed(Source(path), stream)
    except RecordingError as fault:
        return Listing((), ((Source(path), fault),))
    except OSError:
        return Listing((Source(path),))


def contents(sources: Sequence[Source]) -> Iterator[tuple[Source, bytes | RecordingError]]:
    """The bytes of each source as packed in its file, or why they cannot be had; an archive is opened once a run of it."""
    for (path, outer), group in groupby(sources, key=lambda item: (item.path, item.inside[:-1])):
        members = list(group)
        if members[0].inside:
            yield from _from_archive(path, outer, members)
        else:
            yield from ((source, _file_bytes(path)) for source in members)


def _file_bytes(path: Path) -> bytes | RecordingError:
    try:
        return packed_bytes(path)
    except RecordingError as fault:
        return fault


def _from_archive(
    path: Path, outer: tuple[str, ...], members: Sequence[Source]
) -> Iterator[tuple[Source, bytes | RecordingError]]:
    try:
        with path.open("rb") as stream:
            archive = _opened(stream, str(path))
            if outer:
                archive = _opened(BytesIO(_member(archive, Source(path, outer))), Source(path, outer).place)
            for source in members:
                yield source, _member_or_fault(archive, source)
    except OSError as fault:
        yield from ((source, _unreadable(str(path), fault)) for source in members)
    except RecordingError as refused:
        yield from ((source, refused) for source in members)


def _member_or_fault(archive: zipfile.ZipFile, source: Source) -> bytes | RecordingError:
    try:
        return _member(archive, source)
    except RecordingError as fault:
        return fault


def _opened(stream: BinaryIO, place: str) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(stream)
    except (*_FAULTS, NotImplementedError) as fault:
        raise RecordingError(
            f"expected a zip archive, found one that is damaged ({fault}).", file=place, hint="Download it again."
        ) from fault


def _listed(source: Source, stream: BinaryIO) -> Listing:
    archive = _opened(stream, source.place)
    found: list[Source] = []
    refused: list[tuple[Source, RecordingError]] = []
    unpacked = 0
    for info in _members(archive, source):
        member = Source(source.path, (*source.inside, info.filename))
        try:
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
    """The listing of an archive within an archive; None where the member is none. Looks at four bytes first."""
    _check_size(info, member)
    head = b""
    with suppress(*_FAULTS, NotImplementedError, RuntimeError), archive.open(info) as stream:
        head = stream.read(4)
    if not is_zip(head):
        return None
    if len(member.inside) > 1:
        raise RecordingError(
            "an archive three deep is not opened.", file=member.place, hint="Unpack the outer ones first."
        )
    return _listed(member, BytesIO(_member(archive, member)))


def _members(archive: zipfile.ZipFile, source: Source) -> list[zipfile.ZipInfo]:
    """The members that may be recordings, each name once; hidden ones and folders are passed over."""
    infos = archive.infolist()
    _check_total(len(infos), sum(info.file_size for info in infos), source)
    by_name = {info.filename: info for info in infos if not info.is_dir() and not _hidden(info.filename)}
    return [by_name[name] for name in sorted(by_name)]


def _check_total(members: int, unpacked: int, source: Source) -> None:
    if members > MEMBERS_MAX or unpacked > TOTAL_MAX:
        raise RecordingError(
            f"expected an archive of at most {MEMBERS_MAX} members and {TOTAL_MAX // 2**30} GiB unpacked, found "
            f"{members} members and {unpacked / 2**30:.1f} GiB or more.",
            file=source.place,
            hint="Split it, or give the recordings themselves.",
        )


def _hidden(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return any(part.startswith(".") or part == "__MACOSX" for part in parts)


def _check_size(info: zipfile.ZipInfo, member: Source) -> None:
    if info.file_size > SIZE_MAX:
        raise RecordingError(
            f"expected at most {SIZE_MAX // 2**20} MiB, found {info.file_size / 2**20:.0f}.",
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


def _member(archive: zipfile.ZipFile, source: Source) -> bytes:
    """The bytes of a member, never more than its checked size."""
    try:
        info = archive.getinfo(source.inside[-1])
        _check_size(info, source)
        with archive.open(info) as stream:
            return stream.read(info.file_size + 1)
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
