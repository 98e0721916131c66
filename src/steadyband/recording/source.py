"""The bytes of a recording, from a path, a file object or bytes, plain or gzip, within a bound."""

from __future__ import annotations

import os
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from steadyband.ground.errors import RecordingError
from steadyband.ground.opening import NotRegularError, open_regular
from steadyband.recording.limits import check_time

SIZE_MAX = 64 * 2**20
"""Largest recording read, packed or unpacked [bytes] (design choice: days of one-second data stay under 50 MiB)."""

GZIP_MAGIC = b"\x1f\x8b"
_PIECE = 1 << 20
_FIRST_STEP = 256
"""Bytes given to a gzip member at first, doubled as it goes on: what a short one leaves over is copied each time."""


@dataclass(frozen=True, slots=True)
class Content:
    """What a source holds: `packed` as given, `data` unpacked, `damage` of the gzip wrapping, if any."""

    name: str
    packed: bytes
    data: bytes
    damage: str | None = None


def load(source: str | os.PathLike[str] | BinaryIO | bytes, name: str | None = None) -> Content:
    """Read a source whole and unpack it if it is gzip.

    Raises RecordingError where it cannot be read, is empty or too large; `name` is used instead of the path's own.
    """
    if isinstance(source, bytes | bytearray | memoryview):
        return _content(bytes(source), name or "bytes")
    if isinstance(source, str | os.PathLike):
        return _content(_from_path(source), name or Path(source).name)
    shown = name or Path(str(getattr(source, "name", "file object"))).name
    return _content(_from_object(source, shown), shown)


def packed_bytes(path: str | os.PathLike[str]) -> bytes:
    """The bytes of a file as it is, packed or not. Raises RecordingError where they cannot be had or are too many."""
    packed = _from_path(path)
    _checked_size(packed, Path(path).name)
    return packed


def _content(packed: bytes, name: str) -> Content:
    _checked_size(packed, name)
    if not packed.startswith(GZIP_MAGIC):
        return Content(name, packed, packed)
    data, damage = _unpacked(packed, name)
    return Content(name, packed, data, damage)


def _from_path(path: str | os.PathLike[str]) -> bytes:
    place = os.fspath(path)
    try:
        with open_regular(place) as stream:
            return stream.read(SIZE_MAX + 1)
    except NotRegularError as exc:
        hint = "Name the files inside it." if exc.kind == "a folder" else "Copy the recording into a file."
        raise RecordingError(f"expected a recording, found {exc.kind}.", file=place, hint=hint) from exc
    except FileNotFoundError as exc:
        raise RecordingError("there is no such file.", file=place, hint="Check the path.") from exc
    except PermissionError as exc:
        raise RecordingError(
            "the file may not be read by this user.", file=place, hint="Change its permissions or copy it."
        ) from exc
    except (OSError, ValueError) as exc:
        raise RecordingError(f"the file cannot be read: {exc}.", file=place, hint="Copy it and try again.") from exc


def _from_object(stream: BinaryIO, name: str) -> bytes:
    try:
        data = stream.read(SIZE_MAX + 1)
    except (OSError, ValueError, AttributeError) as exc:
        raise RecordingError(
            f"expected an open binary file, but it cannot be read: {exc}.", file=name, hint='Open it with mode "rb".'
        ) from exc
    if not isinstance(data, bytes):
        raise RecordingError(
            f"expected bytes, found {type(data).__name__}.", file=name, hint='Open the file with mode "rb".'
        )
    return data


def _checked_size(data: bytes, name: str) -> None:
    if not data:
        raise RecordingError("the file is empty.", file=name, hint="Export the session again.")
    if len(data) > SIZE_MAX:
        raise _too_large(name)


def _too_large(name: str) -> RecordingError:
    return RecordingError(
        f"expected at most {SIZE_MAX // 2**20} MiB, found more.", file=name, hint="Split the recording."
    )


def _unpacked(packed: bytes, name: str) -> tuple[bytes, str | None]:
    """The unpacked bytes, up to the damage if there is any, and a sentence about it; in time linear in both."""
    pieces: list[bytes] = []
    size, at = 0, 0
    while packed.startswith(GZIP_MAGIC, at):
        member, step = zlib.decompressobj(wbits=31), _FIRST_STEP
        try:
            while not member.eof and at < len(packed):
                check_time()
                given = packed[at : at + step]
                pieces.append(member.decompress(given, _PIECE))
                at += len(given) - len(member.unconsumed_tail or member.unused_data)
                size += len(pieces[-1])
                step = min(2 * step, _PIECE)
                if size > SIZE_MAX:
                    raise _too_large(name)
        except zlib.error as exc:
            return _after_damage(pieces, f"the gzip data is damaged ({exc}); what comes before was read", name)
        if not member.eof:
            return _after_damage(pieces, "the gzip data is cut short; what is there was read", name)
    data = b"".join(pieces)
    _checked_size(data, name)
    return data, None


def _after_damage(pieces: list[bytes], damage: str, name: str) -> tuple[bytes, str]:
    data = b"".join(pieces)
    if not data:
        raise RecordingError(
            "the gzip data is damaged from its start.", file=name, hint="Copy or export the file again."
        )
    return data, damage
