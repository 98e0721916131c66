"""Every session of an athlete folder: from the store where it is known, read and audited where it is new."""

from __future__ import annotations

import hashlib
from collections.abc import Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import groupby, pairwise
from pathlib import Path
from typing import Protocol

from steadyband.athlete import parts
from steadyband.athlete.astray import astray
from steadyband.athlete.condensed import Condensed
from steadyband.athlete.executor import Executor
from steadyband.athlete.folder import AthleteFolder, left_alone_in
from steadyband.athlete.misplaced import misplaced
from steadyband.athlete.model import Failure
from steadyband.athlete.outline import Outline
from steadyband.athlete.same import Candidate, LeftOut, joined, without_copies
from steadyband.athlete.sessions import audit_measured, audit_recording
from steadyband.athlete.store import Store, stat_of, unreadable
from steadyband.athlete.work import Audited, Fault, Outcome, Place, Product, judged, judged_again, outcomes, work_on
from steadyband.audit.model import Audit
from steadyband.ground.errors import RecordingError
from steadyband.ground.reader import written_for
from steadyband.ground.units import duration_text, time_of_day
from steadyband.recording.archives import Source, list_sources
from steadyband.recording.source import packed_bytes

FLUSH = 24
"""Files whose results are written to the store together."""

Stat = tuple[int, int]
Kept = tuple[tuple[Outline, Place], ...]
"""The sessions of one content whose measured rows are in the store."""


class Watcher(Protocol):
    """Is told how the work goes on."""

    def judging(self, files: int) -> None:
        """So many files are known as measured and are judged again, before any is read."""

    def begin(self, to_read: int, known: int) -> None:
        """So many files must be read; so many are known from the store."""

    def advance(self, files: int) -> None:
        """So many more files are done."""


class Unwatched:
    """Nobody looks."""

    def judging(self, files: int) -> None:
        """Says nothing."""

    def begin(self, to_read: int, known: int) -> None:
        """Says nothing."""

    def advance(self, files: int) -> None:
        """Says nothing."""


class Stopped(KeyboardInterrupt):
    """Ctrl-C: `done` of `total` files are finished, and kept where there is a store."""

    def __init__(self, done: int, total: int, kept: bool) -> None:
        super().__init__(f"stopped with {done} of {total} files done")
        self.done, self.total, self.kept = done, total, kept


