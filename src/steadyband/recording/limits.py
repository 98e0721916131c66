"""How much one recording may ask for. What goes past is refused in a sentence before the memory for it is taken.

Three rings. Counts are checked while the file is looked through, on every system. The processor time of a file is
checked in every long loop (`check_time`), on every system. Where the system can hold a process to its word, `guard`
in the review sets hard limits around both, for whatever was forgotten here.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from steadyband.ground.errors import RecordingError

RECORDS_MAX = 2_000_000
"""Records or track points of one file (design choice: 23 days of one-second data)."""
MESSAGES_MAX = 4_000_000
"""FIT messages and definitions of all kinds in one file (design choice: twice the records)."""
OTHERS_MAX = 100_000
"""FIT messages of one other kind that is used: laps, events, sessions, devices (design choice: a day has hundreds)."""
SLOW_MESSAGES_MAX = 400_000
"""Messages read through the reference library (design choice: four days of one-second data, about 20 s)."""
PARTS_MAX = 1_000
"""FIT files chained in one file (design choice: devices chain two or three)."""
SESSIONS_MAX = 200
"""Sessions of one file (design choice: a day of several sports has about ten)."""
SPAN_MAX_S = 14 * 86400
"""Seconds that all sessions of one file may span together (design choice): each is laid out second by second."""
MARKUP_MAX = 3_000_000
"""Tags and attributes of GPX that are built into a tree (design choice: a day of one-second points without any rule)."""
MEMORY_MAX = 1 << 30
"""Memory that reading and auditing one file may take, above what the process has [bytes] (design choice)."""
TIME_MAX_S = 60.0
"""Processor time that one file may take [s] (design choice: 100 times what the longest real one takes)."""

_until: ContextVar[float | None] = ContextVar("until", default=None)


def too_much(limit: int, what: str, found: str = "more") -> RecordingError:
    """The error of a recording that holds more of something than is read."""
    return RecordingError(
        f"expected at most {limit:,} {what} in one recording, found {found}.",
        hint="Leave it out, or split the recording.",
    )


def check_count(found: int, limit: int, what: str) -> None:
    """Raises RecordingError where more was found than the limit allows."""
    if found > limit:
        raise too_much(limit, what, f"{found:,}")


def check_span(spans_s: Iterable[float]) -> None:
    """Raises RecordingError where sessions of these lengths [s] would take too many seconds laid out."""
    days = sum(spans_s) / 86400
    if days > SPAN_MAX_S / 86400:
        raise too_much(SPAN_MAX_S // 86400, "days over all sessions", f"{days:.0f}")


@contextmanager
def timed() -> Iterator[None]:
    """One file is read inside: `check_time` raises once it has taken TIME_MAX_S of this thread's processor time."""
    before = _until.set(time.thread_time() + TIME_MAX_S)
    try:
        yield
    finally:
        _until.reset(before)


def check_time() -> None:
    """Raises RecordingError where the file being read has used up its time; does nothing outside of `timed`."""
    until = _until.get()
    if until is not None and time.thread_time() > until:
        raise too_slow()


def too_slow() -> RecordingError:
    """The error of a recording that takes longer than any real one."""
    return RecordingError(
        f"takes more than {TIME_MAX_S:.0f} s of processor time to read, which no real recording does.",
        hint="Leave it out, or split the recording.",
    )


def too_big() -> RecordingError:
    """The error of a recording that takes more memory than any real one."""
    return RecordingError(
        f"takes more than {MEMORY_MAX // 2**20} MiB of memory to read, which no real recording does.",
        hint="Leave it out, or split the recording.",
    )
