"""The pass over the record headers of one FIT file: where each message begins, by shape."""

from __future__ import annotations

from array import array
from typing import Any

import numpy as np
from fitdecode import FitEOFError, FitParseError

from steadyband.recording.fit.block import Offsets
from steadyband.recording.fit.developer import DeveloperFields
from steadyband.recording.fit.profile import DEVELOPER_NUMS, HEART_RATE_NUM, Shape, shape_of
from steadyband.recording.limits import MESSAGES_MAX, check_count, check_time
from steadyband.recording.not_covered import NotCovered

_cut_short: Any = FitEOFError
_unreadable: Any = FitParseError
_DEFINITION, _DEVELOPER, _COMPRESSED = 0x40, 0x20, 0x80
_FIRST_WIDTH, _WIDEST = 16, 1 << 16
_LONGEST_DEFINITION = 6 + 3 * 255 + 1 + 3 * 255

_STRETCH = 1 << 20
"""Bytes walked between two looks at the limits."""

KINDS_MAX = 4096
"""Most shapes of messages in one file (design choice: devices write under a hundred)."""


class Ended(Exception):  # noqa: N818 (the end of what can be read, not always an error)
    """The stream cannot be read on from byte `at`; `ending` is what fitdecode raises there."""

    def __init__(self, at: int, ending: Exception) -> None:
        super().__init__(str(ending))
        self.at = at
        self.ending = ending


class Sink:
    """Where the messages of one shape begin: single ones, and runs of many side by side."""

    __slots__ = ("defined", "runs", "shape", "singles", "size")

    def __init__(self, shape: Shape) -> None:
        self.shape = shape
        self.size = 0 if shape.refused or shape.num in DEVELOPER_NUMS else shape.size
        self.singles = array("I")
        self.runs = array("I")
        self.defined = array("I")

    @property
    def count(self) -> int:
        """How many messages there are."""
        return len(self.singles) + sum(self.runs[1::2])

    def defined_at(self) -> Offsets:
        """Offsets of the definitions of this shape [m], ascending."""
        return np.array(self.defined, dtype=np.int64)

    def offsets(self) -> Offsets:
        """Offsets of the record headers [n], ascending."""
        singles = np.array(self.singles, dtype=np.int64)
        if not self.runs:
            return singles
        starts, counts = np.array(self.runs, dtype=np.int64).reshape(-1, 2).T
        within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        in_runs = np.repeat(starts, counts) + within * self.shape.size
        return np.sort(np.concatenate((singles, in_runs)), kind="stable") if len(singles) else in_runs


