"""Many recordings read and audited: on every core, in this process, or through any executor that is given their bytes.

`audit_bytes` is the whole job on one recording. It sees no disk, clock or network: the same bytes, zone sets, settings and
labels give the same result in any process on any machine with the same versions (`review.executor` holds them to that).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any, Generic, TypeVar

from steadyband.athlete.codec import CodecError
from steadyband.athlete.condensed import Condensed, condense
from steadyband.athlete.cores import worth_spreading
from steadyband.athlete.executor import Executor, Here, inputs_only, through
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.guard import guarded
from steadyband.athlete.measuring import Measured, packed, unpacked
from steadyband.athlete.model import Failure
from steadyband.athlete.outline import Outline, outline_of
from steadyband.athlete.sessions import audit_measured, audit_recording, in_time_order, measure, sport_of
from steadyband.audit.model import Audit
from steadyband.ground.errors import RecordingError, UnknownFormatError
from steadyband.recording import Recording, read
from steadyband.recording.archives import Source, contents, list_sources

AT_ONCE = 4
"""Files a worker takes at a time: few enough for steady progress, enough to share the cost of handing over."""

Item = TypeVar("Item")
Key = TypeVar("Key")
Result = TypeVar("Result")
Made = TypeVar("Made")
Make = Callable[[Recording, AthleteFolder, str | None], tuple[Made, ...]]
"""What is made of each session of a recording; the sport stands in for one that the file does not name."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the store keeps a session's measured rows: the name of the file, and the number of the row in it."""

    file: str
    row: int


