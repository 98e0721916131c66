"""The rows of the store: outcomes to rows, and which of many rows hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from operator import attrgetter
from typing import Any

import msgspec
from msgspec.structs import replace

from steadyband.athlete import codec
from steadyband.athlete.condensed import Condensed
from steadyband.athlete.outline import Outline
from steadyband.athlete.store.keys import Inputs
from steadyband.athlete.work import Fault, Outcome, Place, Product
from steadyband.audit.model import Audit
from steadyband.recording.archives import Source

BASES_KEPT = 2
"""Sets of inputs (settings, versions) whose results are kept for one content: the last ones."""
Stat = tuple[int, int]
"""Size and time of change [ns] of a file."""


class SessionRow(msgspec.Struct, array_like=True, frozen=True, forbid_unknown_fields=True):
    """One session (number `number` of `count` in its content), or, with a `fault`, a content that could not be used.

    `base` and `context` are digests of what it depends on (`keys.Inputs`), `written` is when [ns]; `audit`, `condensed` and
    `outline` are the codec's bytes. `measured` is the digest of what its measured rows depend on, `detail` and `row` say
    where these stand. That a file is no recording at all depends on no more than that: its `base` is `measured`.
    """

    sha256: str
    base: str
    written: int
    count: int
    number: int = 0
    context: str = ""
    sport: str = ""
    day: date = date.min
    audit: bytes = b""
    condensed: bytes = b""
    outline: bytes = b""
    detail: str = ""
    row: int = 0
    fault: bytes = b""
    measured: str = ""


class IndexRow(msgspec.Struct, array_like=True, frozen=True, forbid_unknown_fields=True):
    """Which content stands in which file: its path, the way inside an archive, size, time of change [ns], content."""

    path: str
    inside: tuple[str, ...]
    size: int
    mtime_ns: int
    sha256: str
    written: int


def session_rows(
    outcomes: Sequence[Outcome[Product]], places: Sequence[Sequence[Place]], inputs: Inputs, now_ns: int
) -> list[SessionRow]:
    """One row a session, and one for each content that could not be used; `places` of the measured rows of each outcome."""
    rows: list[SessionRow] = []
    for outcome, kept in zip(outcomes, places, strict=True):
        common = SessionRow(outcome.sha256, inputs.base, now_ns, len(outcome.products), measured=inputs.measured)
        for number, (product, place) in enumerate(zip(outcome.products, kept, strict=True)):
            parts = _session_parts(product, inputs)
            rows.append(replace(common, number=number, detail=place.file, row=place.row, **parts))
        if outcome.fault:
            base = inputs.measured if outcome.fault.foreign else inputs.base
            rows.append(replace(common, base=base, fault=codec.dump(outcome.fault, Fault)))
    return rows


def _session_parts(product: Product, inputs: Inputs) -> dict[str, Any]:
    info = product.condensed.audit.info
    day = info.local_start.date()
    return {
        "context": inputs.of_session(info.sport, day, info.file),
        "sport": info.sport,
        "day": day,
        "audit": codec.dump(product.condensed.audit, Audit),
        "condensed": codec.dump(product.condensed, Condensed),
        "outline": codec.dump(product.outline, Outline),
    }


def index_rows(found: Iterable[tuple[str, Source, Stat, str]], now_ns: int) -> list[IndexRow]:
    """Which content stands in which file: (path as kept, source, (size, time of change), content)."""
    return [IndexRow(path, source.inside, *stat, sha256, now_ns) for path, source, stat, sha256 in found]


def last_written(rows: Iterable[SessionRow | IndexRow]) -> int:
    """When the newest row was written [ns]; 0 without one. New rows count as later, even with the clock set back."""
    return max((row.written for row in rows), default=0)


def put_together_index(rows: Iterable[IndexRow]) -> list[IndexRow]:
    """The last row of each file."""
    return list({(row.path, row.inside): row for row in sorted(rows, key=attrgetter("written"))}.values())


def newest(rows: Iterable[SessionRow]) -> list[SessionRow]:
    """The rows written last for each content and inputs, by content and number."""
    once = {(row.sha256, row.base, row.number): row for row in sorted(rows, key=attrgetter("written"))}
    last: dict[tuple[str, str], int] = {}
    for row in once.values():
        last[row.sha256, row.base] = max(row.written, last.get((row.sha256, row.base), 0))
    return [once[key] for key in sorted(once) if once[key].written == last[key[:2]]]


def measured_before(rows: Iterable[SessionRow], measured: str) -> dict[str, list[SessionRow]]:
    """The rows of each content whose measured rows hold still, whatever its audit was judged by: those written last."""
    found: dict[str, list[SessionRow]] = {}
    for content, all_rows in by_content(row for row in newest(rows) if row.measured == measured and row.count).items():
        last = max(row.written for row in all_rows)
        found[content] = [row for row in all_rows if row.written == last]
    return {content: kept for content, kept in found.items() if len(kept) == kept[0].count}


def put_together_sessions(rows: Iterable[SessionRow]) -> list[SessionRow]:
    """The last rows of each content and inputs, for the last inputs of each content."""
    found = newest(rows)
    when: dict[str, set[int]] = {}
    for row in found:
        when.setdefault(row.sha256, set()).add(row.written)
    kept = {sha256: sorted(times)[-BASES_KEPT:] for sha256, times in when.items()}
    return [row for row in found if row.written in kept[row.sha256]]


def by_content(rows: Iterable[SessionRow]) -> dict[str, list[SessionRow]]:
    """The rows of each content, in order of its sessions."""
    found: dict[str, list[SessionRow]] = {}
    for row in rows:
        found.setdefault(row.sha256, []).append(row)
    return found