class Walk:
    """One FIT file of a stream: its header begins at `start`, its body is at `at` to `end` (by its header)."""

    def __init__(self, data: bytes, start: int, at: int, end: int) -> None:
        self.data = data
        self.start = start
        self.end = end
        self.compressed = False
        self.sinks: list[Sink] = []
        self._at = at
        self._by_definition: dict[Any, Sink] = {}
        self._developers = DeveloperFields()
        self._sizes = [0] * 256
        self._add: list[Any] = [None] * 256
        self._local: dict[int, Sink] = {}
        self._heads = [bytes([num]) for num in range(16)]

    def run(self) -> Ended | None:
        """Find every message; returns what stops it before the end, None where nothing does.

        Raises NotCovered, and RecordingError where there are too many.
        """
        try:
            self._run(min(self.end, len(self.data)))
        except Ended as stop:
            return stop
        return None

    def _run(self, stop: int) -> None:
        """Messages one by one while kinds alternate; two of a kind in a row begin a run, which is measured at once."""
        data, sizes, add = self.data, self._sizes, self._add
        at, last = self._at, -1
        while at < stop:
            pause = min(stop, at + _STRETCH)
            while at < pause:
                head = data[at]
                size = sizes[head]
                if not size:
                    at, last = self._unusual(at), -1
                elif head == last:
                    at, last = self._whole_run(at, head, stop), -1
                else:
                    add[head](at)
                    at += size
                    last = head
            self._check_limits()
        if at > stop:
            self._crossed(at - size, at)
        if stop < self.end:
            raise Ended(stop, _cut_short(1, 0, stop))

    def _check_limits(self) -> None:
        check_time()
        check_count(sum(sink.count + len(sink.defined) for sink in self.sinks), MESSAGES_MAX, "messages")

    def _whole_run(self, at: int, head: int, stop: int) -> int:
        """Take in all messages from here on whose headers are of the same local type; returns the byte after them."""
        local = _local_of(head)
        sink, heads, size, start = self._local[local], self._heads[local], self._sizes[head], at
        width, room = _FIRST_WIDTH, (stop - at) // size
        while room:
            width = min(width, room)
            alike = width - len(self.data[at : at + size * width : size].lstrip(heads))
            at += alike * size
            room -= alike
            if alike < width:
                break
            width = min(4 * width, _WIDEST)
        if at > start:
            sink.runs.extend((start, (at - start) // size))
        return at

    def _crossed(self, at: int, after: int) -> None:
        """The last message found reaches past the end of the file's body, or of the bytes."""
        head = self.data[at]
        sink = self._local[_local_of(head)]
        sink.singles.pop()
        self._must_fit(at, after)
        if head & _COMPRESSED or sink.shape.num == HEART_RATE_NUM:
            raise NotCovered("a message past the end that depends on the ones before")
        raise Ended(at, AssertionError())

    def _must_fit(self, at: int, after: int) -> None:
        if after > len(self.data):
            raise Ended(at, _cut_short(after - at, len(self.data) - at, at))

    def _unusual(self, at: int) -> int:
        """A definition, a message about developer fields, or a header byte that is new; returns where to go on."""
        head = self.data[at]
        if head & (_DEFINITION | _COMPRESSED) == _DEFINITION:
            return self._definition(at)
        local = _local_of(head)
        sink = self._local.get(local)
        if sink is None:
            raise Ended(at, _unreadable(at, f"local message {local} not defined"))
        if sink.shape.refused:
            raise NotCovered(f"{sink.shape.refused} in {sink.shape.name}")
        if sink.size:
            self._admit(head, local)
            return at
        return self._about_developers(sink, at)

    def _admit(self, head: int, local: int) -> None:
        """Let a header byte that was not met before stand for its local type."""
        self.compressed |= bool(head & _COMPRESSED)
        new = range(head & ~31, (head & ~31) + 32) if head & _COMPRESSED else (head,)
        self._heads[local] += bytes(new)
        self._install(self._local[local], new)

    def _install(self, sink: Sink, heads: Any) -> None:
        for head in heads:
            self._sizes[head] = sink.size
            self._add[head] = sink.singles.append

    def _about_developers(self, sink: Sink, at: int) -> int:
        after = at + sink.shape.size
        self._must_fit(at, after)
        if after > self.end or self.data[at] & _COMPRESSED:
            raise NotCovered(f"a {sink.shape.name} message past the end, or with a compressed header")
        try:
            self._developers.told(sink.shape, self.data, at)
        except FitParseError as exc:
            raise Ended(at, exc) from exc
        sink.singles.append(at)
        return after

    def _definition(self, at: int) -> int:
        """Put the shape of a definition in force; returns the byte after it."""
        data = self.data
        developer = bool(data[at] & _DEVELOPER)
        after = self._definition_end(at, developer)
        sink = self._sink(data[at + 1 : after], developer)
        sink.defined.append(at)
        local = data[at] & 0x0F
        self._local[local] = sink
        self._install(sink, self._heads[local])
        return after

    def _definition_end(self, at: int, developer: bool) -> int:
        data = self.data
        if at + _LONGEST_DEFINITION <= min(self.end, len(data)):
            after = at + 6 + 3 * data[at + 5]
            return after + 1 + 3 * data[after] if developer else after
        self._must_fit(at, at + 6)
        after = at + 6 + 3 * data[at + 5]
        if developer:
            self._must_fit(at, after + 1)
            after += 1 + 3 * data[after]
        self._must_fit(at, after)
        if after > self.end:
            raise Ended(at, AssertionError())
        return after

    def _sink(self, definition: bytes, developer: bool) -> Sink:
        key = (definition, self._developers.version) if developer else definition
        sink = self._by_definition.get(key)
        if sink is None:
            if len(self.sinks) >= KINDS_MAX:
                raise NotCovered(f"more than {KINDS_MAX} kinds of messages")
            sink = self._by_definition[key] = Sink(shape_of(definition, developer, self._developers.field))
            self.sinks.append(sink)
        return sink


def _local_of(head: int) -> int:
    return (head >> 5) & 3 if head & _COMPRESSED else head & 0x0F
