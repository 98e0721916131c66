"""The one door for recordings: content decides which reader is used."""

from __future__ import annotations

import dataclasses
import hashlib
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any, BinaryIO

import numpy as np

from steadyband.ground.errors import SteadybandError, UnknownFormatError
from steadyband.recording.formats import FORMATS, formats_text
from steadyband.recording.limits import check_span, timed
from steadyband.recording.model import Note, Recording, SessionRecords
from steadyband.recording.source import Content, load
from steadyband.recording.timeline import own_records

HEAD_SIZE = 65536
"""Bytes shown to `sniff` (a GPX file may open with long comments)."""


HUGE = 1e9
"""No value of a recording is as large, in SI units (design choice): such ones come from damage, and are missing."""


@dataclass(frozen=True, slots=True)
class Reader:
    """One format: `sniff(head)` says whether the bytes are of it, `read(data, name)` reads them."""

    format: str
    sniff: Callable[[bytes], bool]
    read: Callable[[bytes, str], Recording]


def _reader(format: str) -> Reader:
    """A reader whose module, and the library behind it, is imported when it is first needed."""

    def module() -> Any:
        return import_module(f"steadyband.recording.{format}.activity")

    return Reader(format, lambda head: module().sniff(head), lambda data, name: module().read(data, name))


READERS: tuple[Reader, ...] = tuple(map(_reader, FORMATS))


def read(source: str | os.PathLike[str] | BinaryIO | bytes, name: str | None = None) -> Recording:
    """Read a recording in one of `FORMATS`, plain or gzip, from a path, an open binary file or bytes.

    `name` stands in messages and results instead of the path's own name. The source is never written to.

    Raises UnknownFormatError, NotAnActivityError, NoTimedTrackError, DamagedRecordingError, or plain RecordingError
    where the bytes cannot be had at all; each says what was expected, found, and what to try.

    >>> point = '<trkpt lat="0" lon="{}"><time>2026-05-11T07:00:{:02d}Z</time></trkpt>'
    >>> points = "".join(point.format(second * 0.00005, second) for second in range(3))
    >>> track = f'<gpx version="1.1" creator="example"><trk><trkseg>{points}</trkseg></trk></gpx>'
    >>> found = read(track.encode(), "ride.gpx")
    >>> found.format, len(found.sessions), len(found.sessions[0].time_s)
    ('gpx', 1, 3)
    """
    place = name or (os.fspath(source) if isinstance(source, str | os.PathLike) else None)
    try:
        with timed():
            content = load(source, name)
            place = place or content.name
            recording = _reader_of(content).read(content.data, content.name)
        check_span(_span_s(session) for session in recording.sessions)
    except SteadybandError as exc:
        exc.file = str(place) if place else exc.file
        raise
    damage = ", and ".join(part for part in (content.damage, recording.damage) if part) or None
    is_plain = content.packed is content.data
    digest = recording.sha256 if is_plain else hashlib.sha256(content.packed).hexdigest()
    return dataclasses.replace(_without_huge(recording), sha256=digest, damage=damage)


def _span_s(session: SessionRecords) -> float:
    """What a session spans when it is laid out in seconds: without records of a broken clock."""
    own = session.time_s[own_records(session.time_s, session.origin_s)]
    return float(own.max() - own.min())


def _without_huge(recording: Recording) -> Recording:
    count, sessions = 0, []
    for session in recording.sessions:
        huge = {name: np.abs(values) > HUGE for name, values in session.channels.items()}
        found = {name: np.where(mask, np.nan, session.channels[name]) for name, mask in huge.items() if mask.any()}
        count += sum(int(np.count_nonzero(huge[name])) for name in found)
        sessions.append(dataclasses.replace(session, channels={**session.channels, **found}) if found else session)
    if not count:
        return recording
    note = Note("huge", "warn", f"{count} value(s) larger than anything that can be measured were left out.", count)
    return dataclasses.replace(recording, sessions=tuple(sessions), notes=(*recording.notes, note))


def _reader_of(content: Content) -> Reader:
    head = content.data[:HEAD_SIZE]
    for reader in READERS:
        if reader.sniff(head):
            return reader
    found, hint = _found(head, content.name)
    raise UnknownFormatError(f"expected a {formats_text()} recording, found {found}.", file=content.name, hint=hint)


_SIGNS: tuple[tuple[bytes, str, str], ...] = (
    (rb"PK(\x03\x04|\x05\x06)", "a zip archive", "Unpack it and give the recording inside."),
    (rb"(?i)\s*<(!doctype\s+html|html|head|body)\b", "a web page", "Log in and download the export again."),
    (rb"%PDF", "a PDF document", f"Export the session itself as {formats_text()}."),
    (rb"\s*[\[{]", "what looks like JSON", f"Export the session as {formats_text()}."),
)


def _found(head: bytes, name: str) -> tuple[str, str]:
    from steadyband.recording.gpx.text import uncommented

    text = head.removeprefix(b"\xef\xbb\xbf")
    for pattern, found, hint in _SIGNS:
        if re.match(pattern, text):
            return found, hint
    root = re.search(rb"<([A-Za-z_][\w:.-]{0,60})[\s/>]", uncommented(text))
    if root and text.lstrip().startswith(b"<"):
        return f"an XML file whose root is <{root[1].decode()}>", f"Export the session as {formats_text()}."
    if not text.strip(b"\x00"):
        return "nothing but zero bytes", "The copy failed; copy or export the file again."
    hint = f"Export the session again as {formats_text()}."
    if name.lower().endswith((".fit", ".fit.gz")):
        return "a file without a FIT header (its first 12 bytes are damaged or missing)", hint
    return "other data", hint
