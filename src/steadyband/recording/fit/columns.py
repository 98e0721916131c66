"""A FIT stream as columns: one pass over its record headers, then whole blocks of same-shaped messages at once.

What fitdecode gives for the same bytes, this gives bit for bit, up to the end or the same damage; whatever it does not
cover it leaves to fitdecode by raising NotCovered.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from fitdecode import FitEOFError, FitHeaderError

from steadyband.recording.fit.block import Block, Offsets
from steadyband.recording.fit.checks import check_heart_rate, check_times
from steadyband.recording.fit.counting import CompressedTimes
from steadyband.recording.fit.crc import crc16
from steadyband.recording.fit.profile import NEEDED
from steadyband.recording.fit.table import Table
from steadyband.recording.fit.walk import Ended, Walk
from steadyband.recording.limits import PARTS_MAX, check_count, check_time
from steadyband.recording.not_covered import NotCovered

__all__ = ["Columns", "FitFile", "NotCovered", "read_columns"]

_cut_short: Any = FitEOFError
_NORMAL_HEADERS = (12, 14)
_SIZE_MAX = 2**32


@dataclass(frozen=True, slots=True)
class FitFile:
    """One of the FIT files chained in a stream.

    `tables` has the decoded messages by name, `counts` how many there are of every kind. `header_fits` and `footer_fits`
    say whether the checksum at that byte fits, None where there is none.
    """

    header_at: int
    header_fits: bool | None
    footer_at: int | None = None
    footer_fits: bool | None = None
    tables: Mapping[str, Table] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Columns:
    """All FIT files of a stream; `ending` is what fitdecode raises at its damage, `end` the byte where that begins."""

    files: tuple[FitFile, ...]
    end: int
    ending: Exception | None = None


def read_columns(data: bytes) -> Columns:
    """Read every FIT file of a stream, up to its end or the first damage.

    Raises NotCovered where fitdecode's result would depend on more than columns can tell, or where it might fail in a
    way of its own; read the stream through fitdecode then.
    """
    files: list[FitFile] = []
    at = 0
    if len(data) >= _SIZE_MAX:
        raise NotCovered("a file of 4 GiB or more")
    try:
        while at < len(data):
            body, size, fits = _header(data, at)
            files.append(FitFile(at, fits))
            check_count(len(files), PARTS_MAX, "files, one after the other,")
            check_time()
            walk = Walk(data, at, body, body + size)
            at = _one_file(walk, files)
    except Ended as stop:
        return Columns(tuple(files), stop.at, stop.ending)
    return Columns(tuple(files), at)


def _header(data: bytes, at: int) -> tuple[int, int, bool | None]:
    """(first byte of the body, its size, whether the header's checksum fits) (SOURCES S9)."""
    head = data[at : at + 12]
    if len(head) < 12 or head[8:] != b".FIT" or head[0] < 12 or head[0] == 13:
        raise Ended(at, FitHeaderError(f"not a FIT file @ {at}"))
    if len(data) < at + head[0]:
        raise Ended(at, _cut_short(head[0] - 12, len(data) - at - 12, at + 12))
    if head[0] not in _NORMAL_HEADERS:
        raise NotCovered(f"a file header of {head[0]} bytes")
    size = int.from_bytes(head[4:8], "little")
    stored = int.from_bytes(data[at + 12 : at + head[0]], "little")
    return at + head[0], size, (crc16(head) == stored) if stored else None


def _one_file(walk: Walk, files: list[FitFile]) -> int:
    """Read one file in full and put it in place of its header; returns the byte after it."""
    ended = walk.run()
    tables, counts = _tables(walk)
    last = files.pop()
    footer, fits = None, None
    if ended is None and len(walk.data) >= walk.end + 2:
        footer = walk.end
        fits = crc16(memoryview(walk.data)[walk.start : footer]) == struct.unpack_from("<H", walk.data, footer)[0]
    files.append(FitFile(last.header_at, last.header_fits, footer, fits, tables, counts))
    if ended is not None:
        raise ended
    if footer is None:
        raise Ended(walk.end, _cut_short(2, len(walk.data) - walk.end, walk.end))
    return footer + 2


def _tables(walk: Walk) -> tuple[dict[str, Table], dict[str, int]]:
    sinks = [sink for sink in walk.sinks if sink.count]
    by_name: dict[str, list[Block]] = {}
    for sink in sinks:
        by_name.setdefault(sink.shape.name, []).append(Block(sink.shape, walk.data, sink.offsets()))
    blocks = [block for group in by_name.values() for block in group]
    check_heart_rate(by_name.get("hr", []))
    if walk.compressed:
        check_times(blocks)
    times = CompressedTimes(blocks) if walk.compressed else None
    counts = {name: sum(len(block) for block in group) for name, group in by_name.items()}
    needed = [name for name in by_name if name in NEEDED]
    return {name: Table(name, by_name[name], times, _resets(walk, name)) for name in needed}, counts


def _resets(walk: Walk, name: str) -> Callable[[int], Offsets]:
    sinks = [sink for sink in walk.sinks if sink.shape.name == name]
    return lambda num: np.sort(np.concatenate([sink.defined_at() for sink in sinks if num in sink.shape.accumulated]))
