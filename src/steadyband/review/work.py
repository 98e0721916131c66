"""Many recordings read and audited in pieces of a few files, on every core where there are many."""

from __future__ import annotations

import hashlib
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from steadyband.audit.model import Audit
from steadyband.errors import RecordingError, UnknownFormatError
from steadyband.recording import Recording, read
from steadyband.recording.archives import Source, contents
from steadyband.review.condensed import Condensed, condense
from steadyband.review.folder import AthleteFolder
from steadyband.review.outline import Outline, outline_of
from steadyband.review.parallel import spread, worth_spreading
from steadyband.review.sessions import audit_recording

AT_ONCE = 4
"""Files a worker takes at a time: few enough for steady progress, enough to share the cost of handing over."""


@dataclass(frozen=True, slots=True)
class Product:
    """One session with everything that was worked out from its file."""

    audit: Audit
    condensed: Condensed
    outline: Outline


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a file could not be used; `foreign`: it is no recording at all."""

    message: str
    foreign: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one source; `sha256` is empty where its bytes could not be had, `name` is the one shown."""

    source: Source
    sha256: str
    name: str
    products: tuple[Product, ...] = ()
    fault: Fault | None = None


def work_on(sources: Sequence[Source], folder: AthleteFolder, sport: str | None) -> list[Outcome]:
    """The outcome of each source, in order."""
    return [_outcome(source, data, folder, sport) for source, data in contents(sources)]


def _outcome(source: Source, data: bytes | RecordingError, folder: AthleteFolder, sport: str | None) -> Outcome:
    if isinstance(data, RecordingError):
        return Outcome(source, "", source.name, fault=_fault(data))
    sha256 = hashlib.sha256(data).hexdigest()
    try:
        return Outcome(source, sha256, source.name, _products(source, data, folder, sport))
    except RecordingError as refused:
        return Outcome(source, sha256, source.name, fault=_fault(refused))


def _products(source: Source, data: bytes, folder: AthleteFolder, sport: str | None) -> tuple[Product, ...]:
    recording = read(data, source.name)
    return products_of(recording, source.path, folder, sport)


def products_of(recording: Recording, path: Path, folder: AthleteFolder, sport: str | None) -> tuple[Product, ...]:
    """Every session of a recording with its audit, condensed, and its outline."""
    audits = audit_recording(recording, folder, sport)
    outlines = [outline_of(session, recording.format) for session in recording.sessions]
    return tuple(
        Product(audit, condense(audit, path), outline) for audit, outline in zip(audits, outlines, strict=True)
    )


def _fault(refused: RecordingError) -> Fault:
    text = f"{refused.message} {refused.hint}".strip()
    place = f"{refused.place}: " if refused.place else ""
    return Fault(f"{place}{text}", isinstance(refused, UnknownFormatError))


def outcomes(sources: Sequence[Source], folder: AthleteFolder, sport: str | None = None) -> Generator[list[Outcome]]:
    """Outcomes as they come, a few at a time and in no given order; closing the iterator stops the work.

    Raises AthleteFileError where the athlete file does not fit the test.
    """
    work = partial(work_on, folder=folder, sport=sport)
    pieces = [sources[number : number + AT_ONCE] for number in range(0, len(sources), AT_ONCE)]
    yield from spread(work, pieces) if worth_spreading(len(sources)) else map(work, pieces)
