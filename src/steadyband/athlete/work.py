"""Many recordings read and audited: on every core, in this process, or through any executor that is given their bytes.

`audit_bytes` is the whole job on one recording. It sees no disk, clock or network: the same bytes, zone sets, settings and
labels give the same result in any process on any machine with the same versions (`review.executor` holds them to that).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from steadyband.athlete.condensed import Condensed, condense
from steadyband.athlete.cores import worth_spreading
from steadyband.athlete.executor import Executor, Here, inputs_only, through
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.guard import guarded
from steadyband.athlete.model import Failure
from steadyband.athlete.outline import Outline, outline_of
from steadyband.athlete.sessions import audit_recording, in_time_order
from steadyband.audit.model import Audit
from steadyband.ground.errors import RecordingError, UnknownFormatError
from steadyband.recording import Recording, read
from steadyband.recording.archives import Source, contents, list_sources

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


@dataclass(frozen=True, slots=True)
class Audited:
    """What became of the bytes of one recording: its sessions, or why they could not be used."""

    products: tuple[Product, ...] = ()
    fault: Fault | None = None


def audit_bytes(data: bytes, name: str, folder: AthleteFolder, sport: str | None = None) -> Audited:
    """Every session in the bytes of one recording (plain or gzip), audited and condensed: a pure function.

    `name` is the file's name as shown. Of `folder` only what an audit depends on is looked at: zone sets, labels, and of
    athlete.toml settings, time zone, reader, thresholds, intent rules, rider, privacy and meter offsets
    (`executor.inputs_only`); its paths are never opened. `sport` stands in for one that the file does not name. A faulty
    recording is a `fault`. Raises AthleteFileError where the athlete file does not fit the test.
    """
    try:
        with guarded():
            return Audited(products_of(read(data, name), None, folder, sport))
    except RecordingError as refused:
        return Audited(fault=_fault(refused))


def work_on(sources: Sequence[Source], folder: AthleteFolder, sport: str | None) -> list[Outcome]:
    """The outcome of each source, in order."""
    return [_outcome(source, data, folder, sport) for source, data in contents(sources)]


def _outcome(source: Source, data: bytes | RecordingError, folder: AthleteFolder, sport: str | None) -> Outcome:
    if isinstance(data, RecordingError):
        return _without_bytes(source, data)
    return _placed(source, hashlib.sha256(data).hexdigest(), audit_bytes(data, source.name, folder, sport))


def _without_bytes(source: Source, why: RecordingError) -> Outcome:
    return Outcome(source, "", source.name, fault=_fault(why))


def _placed(source: Source, sha256: str, audited: Audited) -> Outcome:
    """What became of the bytes, with the file they came from."""
    at = source.path
    products = tuple(replace(item, condensed=replace(item.condensed, path=at)) for item in audited.products)
    return Outcome(source, sha256, source.name, products, audited.fault)


def products_of(
    recording: Recording, path: Path | None, folder: AthleteFolder, sport: str | None
) -> tuple[Product, ...]:
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


def outcomes(
    sources: Sequence[Source], folder: AthleteFolder, sport: str | None = None, executor: Executor | None = None
) -> Generator[list[Outcome]]:
    """Outcomes as they come, a few at a time and in no given order; closing the iterator stops the work.

    Without an executor many files are spread over the cores of this machine; `Here()` keeps them in this process; any other
    is given the bytes of each recording. Raises AthleteFileError where the athlete file does not fit the test, and
    ExecutorError where the executor cannot do the work.
    """
    if executor is not None and not isinstance(executor, Here):
        yield from _given_away(sources, folder, sport, executor)
        return
    work = partial(work_on, folder=folder, sport=sport)
    pieces = [sources[number : number + AT_ONCE] for number in range(0, len(sources), AT_ONCE)]
    if executor is not None or not worth_spreading(len(sources)):
        yield from map(work, pieces)
        return
    from steadyband.athlete.parallel import spread

    yield from spread(work, pieces)


def _given_away(
    sources: Sequence[Source], folder: AthleteFolder, sport: str | None, executor: Executor
) -> Generator[list[Outcome]]:
    work = partial(audit_bytes, folder=inputs_only(folder), sport=sport)
    refused: list[Outcome] = []
    for (source, sha256), audited in through(executor, work, _readable(sources, refused)):
        made = audited if isinstance(audited, Audited) else Audited(fault=_fault(audited))
        yield [_placed(source, sha256 if made is audited else "", made)]
    yield refused


def _readable(
    sources: Sequence[Source], refused: list[Outcome]
) -> Iterator[tuple[tuple[Source, str], tuple[bytes, str]]]:
    """Each source with its digest, and the arguments of its work; those without bytes go to `refused`."""
    for source, data in contents(sources):
        if isinstance(data, RecordingError):
            refused.append(_without_bytes(source, data))
        else:
            yield (source, hashlib.sha256(data).hexdigest()), (data, source.name)


def audit_all(
    paths: Sequence[Path],
    folder: AthleteFolder,
    sport: str | None = None,
    done: Callable[[], None] = lambda: None,
) -> tuple[tuple[Audit, ...], tuple[Failure, ...]]:
    """All audits of files and of recordings in zip archives, in time order, and what could not be read.

    `done` is called once a recording. Each is audited as it is: copies are not left out, parts not joined, nothing is taken from a store or put into it.
    Faulty recordings become failures. Raises AthleteFileError where the athlete file does not fit the test.
    """
    listings = [list_sources(path) for path in paths]
    sources = [source for listing in listings for source in listing.sources]
    failures = [
        Failure(source.place, f"{fault.message} {fault.hint}")
        for listing in listings
        for source, fault in listing.refused
    ]
    audits: list[Audit] = []
    for batch in outcomes(sources, folder, sport):
        for outcome in batch:
            done()
            audits += [product.audit for product in outcome.products]
            if outcome.fault and not (outcome.fault.foreign and outcome.source.inside):
                failures.append(Failure(outcome.source.place, outcome.fault.message))
    return in_time_order(audits), tuple(sorted(failures, key=lambda item: item.file))
