"""The reader's choice: metric or miles, 24-hour or 12-hour clock. Only texts and drawings for people depend on it.

The choice stands for the time of a `with` block, in this thread alone, like the context of `decimal`; results keep SI units.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Literal

Units = Literal["metric", "miles"]
Clock = Literal["24h", "12h"]
UNITS: tuple[Units, ...] = ("metric", "miles")
CLOCKS: tuple[Clock, ...] = ("24h", "12h")


@dataclass(frozen=True, slots=True)
class Reader:
    """How one reader wants distances, speeds, heights, temperatures and times of day written."""

    units: Units = "metric"
    clock: Clock = "24h"


_reader: ContextVar[Reader] = ContextVar("reader", default=Reader())  # noqa: B039 (frozen)


def reader() -> Reader:
    """The choice in force here: metric and 24 h where nobody chose."""
    return _reader.get()


def write_for(choice: Reader) -> None:
    """From here to the end of the enclosing `written_for` block everything is written for this reader."""
    _reader.set(choice)


@contextmanager
def written_for(choice: Reader) -> Iterator[None]:
    """Everything written inside is written for this reader; afterwards the choice before holds again."""
    before = _reader.set(choice)
    try:
        yield
    finally:
        _reader.reset(before)