@dataclass(frozen=True, slots=True)
class Remark:
    """Something said about a day's files: copies left out, parts joined."""

    day: date
    text: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One session and where its measured rows are found: in the store (`kept`), or in its sources again."""

    condensed: Condensed
    sources: tuple[tuple[Source, int], ...]
    kept: Place | None
    outline: Outline

    @property
    def span(self) -> tuple[float, float]:
        """First and last record, Unix seconds."""
        return self.outline.start_s, self.outline.end_s


@dataclass(frozen=True, slots=True)
class Season:
    """Every session of a folder once, in time order; files that could not be read; what was left out, joined or noticed.

    `noticed` is what reading the folder gave rise to, `remarks` are about sessions and belong into the review.
    """

    entries: tuple[Entry, ...]
    failures: tuple[Failure, ...]
    remarks: tuple[Remark, ...]
    about_files: tuple[str, ...]
    folder: AthleteFolder = field(repr=False)
    store: Store | None = field(repr=False, default=None)
    sport: str | None = None
    left_alone: tuple[str, ...] = ()
    misplaced: tuple[str, ...] = ()

    @property
    def named_before(self) -> dict[str, str]:
        """The week whose page named a file and its fault (`unreadable.key_of`), where the store knows one."""
        return unreadable.named_before(self.store.place) if self.store else {}

    def keep_named(self, week: str) -> None:
        """Keep that the files that could not be read were named on the page of this week."""
        if self.store:
            unreadable.keep_named(self.store.place, self.failures, week)

    @property
    def notices(self) -> tuple[str, ...]:
        """What the store had to say so far, then what was noticed about files."""
        return (*(self.store.notices if self.store else ()), *self.about_files)

    @property
    def sessions(self) -> tuple[Condensed, ...]:
        """All sessions without their arrays."""
        return tuple(entry.condensed for entry in self.entries)

    def audits(self, first: date, last: date) -> tuple[Audit, ...]:
        """The whole audits of the sessions from one local day to another, arrays and all."""
        wanted = [entry for entry in self.entries if first <= entry.condensed.day <= last]
        return tuple(self._whole(entry) for entry in wanted)

    def _whole(self, entry: Entry) -> Audit:
        name = entry.condensed.audit.info.file
        measured = self.store.measured(entry.kept, name) if self.store and entry.kept else None
        return audit_measured(measured, self.folder) if measured else self._again(entry)

    def _again(self, entry: Entry) -> Audit:
        return audit_again(entry.sources, self.folder, self.sport)

    def remarks_for(self, first: date, last: date) -> tuple[str, ...]:
        """What was said about the files of these days."""
        return (*(remark.text for remark in self.remarks if first <= remark.day <= last), *self.left_alone)


def audit_again(sources: Sequence[tuple[Source, int]], folder: AthleteFolder, sport: str | None) -> Audit:
    """The audit of a session from its files. Raises RecordingError where they are no longer what they were."""
    if len(sources) > 1:
        return audit_recording(parts.joined_recording(sources), folder, sport)[0]
    (source, number), *_ = sources
    outcome = work_on([source], folder, sport, audit_recording)[0]
    if outcome.fault or number >= len(outcome.products):
        raise RecordingError("the file changed while it was worked on.", file=source.place, hint="Run again.")
    return outcome.products[number]


def load_season(
    paths: Sequence[Path],
    folder: AthleteFolder,
    store: Store | None = None,
    watcher: Watcher | None = None,
    sport: str | None = None,
    *,
    executor: Executor | None = None,
) -> Season:
    """Every session in `paths` (files and zip archives), copies left out and parts joined.

    What the store knows is taken from it; the rest is read on every core, or through `executor` (`work.outcomes`), and kept
    as it comes. Memory does not grow with the arrays: they live only until they are written. Raises Stopped on Ctrl-C with
    everything done so far kept, AthleteFileError where the athlete file does not fit the test, and ExecutorError.
    """
    run = _Run(folder, store, watcher or Unwatched(), sport)
    run.executor = executor
    run.take(paths)
    with written_for(folder.athlete.reader):
        return run.season()


class _Run:
    """One pass over the files."""

    def __init__(self, folder: AthleteFolder, store: Store | None, watcher: Watcher, sport: str | None) -> None:
        self.folder, self.store, self.watcher, self.sport = folder, store, watcher, sport
        self.entries: list[Entry] = []
        self.failures: list[Failure] = []
        self.passed_over: list[Source] = []
        self.stats: dict[Path, Stat | None] = {}
        self.recognised: list[tuple[Source, str, Stat | None]] = []
        self.executor: Executor | None = None
        self.to_judge: dict[Source, tuple[str, Kept]] = {}

    def take(self, paths: Sequence[Path]) -> None:
        """Look every file up, then read those that are new."""
        sources = [source for path in paths for source in self._sources(path)]
        unknown = [source for source in sources if not self._known(source)]
        if self.store:
            self.store.remember(self.recognised)
        new = [source for source in unknown if source not in self.to_judge]
        self._judge_again()
        new += self.to_judge
        self.watcher.begin(len(new), len(sources) - len(new))
        self._read(new)

    def _sources(self, path: Path) -> tuple[Source, ...]:
        stat = self.stats[path] = stat_of(path)
        if self.store and self.store.sha256_of(Source(path), stat):
            return (Source(path),)
        listing = list_sources(path)
        self.failures += [Failure(source.place, f"{fault.message} {fault.hint}") for source, fault in listing.refused]
        return listing.sources

    def _known(self, source: Source) -> bool:
        """Whether nothing is left to do for a source; one to be judged again is put down as such."""
        stored = self._lookup(source) if self.store and not self.store.is_empty else None
        if stored is None:
            return False
        if stored.fault:
            self._fail(source, stored.fault)
        self.entries += [_entry(product, ((source, number),)) for number, product in enumerate(stored.products)]
        return True

    def _lookup(self, source: Source) -> Audited[Product] | None:
        assert self.store is not None
        stat = self.stats[source.path]
        sha256 = self.store.sha256_of(source, stat)
        if sha256 is None and not source.inside:
            sha256 = _content_of(source.path)
            if sha256:
                self.recognised.append((source, sha256, stat))
        if not sha256:
            return None
        found = self.store.find(sha256, source.name, source.path)
        if found is None and (kept := self.store.again(sha256)):
            self.to_judge[source] = (sha256, kept)
        return found

    def _judge_again(self) -> None:
        """Judge what is known as measured. What that fails for stays in `to_judge`: it must be read after all."""
        if self.store and self.to_judge:
            self.watcher.judging(len(self.to_judge))
            self._gather(self._judged(self.store, self.to_judge), len(self.to_judge))

    def _judged(self, store: Store, wanted: Mapping[Source, tuple[str, Kept]]) -> Generator[list[Outcome[Product]]]:
        work = judged(_packed_in(store, wanted), len(wanted), self.folder, self.sport, self.executor)
        with closing(work):
            for batch in work:
                yield [made for source, found in batch if (made := self._outcome_again(store, source, found))]

    def _outcome_again(self, store: Store, source: Source, found: Audited[Condensed]) -> Outcome[Product] | None:
        sha256, kept = self.to_judge[source]
        if found.fault:
            store.damaged()
        if len(found.products) != len(kept):
            return None
        del self.to_judge[source]
        products = (Product(made, *before) for made, before in zip(found.products, kept, strict=True))
        return Outcome(source, sha256, source.name, tuple(products))

    def _read(self, new: Sequence[Source]) -> None:
        self._gather(outcomes(new, self.folder, self.sport, self.executor), len(new))

    def _gather(self, work: Generator[list[Outcome[Product]]], total: int) -> None:
        """Enter and keep outcomes as they come. Raises Stopped on Ctrl-C, with what is done kept."""
        pending: list[Outcome[Product]] = []
        done = 0
        try:
            for batch in work:
                pending += batch
                done += len(batch)
                self.watcher.advance(len(batch))
                if len(pending) >= FLUSH:
                    self._keep(pending)
                    pending = []
        except KeyboardInterrupt as stop:
            raise Stopped(done, total, self.store is not None) from stop
        finally:
            work.close()
            self._keep(pending)

    def _keep(self, pending: Sequence[Outcome[Product]]) -> None:
        kept = self.store.put(pending, self.stats) if self.store else {}
        for outcome in pending:
            if outcome.fault:
                self._fail(outcome.source, outcome.fault)
            places = kept.get(outcome.sha256, (None,) * len(outcome.products))
            for number, (product, place) in enumerate(zip(outcome.products, places, strict=True)):
                condensed = replace(product.condensed, path=outcome.source.path)
                self.entries.append(Entry(condensed, ((outcome.source, number),), place, product.outline))

    def _fail(self, source: Source, fault: Fault) -> None:
        if fault.foreign and source.inside:
            self.passed_over.append(source)
        else:
            self.failures.append(Failure(source.place, fault.message))

    def season(self) -> Season:
        """What was found, every session once."""
        self._fail_empty_archives()
        self.failures.sort(key=lambda item: item.file)
        entries = sorted(self.entries, key=lambda entry: (entry.span, entry.condensed.audit.info.file))
        limits = self.folder.athlete.settings.copies
        whole, dropped = without_copies(joined(_candidates(entries), limits), limits)
        chosen = [self._one(candidate, entries) for candidate in whole]
        remarks = [_left_out(out, entries) for out in dropped]
        remarks += [_joined(candidate, entries) for candidate in whole if len(candidate.parts) > 1]
        if self.store:
            self.store.finish()
        left_alone = left_alone_in(self.folder.athlete.activities)
        wrong = astray([entry.condensed.day for entry in chosen], date.today())
        told = tuple(_astray(entry) for number, entry in enumerate(chosen) if number in wrong)
        return Season(
            entries=tuple(entry for number, entry in enumerate(chosen) if number not in wrong),
            failures=tuple(self.failures),
            remarks=tuple(sorted(remarks, key=lambda remark: (remark.day, remark.text))),
            about_files=(*_passed_over(self.passed_over), *left_alone, *told),
            folder=self.folder,
            store=self.store,
            sport=self.sport,
            misplaced=misplaced(self.folder),
            left_alone=told,
        )

    def _fail_empty_archives(self) -> None:
        """An archive without one recording is a file that could not be used."""
        used = {source.path for entry in self.entries for source, _ in entry.sources}
        used |= {Path(failure.file) for failure in self.failures}
        for path, members in groupby(self.passed_over, key=lambda source: source.path):
            if path not in used and not any(Path(f.file).is_relative_to(path) for f in self.failures):
                text = f"expected recordings in the archive, found none among its {len(list(members))} members."
                self.failures.append(Failure(str(path), text))

    def _one(self, candidate: Candidate, entries: Sequence[Entry]) -> Entry:
        if len(candidate.parts) == 1:
            return entries[candidate.parts[0]]
        sources = tuple(place for part in candidate.parts for place in entries[part].sources)
        shas = [entries[part].condensed.audit.info.sha256 for part in candidate.parts]
        sha256 = parts.joint_sha256(shas, [number for _, number in sources])
        return self._from_store(sha256, sources) or self._joined_now(sources)

    def _from_store(self, sha256: str, sources: tuple[tuple[Source, int], ...]) -> Entry | None:
        """Parts that were joined before, judged again where that is needed."""
        if self.store is None:
            return None
        name, first = parts.joint_name([source for source, _ in sources]), sources[0][0]
        stored = self.store.find(sha256, name, first.path)
        if stored is not None:
            return _entry(stored.products[0], sources) if stored.products else None
        kept = self.store.again(sha256)
        found = judged_again(*_packed_of(self.store, kept, name), folder=self.folder, sport=self.sport)
        if not kept or len(found.products) != len(kept):
            return None
        product = Product(found.products[0], *kept[0])
        return self._kept_one(Outcome(first, sha256, name, (product,)), sources)

    def _joined_now(self, sources: tuple[tuple[Source, int], ...]) -> Entry:
        return self._kept_one(parts.audit_parts(sources, self.folder, self.sport), sources)

    def _kept_one(self, outcome: Outcome[Product], sources: tuple[tuple[Source, int], ...]) -> Entry:
        kept = self.store.put([outcome], {}).get(outcome.sha256) if self.store else None
        (product,) = outcome.products
        condensed = replace(product.condensed, path=outcome.source.path)
        return Entry(condensed, sources, kept[0] if kept else None, product.outline)


def _entry(product: Product, sources: tuple[tuple[Source, int], ...]) -> Entry:
    """A session from the store."""
    place = product.measured if isinstance(product.measured, Place) else None
    return Entry(product.condensed, sources, place, product.outline)


def _packed_in(
    store: Store, wanted: Mapping[Source, tuple[str, Kept]]
) -> Iterator[tuple[Source, tuple[list[bytes], str]]]:
    """Each source with its sessions as measured and its name, in the order of the store's files: each is read once."""
    in_order = sorted(wanted.items(), key=lambda item: item[1][1][0][1].file)
    for source, (_, kept) in in_order:
        yield source, _packed_of(store, kept, source.name)