@dataclass(frozen=True, slots=True)
class Product:
    """One session with everything that is kept of it; `measured` is packed, or says where it is kept already, or None
    where it cannot be packed."""

    condensed: Condensed
    outline: Outline
    measured: bytes | Place | None = field(repr=False)


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a file could not be used; `foreign`: it is no recording at all."""

    message: str
    foreign: bool = False


@dataclass(frozen=True, slots=True)
class Audited(Generic[Made]):
    """What became of the bytes of one recording: what was made of its sessions, or why they could not be used."""

    products: tuple[Made, ...] = ()
    fault: Fault | None = None


@dataclass(frozen=True, slots=True)
class Outcome(Generic[Made]):
    """What became of one source; `sha256` is empty where its bytes could not be had, `name` is the one shown."""

    source: Source
    sha256: str
    name: str
    products: tuple[Made, ...] = ()
    fault: Fault | None = None


def audit_bytes(data: bytes, name: str, folder: AthleteFolder, sport: str | None = None) -> Audited[Product]:
    """Every session in the bytes of one recording (plain or gzip), audited and condensed: a pure function.

    `name` is the file's name as shown. Of `folder` only what an audit depends on is looked at: zone sets, labels, and of
    athlete.toml settings, time zone, reader, thresholds, intent rules, rider, privacy and meter offsets
    (`executor.inputs_only`); its paths are never opened. `sport` stands in for one that the file does not name. A faulty
    recording is a `fault`. Raises AthleteFileError where the athlete file does not fit the test.
    """
    return _made_of(data, name, folder, sport, products_of)


def _made_of(data: bytes, name: str, folder: AthleteFolder, sport: str | None, make: Make[Made]) -> Audited[Made]:
    try:
        with guarded():
            return Audited(make(read(data, name), folder, sport))
    except RecordingError as refused:
        return Audited(fault=_fault(refused))


def work_on(
    sources: Sequence[Source], folder: AthleteFolder, sport: str | None, make: Make[Made]
) -> list[Outcome[Made]]:
    """The outcome of each source, in order."""
    return [_outcome(source, data, folder, sport, make) for source, data in contents(sources)]


def _outcome(
    source: Source, data: bytes | RecordingError, folder: AthleteFolder, sport: str | None, make: Make[Made]
) -> Outcome[Made]:
    if isinstance(data, RecordingError):
        return _without_bytes(source, data)
    return _placed(source, hashlib.sha256(data).hexdigest(), _made_of(data, source.name, folder, sport, make))


def _without_bytes(source: Source, why: RecordingError) -> Outcome[Any]:
    return Outcome(source, "", source.name, fault=_fault(why))


def _placed(source: Source, sha256: str, audited: Audited[Made]) -> Outcome[Made]:
    """What became of the bytes, with the file they came from."""
    return Outcome(source, sha256, source.name, audited.products, audited.fault)


def products_of(recording: Recording, folder: AthleteFolder, sport: str | None) -> tuple[Product, ...]:
    """Every session of a recording: measured and packed, its audit condensed, and its outline."""
    sessions = measure(recording, folder, sport)
    outlines = [outline_of(session, recording.format) for session in recording.sessions]
    return tuple(
        Product(condense(audit_measured(session, folder)), outline, _packed(session))
        for session, outline in zip(sessions, outlines, strict=True)
    )


def _packed(session: Measured) -> bytes | None:
    try:
        return packed(session)
    except CodecError:
        return None


def judged_again(sessions: Sequence[bytes], name: str, folder: AthleteFolder, sport: str | None) -> Audited[Condensed]:
    """The sessions of one content, measured and packed in an earlier run, judged by what applies now; `name` is its file's.

    None at all where they must be measured again: taken as another sport than now, or past a limit of time or memory.
    Damaged ones are a `fault`.
    """
    try:
        with guarded():
            found = [replace(unpacked(session), file=name) for session in sessions]
            if any(sport_of(item, item.start_s, folder, sport) != item.taken_as for item in found):
                return Audited()
            return Audited(tuple(condense(audit_measured(item, folder)) for item in found))
    except RecordingError:
        return Audited()
    except CodecError as fault:
        return Audited(fault=Fault(str(fault)))


def _fault(refused: RecordingError) -> Fault:
    text = f"{refused.message} {refused.hint}".strip()
    place = f"{refused.place}: " if refused.place else ""
    return Fault(f"{place}{text}", isinstance(refused, UnknownFormatError))


def outcomes(
    sources: Sequence[Source], folder: AthleteFolder, sport: str | None = None, executor: Executor | None = None
) -> Generator[list[Outcome[Product]]]:
    """Outcomes as they come, a few at a time and in no given order; closing the iterator stops the work.

    Without an executor many files are spread over the cores of this machine; `Here()` keeps them in this process; any other
    is given the bytes of each recording. Raises AthleteFileError where the athlete file does not fit the test, and
    ExecutorError where the executor cannot do the work.
    """
    if executor is not None and not isinstance(executor, Here):
        return _given_away(sources, folder, sport, executor)
    work = partial(work_on, folder=folder, sport=sport, make=products_of)
    return _on_this_machine(sources, len(sources), work, executor)


def judged(
    kept: Iterable[tuple[Key, tuple[Sequence[bytes], str]]],
    count: int,
    folder: AthleteFolder,
    sport: str | None = None,
    executor: Executor | None = None,
) -> Generator[list[tuple[Key, Audited[Condensed]]]]:
    """`judged_again` of each of `count` (key, (sessions, name)), a few at a time, done where `outcomes` are."""
    if executor is not None and not isinstance(executor, Here):
        there = partial(judged_again, folder=inputs_only(folder), sport=sport)
        return (
            [(key, Audited() if isinstance(made, RecordingError) else made)]
            for key, made in through(executor, there, kept)
        )
    return _on_this_machine(kept, count, partial(_judge_some, folder=folder, sport=sport), executor)


def _judge_some(
    kept: Sequence[tuple[Key, tuple[Sequence[bytes], str]]], folder: AthleteFolder, sport: str | None
) -> list[tuple[Key, Audited[Condensed]]]:
    return [(key, judged_again(*one, folder=folder, sport=sport)) for key, one in kept]


def _on_this_machine(
    items: Iterable[Item], count: int, work: Callable[[Sequence[Item]], Result], executor: Executor | None
) -> Generator[Result]:
    """`work` on a few of `count` items at a time: in this process where that is asked for or soonest, else on every core."""
    left = iter(items)
    pieces = iter(lambda: list(islice(left, AT_ONCE)), [])
    if executor is not None or not worth_spreading(count):
        yield from map(work, pieces)
        return
    from steadyband.athlete.parallel import spread

    yield from spread(work, pieces)


def _given_away(
    sources: Sequence[Source], folder: AthleteFolder, sport: str | None, executor: Executor
) -> Generator[list[Outcome[Product]]]:
    work = partial(audit_bytes, folder=inputs_only(folder), sport=sport)
    refused: list[Outcome[Product]] = []
    for (source, sha256), audited in through(executor, work, _readable(sources, refused)):
        made = audited if isinstance(audited, Audited) else Audited(fault=_fault(audited))
        yield [_placed(source, sha256 if made is audited else "", made)]
    yield refused


def _readable(
    sources: Sequence[Source], refused: list[Outcome[Product]]
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
    work = partial(work_on, folder=folder, sport=sport, make=audit_recording)
    for batch in _on_this_machine(sources, len(sources), work, None):
        for outcome in batch:
            done()
            audits += outcome.products
            if outcome.fault and not (outcome.fault.foreign and outcome.source.inside):
                failures.append(Failure(outcome.source.place, outcome.fault.message))
    return in_time_order(audits), tuple(sorted(failures, key=lambda item: item.file))
