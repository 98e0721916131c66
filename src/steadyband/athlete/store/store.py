"""The store of one athlete folder: what was worked out from a recording is found again by the recording's content.

Three kinds of files: `sessions` (one row a session, its audit without arrays, or one for a file that could not be used),
`detail` (its cleaned one-second rows as measured, packed), `index` (which content stood in which file, by size and time
of change, so that unchanged files are not read again). A whole audit, arrays and all, is never kept: the measured rows
are judged again for the sessions that are shown, and for all whenever a test, a label, a setting or the judging changes.
"""

from __future__ import annotations

import contextlib
import dataclasses
import os
import time
from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from itertools import chain, count
from pathlib import Path
from typing import Any, TypeVar

from steadyband.athlete import codec
from steadyband.athlete.codec import CodecError
from steadyband.athlete.condensed import NO_TRACES, Condensed
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.measuring import Measured, unpacked
from steadyband.athlete.outline import Outline
from steadyband.athlete.store import tables
from steadyband.athlete.store.files import Shards, remove_leftovers
from steadyband.athlete.store.keys import STORE_VERSION, Inputs
from steadyband.athlete.store.tables import IndexRow, SessionRow, Stat
from steadyband.athlete.work import Audited, Fault, Outcome, Place, Product
from steadyband.audit.model import Audit
from steadyband.recording.archives import Source

FOLDER = ".steadyband"
COMPACT_FROM = 12
"""Files of one kind from which they are put together into one."""
RACY_NS = 2 * 10**9
"""A file changed this shortly before it was read may change again unseen: its content is looked at next time."""

Row = TypeVar("Row")
DAMAGED = "A part of the store was damaged: what stood in it is worked out again."


def stat_of(path: Path) -> Stat | None:
    """(size, time of change in ns) of a file; None where there is none, or where it may change again unseen.

    The later of two times: that of its content, which a copying program may set back, and that which the system itself
    keeps of any change. Where a disk keeps no such time (Windows, some network shares), only the first tells.
    """
    try:
        found = path.stat()
    except OSError:
        return None
    if time.time_ns() - found.st_mtime_ns <= RACY_NS:
        return None
    return found.st_size, max(found.st_mtime_ns, found.st_ctime_ns)


