"""Plotly figures over audits: ribbons on a shared time axis, and hours per band."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from steadyband.audit.model import BAND_NAMES, RIBBON_NAMES, Audit, Surge
from steadyband.ground.units import duration_text
from steadyband.report.common.figure_base import (
    Figure,
    Trace,
    band_marker,
    base_layout,
    figure,
    hour_marks,
    longest_of,
    still,
)
from steadyband.report.common.palette import token
from steadyband.report.common.ribbon import Run, runs
from steadyband.report.common.words import clock_of, drift_span, loads_of, number_text

RIBBON_HEIGHT = 48
RIBBON_PIECES = 1200
DRIFT = "drift"
WEEK = "week: "
"""How the label of a row for the whole week begins; such rows stand apart."""


def ribbons(audits: Sequence[Audit]) -> tuple[Figure, ...]:
    """One ribbon a session, in the order given, all on the same time axis of seconds from the start."""
    longest = longest_of(audits)
    return tuple(ribbon(audit, longest) for audit in audits)


def ribbon(audit: Audit, longest_s: int) -> Figure:
    """One session as a ribbon, its surges as ticks above, on a time axis that ends at `longest_s`."""
    pieces = runs(audit.traces.ribbon, max(1, -(-longest_s // RIBBON_PIECES)))
    codes = sorted({run.code for run in pieces})
    bars = [_ribbon_bars(audit, code, [run for run in pieces if run.code == code]) for code in codes]
    grid = {"showgrid": True, "gridcolor": token("line"), "tickvals": [mark for mark, _ in hour_marks(longest_s)]}
    layout = base_layout(
        height=RIBBON_HEIGHT,
        barmode="overlay",
        bargap=0,
        xaxis={"range": [-0.002 * longest_s, 1.002 * longest_s], "showticklabels": False, **still(), **grid},
        yaxis={"range": [0, 1], "visible": False, **still()},
    )
    return figure([*bars, *surge_ticks(audit), *_drift_line(audit)], layout)


def _drift_line(audit: Audit) -> list[Trace]:
    """A line under the part of the ribbon that drifted: its bands alone, means over 31 s, need not show it."""
    span = drift_span(audit)
    if span is None:
        return []
    line = {"width": 2, "color": token("ink")}
    return [Trace(type="scatter", name=DRIFT, mode="lines", x=list(span), y=[0.01, 0.01], line=line, hoverinfo="skip")]


def _ribbon_bars(audit: Audit, code: int, pieces: Sequence[Run]) -> Trace:
    return Trace(
        type="bar",
        name=RIBBON_NAMES[code],
        orientation="h",
        x=[run.length_s for run in pieces],
        base=[run.start_s for run in pieces],
        y=[0.31] * len(pieces),
        width=0.56,
        marker=band_marker(code),
        hovertext=[_run_text(audit, run) for run in pieces],
        hoverinfo="none",
    )


def _run_text(audit: Audit, run: Run) -> str:
    times = f"{clock_of(audit, run.start_s)} to {clock_of(audit, run.start_s + run.length_s)}"
    text = f"{times}\n{RIBBON_NAMES[run.code]}, {duration_text(run.length_s)}"
    if run.code >= len(BAND_NAMES):
        return text
    part = slice(run.start_s, run.start_s + run.length_s)
    beats = _mean(audit.traces.heart_rate_bpm[part])
    pulse = f"\nheart rate {number_text(beats, 'bpm')}" if np.isfinite(beats) else ""
    return f"{text}\nmean load {loads_of(audit).text(_mean(audit.traces.load[part]))}{pulse}"


def _mean(values: Any) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else float("nan")


def surge_ticks(audit: Audit, y: float = 0.82, place: Callable[[int], int] = int, told: str = "none") -> list[Trace]:
    """The surges of a session as ticks at height `y`; `place` turns a second into a value of the time axis.

    `told` is plotly's hoverinfo: "none" leaves the label to the page, "skip" shows none.
    """
    events = audit.surges.events if audit.surges else ()
    if not events:
        return []
    return [
        Trace(
            type="scatter",
            name="surges",
            mode="markers",
            x=[place(event.start_s) for event in events],
            y=[y] * len(events),
            marker={"symbol": "line-ns", "size": 6, "line": {"width": 1.4, "color": token("ink")}},
            hovertext=[surge_text(audit, event) for event in events] if told == "none" else None,
            hoverinfo=told,
            cliponaxis=False,
        )
    ]


def surge_text(audit: Audit, event: Surge) -> str:
    """One surge for the hover label: when, what kind, how long and how high, and where."""
    kind = "micro-surge" if event.micro else "sustained effort"
    place = "" if event.cause == "unknown" else f"\n{event.cause}"
    return (
        f"{clock_of(audit, event.start_s)}\n{kind}, {event.seconds_above} s above the ceiling"
        f"\nhighest {loads_of(audit).text(event.highest)}{place}"
    )


def band_hours(rows: Sequence[tuple[str, Mapping[str, int]]]) -> Figure:
    """Hours per band, one stacked bar a row: rows are (label, seconds by band), drawn from top to bottom."""
    places = [number + (0.4 if label.startswith(WEEK) else 0) for number, (label, _) in enumerate(rows)]
    bars = [
        Trace(
            type="bar",
            name=name,
            orientation="h",
            y=places,
            width=0.66,
            x=[row.get(name, 0) / 3600 for _, row in rows],
            marker=band_marker(code),
            hovertext=[f"{label}\n{name}, {duration_text(row.get(name, 0))}" for label, row in rows],
            hoverinfo="none",
        )
        for code, name in enumerate(BAND_NAMES)
        if any(row.get(name) for _, row in rows)
    ]
    total = max((sum(row.values()) for _, row in rows), default=0)
    marks = hour_marks(total)
    layout = base_layout(
        height=50 + 32 * len(rows),
        barmode="stack",
        margin={"l": 8, "r": 12, "t": 4, "b": 30},
        xaxis={
            "tickvals": [mark / 3600 for mark, _ in marks],
            "ticktext": [text for _, text in marks],
            "gridcolor": token("line"),
            "range": [0, max(total, 60) / 3600 * 1.02],
            **still(),
        },
        yaxis={
            "range": [places[-1] + 0.6, -0.6],
            "tickvals": places,
            "ticktext": [html.escape(label) for label, _ in rows],
            "automargin": True,
            "showgrid": False,
            "tickfont": {"color": token("ink"), "size": 13},
            "ticklabelstandoff": 6,
            **still(),
        },
    )
    return figure(bars, layout)
