"""The store of one athlete folder: what was worked out from a recording is found again by the recording's content.

Three kinds of files: `sessions` (one row a session without its arrays, or one for a file that could not be used),
`detail` (its whole audit and one-second rows, read only for sessions shown), `index` (which content stood in which
file, by size and time of change, so that unchanged files are not read again).
"""

from __future__ import annotations

import contextlib
import dataclasses
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyband.athlete.condensed import NO_TRACES, Condensed
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.outline import Outline
from steadyband.athlete.store import codec, tables
from steadyband.athlete.store.codec import CodecError
from steadyband.athlete.store.files import Shards, remove_leftovers
from steadyband.athlete.store.keys import STORE_VERSION, Inputs
from steadyband.athlete.work import Fault, Outcome
from steadyband.audit.model import Audit
from steadyband.recording.archives import Source

if TYPE_CHECKING:
    import polars as pl

FOLDER = ".steadyband"
COMPACT_FROM = 12
"""Files of one kind from which they are put together into one."""
RACY_NS = 2 * 10**9
"""A file changed this shortly before it was read may change again unseen: its content is looked at next time."""

Stat = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Kept:
    """One session from the store: `detail` and `row` say where its whole audit stands."""

    sha256: str
    number: int
    condensed: Condensed
    start_s: float
    end_s: float
    outline_text: str
    detail: str
    row: int

    @property
    def outline(self) -> Outline:
        """Its outline."""
        return codec.load(self.outline_text, Outline)


