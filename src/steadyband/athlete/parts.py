"""One session that was recorded in several files: read together, audited as one."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Sequence
from functools import reduce
from itertools import pairwise

from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.work import Outcome, Product, products_of
from steadyband.ground.errors import RecordingError
from steadyband.ground.units import duration_text
from steadyband.recording import Recording, SessionRecords, read
from steadyband.recording.archives import Source, contents
from steadyband.recording.joining import join_records
from steadyband.recording.model import Note

Part = tuple[Source, int]


def joint_name(sources: Sequence[Source]) -> str:
    """The name shown of a session in several files."""
    return " + ".join(source.name for source in sources)


def joint_sha256(sha256s: Sequence[str], numbers: Sequence[int]) -> str:
    """Stands for the contents together: SHA-256 over their digests and which session of each is meant."""
    text = "+".join(f"{sha256}.{number}" for sha256, number in zip(sha256s, numbers, strict=True))
    return hashlib.sha256(text.encode()).hexdigest()


def audit_parts(places: Sequence[Part], folder: AthleteFolder, sport: str | None) -> Outcome[Product]:
    """The outcome of parts that belong together, given in time order. Raises as `joined_recording`."""
    whole = joined_recording(places)
    return Outcome(places[0][0], whole.sha256, whole.file, products_of(whole, folder, sport))


def joined_recording(places: Sequence[Part]) -> Recording:
    """Parts that belong together, given in time order, as one recording of one session.

    Raises RecordingError where a file is no longer what it was.
    """
    read_ones = [_part(source, number) for source, number in places]
    sessions = [session for _, session in read_ones]
    recordings = [recording for recording, _ in read_ones]
    sha256 = joint_sha256([item.sha256 for item in recordings], [number for _, number in places])
    return dataclasses.replace(
        recordings[0],
        file=joint_name([source for source, _ in places]),
        sha256=sha256,
        sessions=(reduce(join_records, sessions),),
        notes=(*(note for item in recordings for note in item.notes), _note(sessions)),
        damage="; ".join(item.damage for item in recordings if item.damage) or None,
    )


def _part(source: Source, number: int) -> tuple[Recording, SessionRecords]:
    (_, data), *_ = contents([source])
    if isinstance(data, RecordingError):
        raise data
    recording = read(data, source.name)
    if number >= len(recording.sessions):
        raise RecordingError("the file changed while it was worked on.", file=source.place, hint="Run again.")
    return recording, recording.sessions[number]


def _note(sessions: Sequence[SessionRecords]) -> Note:
    gaps = [b.time_s[0] - a.time_s[-1] for a, b in pairwise(sessions)]
    between = " and ".join(duration_text(float(gap)) for gap in gaps)
    text = f"{len(sessions)} files were joined: they are parts of one session; the {between} between them count as a pause."
    return Note("joined", "info", text, len(sessions))