def _packed_of(store: Store, kept: Kept, name: str) -> tuple[list[bytes], str]:
    """The sessions of one content as measured, those that are gone left out; and the name."""
    return [data for _, place in kept if (data := store.packed(place)) is not None], name


def _content_of(path: Path) -> str:
    try:
        return hashlib.sha256(packed_bytes(path)).hexdigest()
    except RecordingError:
        return ""


def _candidates(entries: Sequence[Entry]) -> list[Candidate]:
    return [_candidate(number, entry) for number, entry in enumerate(entries)]


def _candidate(number: int, entry: Entry) -> Candidate:
    info = entry.condensed.audit.info
    start_s, end_s = entry.span
    group = entry.sources[0][0].place
    return Candidate(
        parts=(number,),
        file=info.file,
        group=group,
        sport=info.sport,
        intent=info.stated_intent,
        start_s=start_s,
        end_s=end_s,
        load_outline=lambda: entry.outline,
        damaged=info.damage is not None,
    )


def _left_out(out: LeftOut, entries: Sequence[Entry]) -> Remark:
    started = entries[out.kept.parts[0]].condensed.audit.info.local_start
    text = f"{out.dropped.file} holds the session of {started:%-d %B %Y}, {time_of_day(started)} once more; {out.kept.file} is used."
    return Remark(started.date(), text)


def _joined(candidate: Candidate, entries: Sequence[Entry]) -> Remark:
    started = entries[candidate.parts[0]].condensed.audit.info.local_start
    spans = [entries[part].span for part in candidate.parts]
    gaps = [duration_text(after[0] - before[1]) for before, after in pairwise(spans)]
    text = f"{candidate.file} were joined to the one session of {started:%-d %B %Y}, {time_of_day(started)}, {' and '.join(gaps)} apart."
    return Remark(started.date(), text)


def _astray(entry: Entry) -> str:
    audit, day = entry.condensed.audit, entry.condensed.day
    return (
        f"{audit.info.file}: its clock says {day:%-d %B} {day.year}, which cannot be; set aside. Correct the time in the file, "
        "or move it out of the folder."
    )


def _passed_over(sources: Iterable[Source]) -> list[str]:
    groups = groupby(sorted(sources), key=lambda source: source.path)
    counted = [(path, len(list(members))) for path, members in groups]
    return [f"{path.name}: {count} member(s) that are no recordings were passed over." for path, count in counted]


__all__ = ["Entry", "Remark", "Season", "Stopped", "Watcher", "load_season"]