@dataclass(frozen=True, slots=True)
class Stored:
    """What the store holds of one content: its sessions, or why it could not be used."""

    sessions: tuple[Kept, ...]
    fault: Fault | None = None


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

    `notices` are the sentences said so far; a `listener` is told each further one as it comes.
    """

    def __init__(self, place: Path, folder: AthleteFolder, sport: str | None = None) -> None:
        self.notices: list[str] = []
        self.listener: Callable[[str], None] | None = None
        self._place = place
        self._folder = folder
        self._inputs = Inputs(folder, sport)
        self._sessions = Shards(place, f"sessions{STORE_VERSION}", tables.session_columns)
        self._detail = Shards(place, f"detail{STORE_VERSION}")
        self._index = Shards(place, f"index{STORE_VERSION}", tables.index_columns)
        self._open = True
        self._hashes: dict[tuple[str, str], tuple[int, int, str]] = {}
        self._rows: dict[str, list[dict[str, Any]]] = {}
        self._shards = 0
        self._written = 0
        self._load()

    def _load(self) -> None:
        frames, damaged = self._sessions.read_all()
        indexes, damaged_index = self._index.read_all()
        self._discard(self._sessions, damaged)
        self._discard(self._index, damaged_index)
        self._shards = max(len(frames), len(indexes))
        self._written = max(tables.last_written(frames.values()), tables.last_written(indexes.values()))
        self._hashes = tables.hashes(indexes.values())
        self._rows = tables.by_content(tables.newest(frames.values(), self._inputs.base))

    def _discard(self, shards: Shards, names: Sequence[str]) -> None:
        if names:
            shards.remove(names)
            self._say("A part of the store was damaged: what stood in it is worked out again.")

    def _say(self, text: str) -> None:
        if text not in self.notices:
            self.notices.append(text)
            if self.listener is not None:
                self.listener(text)

    @property
    def is_empty(self) -> bool:
        """True where nothing is known that still holds."""
        return not self._rows

    def sha256_of(self, source: Source, stat: Stat | None) -> str | None:
        """The content of a source by size and time of change of its file; None where that is not known."""
        known = self._hashes.get((self._key(source.path), tables.SEPARATOR.join(source.inside)))
        return known[2] if known and known[:2] == stat else None

    def _key(self, path: Path) -> str:
        """Paths inside the athlete folder are kept without it, so that the folder may be moved."""
        home = f"{self._folder.path}{os.sep}"
        text = str(path)
        return text.removeprefix(home) if text.startswith(home) else os.path.abspath(text)  # noqa: PTH100

    def find(self, sha256: str, name: str, path: Path) -> Stored | None:
        """What was worked out from this content under the same settings, test and labels; None where nothing holds.

        `name` and `path` are those of the file that holds it today.
        """
        picked = self._rows.get(sha256)
        if picked is None:
            return None
        if picked[0]["fault"]:
            return Stored((), codec.load(picked[0]["fault"], Fault))
        if len(picked) != picked[0]["count"] or not all(self._holds(row, name) for row in picked):
            return None
        try:
            return Stored(tuple(self._kept(row, name, path) for row in picked))
        except CodecError:
            self._say_strange()
            return None

    def _say_strange(self) -> None:
        self._say("A part of the store was not what it should be: what stood in it is worked out again.")

    def _holds(self, row: dict[str, Any], name: str) -> bool:
        return bool(row["context"] == self._inputs.of_session(row["sport"], row["day"], name))

    def _kept(self, row: dict[str, Any], name: str, path: Path) -> Kept:
        found = codec.load(row["condensed"], Condensed)
        audit = self._completed(found.audit, name, NO_TRACES)
        condensed = dataclasses.replace(found, audit=audit, path=path)
        return _kept_as(row, condensed)

    def _completed(self, audit: Audit, name: str, traces: Any) -> Audit:
        """What is kept once for all sessions, and the name the content has today."""
        athlete = self._folder.athlete
        info = audit.info
        local = info.start.astimezone(athlete.time_zone)
        named = dataclasses.replace(info, local_start=local, file=name)
        return dataclasses.replace(audit, info=named, settings=athlete.settings, traces=traces)

    def audits(self, wanted: Sequence[Kept]) -> list[Audit | None]:
        """The whole audits of sessions, in order; None for each whose detail is gone."""
        frames = {name: self._detail_frame(name) for name in sorted({kept.detail for kept in wanted})}
        return [self._audit(frames[kept.detail], kept) for kept in wanted]

    def _detail_frame(self, name: str) -> pl.DataFrame | None:
        try:
            frame = self._detail.read(name)
        except OSError:
            return None
        if frame is None:
            self._discard(self._detail, [name])
        return frame

    def _audit(self, frame: pl.DataFrame | None, kept: Kept) -> Audit | None:
        if frame is None or kept.row >= len(frame):
            return None
        try:
            audit = codec.load(frame["audit"][kept.row], Audit)
        except CodecError:
            self._say_strange()
            return None
        return self._completed(audit, kept.condensed.audit.info.file, tables.traces_at(frame, kept.row))

    def put(self, outcomes: Sequence[Outcome], stats: dict[Path, Stat | None]) -> dict[str, tuple[Kept, ...]]:
        """Keep outcomes; returns the sessions kept by content, nothing where the store cannot be written to."""
        if not self._open or not outcomes:
            return {}
        try:
            return self._put(outcomes, stats, time.time_ns())
        except OSError as fault:
            self._open = False
            self._say(
                f"The store in {self._place} could not be written ({fault.strerror or fault}): this run's results are "
                "complete, but not all are kept for the next one."
            )
            return {}

    def _put(
        self, outcomes: Sequence[Outcome], stats: dict[Path, Stat | None], now_ns: int
    ) -> dict[str, tuple[Kept, ...]]:
        by_content = {item.sha256: item for item in outcomes if item.sha256}
        once = list(by_content.values())
        self._written = max(now_ns, self._written + 1)
        products = [(item, number, part) for item in once for number, part in enumerate(item.products)]
        detail = self._detail.write(tables.detail_frame(products)) if products else ""
        rows = tables.session_rows(once, detail, self._inputs, self._written)
        if rows:
            self._sessions.write(tables.sessions_frame(rows))
        self._remember(
            [(item.source, item.sha256, stats.get(item.source.path)) for item in outcomes if item.sha256], now_ns
        )
        self._shards += 1
        return self._kept_now(rows, once)

    def remember(self, found: Sequence[tuple[Source, str, Stat | None]]) -> None:
        """Keep in mind which content (known already) stands in which file, so that it need not be looked at again."""
        with contextlib.suppress(OSError):
            if self._open:
                self._remember(found, time.time_ns())

    def _remember(self, found: Sequence[tuple[Source, str, Stat | None]], now_ns: int) -> None:
        settled = [
            (self._key(source.path), tables.SEPARATOR.join(source.inside), *stat, sha256)
            for source, sha256, stat in found
            if stat
        ]
        if settled:
            self._written = max(now_ns, self._written + 1)
            self._index.write(tables.index_frame(settled, self._written))

    def _kept_now(self, rows: Sequence[dict[str, Any]], outcomes: Sequence[Outcome]) -> dict[str, tuple[Kept, ...]]:
        condensed = {item.sha256: [product.condensed for product in item.products] for item in outcomes}
        found: dict[str, list[Kept]] = {}
        for row in rows:
            if row["count"]:
                kept = _kept_as(row, condensed[row["sha256"]][row["number"]])
                found.setdefault(row["sha256"], []).append(kept)
        return {sha256: tuple(kept) for sha256, kept in found.items()}

    def finish(self) -> None:
        """Put many small files together, and take away what nothing points at any more."""
        if not self._open or self._shards < COMPACT_FROM:
            return
        try:
            now = time.time()
            remove_leftovers(self._place, STORE_VERSION, now)
            kept = _compacted(self._sessions, tables.put_together_sessions)
            _compacted(self._index, tables.put_together_index)
            self._detail.remove_stale(set(kept["detail"].to_list()) if kept is not None else set(), now)
        except OSError as fault:
            self._say(f"The store in {self._place} could not be tidied ({fault.strerror or fault}); it works as it is.")


def _kept_as(row: dict[str, Any], condensed: Condensed) -> Kept:
    return Kept(
        sha256=row["sha256"],
        number=row["number"],
        condensed=condensed,
        start_s=row["start_s"],
        end_s=row["end_s"],
        outline_text=row["outline"],
        detail=row["detail"],
        row=row["row"],
    )


def _compacted(shards: Shards, put_together: Any) -> pl.DataFrame | None:
    """One file in the place of all; the others go once it is there. Processes that do so at once only repeat each other."""
    frames, _ = shards.read_all()
    if not frames:
        return None
    whole: pl.DataFrame = put_together(list(frames.values()))
    if len(frames) >= COMPACT_FROM:
        made = shards.write(whole)
        shards.remove(name for name in frames if name != made)
    return whole


def open_store(folder: AthleteFolder, sport: str | None = None, place: Path | None = None) -> Store:
    """The store of an athlete folder, in its hidden folder unless another place is named."""
    return Store(place or folder.path / FOLDER, folder, sport)
