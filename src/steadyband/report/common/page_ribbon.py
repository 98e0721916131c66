"""A ribbon on a page, drawn by the page itself: places and widths, so that it stands before any script runs, and its table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from steadyband.audit.model import BAND_NAMES, RIBBON_NAMES, Audit, Surge
from steadyband.ground.units import brief_text, clock_text, duration_text
from steadyband.report.common.figure_base import hour_marks, of_known
from steadyband.report.common.ribbon import Piece, Run, pieces_of, place_of, runs
from steadyband.report.common.view import Table
from steadyband.report.common.words import DASH, clock_of, drift_span, loads_of, number_text

MOST_PIECES = 1200
"""Most pieces of a ribbon: about one a pixel."""
OVERLAP = 0.05
"""Share of the axis [%] by which a piece reaches under the next one."""
MOST_STRETCHES = 24
"""Most rows of a ribbon's table: nobody reads more."""
PIECES_S = (1, 5, 15, 30, 60, 120, 300, 600, 1200, 1800, 3600)
"""Lengths [s] a ribbon is cut into for its table, the first that gives few enough rows."""


@dataclass(frozen=True, slots=True)
class PageRibbon:
    """One ribbon: its pieces in time order, its surges, the axis marks and the ends of the drifted part as places [%], what
    pointing at it says, and the same in words and as a table."""

    id: str
    words: str
    table: Table
    pieces: tuple[Piece, ...]
    ticks: tuple[str, ...]
    marks: tuple[str, ...]
    drift: tuple[str, str] | None
    tips: Mapping[str, Any] = field(repr=False)


def page_ribbon(audit: Audit, name: str, words: str, longest_s: int) -> PageRibbon:
    """One session as a ribbon, its surges as ticks above, on a time axis that ends at `longest_s`."""
    found = runs(audit.traces.ribbon, max(1, -(-longest_s // MOST_PIECES)))
    events = audit.surges.events if audit.surges else ()
    span = drift_span(audit)
    return PageRibbon(
        id=name,
        words=words,
        table=ribbon_table(audit),
        pieces=pieces_of(found, longest_s, OVERLAP),
        ticks=tuple(place_of(event.start_s, longest_s) for event in events),
        marks=tuple(place_of(second, longest_s) for second, _ in hour_marks(longest_s)),
        drift=(place_of(span[0], longest_s), place_of(span[1], longest_s)) if span else None,
        tips={
            "length": longest_s,
            "starts": [run.start_s for run in found],
            "ends": [run.start_s + run.length_s for run in found],
            "texts": [_run_text(audit, run) for run in found],
            "ticks": [event.start_s for event in events],
            "surges": [_surge_text(audit, event) for event in events],
        },
    )


def axis_marks(longest_s: int) -> tuple[tuple[str, str], ...]:
    """(place [%], label) of the marks over a stack of ribbons."""
    return tuple((place_of(second, longest_s), text) for second, text in hour_marks(longest_s))


def _run_text(audit: Audit, run: Run) -> str:
    times = f"{clock_of(audit, run.start_s)} to {clock_of(audit, run.start_s + run.length_s)}"
    text = f"{times}\n{RIBBON_NAMES[run.code]}, {duration_text(run.length_s)}"
    if run.code >= len(BAND_NAMES):
        return text
    part = slice(run.start_s, run.start_s + run.length_s)
    beats = of_known(np.mean, audit.traces.heart_rate_bpm[part])
    pulse = "" if beats is None else f"\nheart rate {number_text(beats, 'bpm')}"
    return f"{text}\nmean load {loads_of(audit).text(of_known(np.mean, audit.traces.load[part]))}{pulse}"


def _surge_text(audit: Audit, event: Surge) -> str:
    kind = "micro-surge" if event.micro else "sustained effort"
    place = "" if event.cause == "unknown" else f"\n{event.cause}"
    return (
        f"{clock_of(audit, event.start_s)}\n{kind}, {brief_text(event.seconds_above)} above the ceiling"
        f"\nhighest {loads_of(audit).text(event.highest)}{place}"
    )


def ribbon_table(audit: Audit) -> Table:
    """The ribbon as stretches of one band each, with mean load and the surges that begin in them."""
    step, pieces = _stretches(audit)
    rows = tuple(_stretch(audit, run) for run in pieces)
    head = ("time", "from start", "stretch", "length", "mean load", "surges")
    told = "Every change of band has its row." if step == 1 else (
        f"Told in pieces of {duration_text(step)}, each named after what fills most of it; surges are counted one by one."
    )  # fmt: skip
    return Table("The ribbon as a table", head, rows, words=3, note=told)


def _stretches(audit: Audit) -> tuple[int, tuple[Run, ...]]:
    for step in PIECES_S:
        found = runs(audit.traces.ribbon, step)
        if len(found) <= MOST_STRETCHES:
            return step, found
    return PIECES_S[-1], runs(audit.traces.ribbon, PIECES_S[-1])


def _stretch(audit: Audit, run: Run) -> tuple[str, ...]:
    stop = run.start_s + run.length_s
    mean = of_known(np.mean, audit.traces.load[run.start_s : stop])
    return (
        clock_of(audit, run.start_s),
        clock_text(run.start_s),
        RIBBON_NAMES[run.code],
        duration_text(run.length_s),
        loads_of(audit).text(mean) if run.code < len(BAND_NAMES) else DASH,
        surges_begun(audit, run.start_s, stop),
    )


def surges_begun(audit: Audit, start: int, stop: int) -> str:
    """How many surges begin in these seconds."""
    if audit.surges is None:
        return DASH
    return str(sum(start <= event.start_s < stop for event in audit.surges.events))