class Store:
    """What earlier runs worked out for one athlete folder. Any of its files may vanish or be damaged at any time.

    Whatever is wrong with it costs a sentence in `notices`, told to `tell` as well, and a reading of the recordings again.
    """

    def __init__(self, place: Path, folder: AthleteFolder, sport: str | None = None) -> None:
        self.notices: list[str] = []
        self.tell: Callable[[str], None] = lambda text: None
        self._place = place
        self._folder = folder
        self._inputs = Inputs(folder, sport)
        self._sessions = Shards(place, f"sessions{STORE_VERSION}", SessionRow)
        self._detail = Shards(place, f"detail{STORE_VERSION}", bytes, level=0)  # each row is packed by itself
        self._index = Shards(place, f"index{STORE_VERSION}", IndexRow)
        self._open = True
        self._hashes: dict[tuple[str, tuple[str, ...]], IndexRow] = {}
        self._rows: dict[str, list[SessionRow]] = {}
        self._all_rows: list[SessionRow] = []
        self._at_hand: tuple[str, list[bytes]] = ("", [])
        self._shards = 0
        self._written = 0
        try:
            self._load()
        except OSError as fault:
            self._close("read", "every recording is read again", fault)

    def _load(self) -> None:
        sessions, damaged = self._sessions.read_all()
        indexes, damaged_index = self._index.read_all()
        self._discard(self._sessions, damaged)
        self._discard(self._index, damaged_index)
        self._shards = max(len(sessions), len(indexes))
        rows, entries = list(chain(*sessions.values())), list(chain(*indexes.values()))
        self._written = max(tables.last_written(rows), tables.last_written(entries))
        self._hashes = {(row.path, row.inside): row for row in tables.put_together_index(entries)}
        bases = (self._inputs.base, self._inputs.measured)
        self._all_rows = rows
        self._rows = tables.by_content(tables.newest(row for row in rows if row.base in bases))

    def _discard(self, shards: Shards[Any], names: Sequence[str]) -> None:
        if names:
            shards.remove(names)
            self._say(DAMAGED)

    def _say(self, text: str) -> None:
        if text not in self.notices:
            self.notices.append(text)
            self.tell(text)

    def _close(self, what: str, so: str, fault: Exception) -> None:
        """No more of the store in this run."""
        self._open = False
        why = (fault.strerror if isinstance(fault, OSError) else None) or fault
        self._say(f"The store in {self._place} could not be {what} ({why}): {so}.")

    @property
    def place(self) -> Path:
        """Its folder."""
        return self._place

    @property
    def is_empty(self) -> bool:
        """True where nothing is known that still holds, not even as measured."""
        return not self._rows and not self._measured_before

    def sha256_of(self, source: Source, stat: Stat | None) -> str | None:
        """The content of a source by size and time of change of its file; None where that is not known."""
        known = self._hashes.get((self._key(source.path), source.inside))
        return known.sha256 if known and (known.size, known.mtime_ns) == stat else None

    def _key(self, path: Path) -> str:
        """Paths inside the athlete folder are kept without it, so that the folder may be moved."""
        home = f"{self._folder.path}{os.sep}"
        text = str(path)
        return text.removeprefix(home) if text.startswith(home) else os.path.abspath(text)  # noqa: PTH100

    def find(self, sha256: str, name: str, path: Path) -> Audited[Product] | None:
        """What was worked out from this content under the same settings, test and labels; None where nothing holds.

        `name` and `path` are those of the file that holds it today.
        """
        picked = self._rows.get(sha256)
        if picked is None:
            return None
        try:
            if picked[0].fault:
                return Audited(fault=codec.load(picked[0].fault, Fault))
            if len(picked) != picked[0].count or not all(self._holds(row, name) for row in picked):
                return None
            return Audited(tuple(self._kept(row, name, path) for row in picked))
        except CodecError:
            self._say(DAMAGED)
            return None

    def _holds(self, row: SessionRow, name: str) -> bool:
        return row.context == self._inputs.of_session(row.sport, row.day, name)

    def _kept(self, row: SessionRow, name: str, path: Path) -> Product:
        audit = codec.load(row.audit, Audit, settings=self._folder.athlete.settings, traces=NO_TRACES)
        found = codec.load(row.condensed, Condensed, audit=self._named(audit, name), path=path)
        return Product(found, codec.load(row.outline, Outline), Place(row.detail, row.row))

    def _named(self, audit: Audit, name: str) -> Audit:
        """The audit under the name its content has today, at the athlete's local time."""
        local = self._folder.athlete.local(audit.info.start)
        return dataclasses.replace(audit, info=dataclasses.replace(audit.info, local_start=local, file=name))

    def again(self, sha256: str) -> tuple[tuple[Outline, Place], ...]:
        """The sessions of a content whose measured rows hold still, to be judged again; none where it must be read."""
        try:
            rows = self._measured_before.get(sha256, ())
            return tuple((codec.load(row.outline, Outline), Place(row.detail, row.row)) for row in rows)
        except CodecError:
            self._say(DAMAGED)
            return ()

    @cached_property
    def _measured_before(self) -> dict[str, list[SessionRow]]:
        return tables.measured_before(self._all_rows, self._inputs.measured)

    def packed(self, place: Place) -> bytes | None:
        """A session's measured rows, packed; None where they are gone."""
        if self._at_hand[0] != place.file:
            self._at_hand = (place.file, self._detail_rows(place.file))
        rows = self._at_hand[1]
        return rows[place.row] if place.row < len(rows) else None

    def _detail_rows(self, name: str) -> list[bytes]:
        try:
            rows = self._detail.read(name)
        except OSError:
            rows = []
        if rows is None:
            self._discard(self._detail, [name])
        return rows or []

    def measured(self, place: Place, name: str) -> Measured | None:
        """A session as it was measured, under the name its content has today; None where it is gone or damaged."""
        data = self.packed(place)
        try:
            return None if data is None else dataclasses.replace(unpacked(data), file=name)
        except CodecError:
            self.damaged()
            return None

    def damaged(self) -> None:
        """Say once that something in the store was damaged and is worked out again."""
        self._say(DAMAGED)

    def put(self, outcomes: Sequence[Outcome[Product]], stats: dict[Path, Stat | None]) -> dict[str, tuple[Place, ...]]:
        """Keep outcomes; returns where the measured rows stand by content, nothing where the store cannot be written to."""
        if not self._open or not outcomes:
            return {}
        try:
            return self._put(outcomes, stats, time.time_ns())
        except (OSError, CodecError) as fault:
            self._close("written", "this run's results are complete, but not all are kept for the next one", fault)
            return {}

    def _put(
        self, outcomes: Sequence[Outcome[Product]], stats: dict[Path, Stat | None], now_ns: int
    ) -> dict[str, tuple[Place, ...]]:
        once = list({item.sha256: item for item in outcomes if item.sha256}.values())
        self._written = max(now_ns, self._written + 1)
        fresh = [one.measured for item in once for one in item.products if isinstance(one.measured, bytes)]
        if any(one.measured is None for item in once for one in item.products):
            raise CodecError("not to be stored as measured rows")
        file, number = self._detail.write(fresh) if fresh else "", count()
        places = [
            tuple(
                one.measured if isinstance(one.measured, Place) else Place(file, next(number)) for one in item.products
            )
            for item in once
        ]
        rows = tables.session_rows(once, places, self._inputs, self._written)
        if rows:
            self._sessions.write(rows)
        self._remember(
            [(item.source, item.sha256, stats.get(item.source.path)) for item in outcomes if item.sha256], now_ns
        )
        self._shards += 1
        return dict(zip((item.sha256 for item in once), places, strict=True))

    def remember(self, found: Sequence[tuple[Source, str, Stat | None]]) -> None:
        """Keep in mind which content (known already) stands in which file, so that it need not be looked at again."""
        with contextlib.suppress(OSError):
            if self._open:
                self._remember(found, time.time_ns())

    def _remember(self, found: Sequence[tuple[Source, str, Stat | None]], now_ns: int) -> None:
        settled = [(self._key(source.path), source, stat, sha256) for source, sha256, stat in found if stat]
        if settled:
            self._written = max(now_ns, self._written + 1)
            self._index.write(tables.index_rows(settled, self._written))

    def finish(self) -> None:
        """Put many small files together, and take away what nothing points at any more."""
        if not self._open or self._shards < COMPACT_FROM:
            return
        try:
            now = time.time()
            remove_leftovers(self._place, STORE_VERSION, now)
            kept = _compacted(self._sessions, tables.put_together_sessions)
            _compacted(self._index, tables.put_together_index)
            self._detail.remove_stale({row.detail for row in kept}, now)
        except OSError as fault:
            self._say(f"The store in {self._place} could not be tidied ({fault.strerror or fault}); it works as it is.")


def _compacted(shards: Shards[Row], put_together: Callable[[Iterable[Row]], list[Row]]) -> list[Row]:
    """One file in the place of all; the others go once it is there. Processes that do so at once only repeat each other."""
    found, _ = shards.read_all()
    whole = put_together(chain(*found.values()))
    if len(found) >= COMPACT_FROM:
        made = shards.write(whole)
        shards.remove(name for name in found if name != made)
    return whole


def open_store(folder: AthleteFolder, sport: str | None = None, place: Path | None = None) -> Store:
    """The store of an athlete folder, in its hidden folder unless another place is named."""
    return Store(place or folder.path / FOLDER, folder, sport)
