"""What a session's recording alone tells, before any test, label or judging setting has a say: its cleaned one-second rows.

Kept packed in the store, so that a session is judged again without its recording being opened.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

from steadyband.athlete import codec
from steadyband.ground.settings import Settings
from steadyband.recording import Recording, SessionRecords
from steadyband.recording.cleaning import prepared_rows
from steadyband.recording.grid import first_second
from steadyband.recording.model import Lap, Note, Rows

MOST_BYTES = 2**30
"""Bytes that one session may unpack to; the longest recording that is read stays far below."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One session as measured; `taken_as` is the sport whose rules its rows were cleaned by (METHOD 2).

    `start_s` is its first second in Unix time; `sport` is what the file says, `guessed` where it says nothing.
    """

    file: str
    sha256: str
    device: str | None
    damage: str | None
    notes: tuple[Note, ...]
    sport: str
    sub_sport: str | None
    name: str | None
    guessed: bool
    laps: tuple[Lap, ...]
    taken_as: str
    start_s: int
    rows: Rows


def measured(recording: Recording, session: SessionRecords, taken_as: str, settings: Settings) -> Measured:
    """One session of a recording as measured, cleaned as a session of the sport `taken_as`."""
    return Measured(
        file=recording.file,
        sha256=recording.sha256,
        device=recording.device,
        damage=recording.damage,
        notes=recording.notes,
        sport=session.sport,
        sub_sport=session.sub_sport,
        name=session.name,
        guessed=session.guessed,
        laps=session.laps,
        taken_as=taken_as,
        start_s=first_second(session, settings.grid),
        rows=prepared_rows(session, settings, taken_as),
    )


def packed(session: Measured) -> bytes:
    """The session in as few bytes as cost little time: byte planes lie together, so runs of one byte are most of it."""
    packer = zlib.compressobj(1, strategy=zlib.Z_RLE)
    return packer.compress(codec.dump(session, Measured)) + packer.flush()


def unpacked(data: bytes) -> Measured:
    """The session that `packed` was given. Raises CodecError where the bytes are none."""
    try:
        return codec.load(zlib.decompressobj().decompress(data, MOST_BYTES), Measured)
    except zlib.error as fault:
        raise codec.CodecError(f"no packed session: {fault}") from fault
