"""The one door for recordings: content decides which reader is used."""

from __future__ import annotations

import dataclasses
import hashlib
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any, BinaryIO, Literal

from steadyband.ground.errors import SteadybandError, UnknownFormatError
from steadyband.recording.limits import check_span, timed
from steadyband.recording.model import Recording
from steadyband.recording.source import Content, load

HEAD_SIZE = 65536
"""Bytes shown to `sniff` (a GPX file may open with long comments)."""


SESSION_SPAN_S = 2 * 86400.0
"""No session is laid out for longer: records further than a day from its start are dropped as the fault of a clock [s]."""


@dataclass(frozen=True, slots=True)
class Reader:
    """One format: `sniff(head)` says whether the bytes are of it, `read(data, name)` reads them."""

    format: Literal["fit", "gpx"]
    sniff: Callable[[bytes], bool]
    read: Callable[[bytes, str], Recording]


def _reader(format: Literal["fit", "gpx"]) -> Reader:
    """A reader whose module, and the library behind it, is imported when it is first needed."""

    def module() -> Any:
        return import_module(f"steadyband.recording.{format}.activity")

    return Reader(format, lambda head: module().sniff(head), lambda data, name: module().read(data, name))


READERS: tuple[Reader, ...] = (_reader("fit"), _reader("gpx"))


def read(source: str | os.PathLike[str] | BinaryIO | bytes, name: str | None = None) -> Recording:
    """Read a FIT or GPX recording, plain or gzip, from a path, an open binary file or bytes.

    `name` stands in messages and results instead of the path's own name. The source is never written to.

    Raises UnknownFormatError, NotAnActivityError, NoTimedTrackError, DamagedRecordingError, or plain RecordingError
    where the bytes cannot be had at all; each says what was expected, found, and what to try.
    """
    place = name or (os.fspath(source) if isinstance(source, str | os.PathLike) else None)
    try:
        with timed():
            content = load(source, name)
            place = place or content.name
            recording = _reader_of(content).read(content.data, content.name)
        check_span(min(float(s.time_s[-1] - s.time_s[0]), SESSION_SPAN_S) for s in recording.sessions)
    except SteadybandError as exc:
        exc.file = str(place) if place else exc.file
        raise
    damage = ", and ".join(part for part in (content.damage, recording.damage) if part) or None
    is_plain = content.packed is content.data
    digest = recording.sha256 if is_plain else hashlib.sha256(content.packed).hexdigest()
    return dataclasses.replace(recording, sha256=digest, damage=damage)


def _reader_of(content: Content) -> Reader:
    head = content.data[:HEAD_SIZE]
    for reader in READERS:
        if reader.sniff(head):
            return reader
    found, hint = _found(head, content.name)
    raise UnknownFormatError(f"expected a FIT or GPX recording, found {found}.", file=content.name, hint=hint)


_SIGNS: tuple[tuple[bytes, str, str], ...] = (
    (rb"PK(\x03\x04|\x05\x06)", "a zip archive", "Unpack it and give the recording inside."),
    (rb"(?i)\s*<(!doctype\s+html|html|head|body)\b", "a web page", "Log in and download the export again."),
    (rb"%PDF", "a PDF document", "Export the session itself as FIT or GPX."),
    (rb"\s*[\[{]", "what looks like JSON", "Export the session as FIT or GPX."),
)


def _found(head: bytes, name: str) -> tuple[str, str]:
    from steadyband.recording.gpx.text import uncommented

    text = head.removeprefix(b"\xef\xbb\xbf")
    for pattern, found, hint in _SIGNS:
        if re.match(pattern, text):
            return found, hint
    root = re.search(rb"<([A-Za-z_][\w:.-]{0,60})[\s/>]", uncommented(text))
    if root and text.lstrip().startswith(b"<"):
        return f"an XML file whose root is <{root[1].decode()}>", "Export the session as FIT or GPX."
    if not text.strip(b"\x00"):
        return "nothing but zero bytes", "The copy failed; copy or export the file again."
    hint = "Export the session again as FIT or GPX."
    if name.lower().endswith((".fit", ".fit.gz")):
        return "a file without a FIT header (its first 12 bytes are damaged or missing)", hint
    return "other data", hint
