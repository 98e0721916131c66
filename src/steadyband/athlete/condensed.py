"""One session without its arrays, small enough to keep a season of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from steadyband.athlete.guess import Guess, asked, guess_intent, to_be_asked
from steadyband.audit.measure.steady_stretches import SteadyStretch, steady_stretches
from steadyband.audit.model import GAP, Audit, Traces
from steadyband.ground.alike import Alike
from steadyband.ground.arrays import Codes

STRIP_S = 60
"""Seconds of a session in one piece of its small ribbon."""
CODES = GAP + 1
EMPTY = np.zeros(0)
NO_TRACES = Traces(np.zeros(0, np.uint8), EMPTY, EMPTY, EMPTY, EMPTY)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Condensed(Alike):
    """One session: its audit without arrays and without single surges, and what only the arrays could tell.

    `strip` [minutes] holds the code that fills most of each minute; `stretches` are its steady stretches; `guess` is
    what its load looks like. `path` is the file it came from, where known.
    """

    audit: Audit
    strip: Codes
    stretches: tuple[SteadyStretch, ...]
    guess: Guess
    path: Path | None = None

    def __repr__(self) -> str:
        return f"Condensed({self.audit!r})"

    @property
    def day(self) -> date:
        """The local date the session began on."""
        return self.audit.info.local_start.date()

    @property
    def is_asked(self) -> bool:
        """True where the session is asked about rather than judged."""
        return to_be_asked(self.audit, self.guess)


def condense(audit: Audit, path: Path | None = None) -> Condensed:
    """The session without its arrays; one that looks hard and was never labelled is asked about, not judged."""
    guess = guess_intent(audit)
    strip = minute_strip(audit.traces.ribbon)
    surges = replace(audit.surges, events=()) if audit.surges else None
    slim = replace(audit, traces=NO_TRACES, surges=surges)
    if to_be_asked(audit, guess):
        slim = asked(slim, guess)
    return Condensed(slim, strip, steady_stretches(audit), guess, path)


def minute_strip(ribbon: Codes) -> Codes:
    """The code that fills most of each minute of a ribbon [n]; the lower code where two fill the same."""
    pieces = -(-len(ribbon) // STRIP_S)
    counts = np.zeros((pieces, CODES), dtype=np.int64)
    np.add.at(counts, (np.arange(len(ribbon)) // STRIP_S, ribbon), 1)
    fullest: Codes = np.argmax(counts, axis=1).astype(np.uint8)
    return fullest


def in_order(sessions: Iterable[Condensed]) -> tuple[Condensed, ...]:
    """Sessions by start, then file."""
    return tuple(sorted(sessions, key=lambda item: (item.audit.info.start, item.audit.info.file)))
