"""The table behind a figure of sessions: what is drawn, in rows. Made from the same data as the figure; computes no physiology."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from steadyband.audit.model import BAND_NAMES, RIBBON_NAMES, Audit, FloatArray
from steadyband.ground.units import clock_text, duration_text
from steadyband.report.common.figures import WEEK
from steadyband.report.common.ribbon import Run, runs
from steadyband.report.common.view import Table
from steadyband.report.common.words import DASH, clock_of, loads_of, number_text, share_text, zero_or_time

MOST_STRETCHES = 24
"""Most rows of a ribbon's table: more would be read by nobody."""
MOST_PARTS = 60
PIECES_S = (1, 5, 15, 30, 60, 120, 300, 600, 1200, 1800, 3600)
"""Lengths [s] a ribbon is cut into for its table, the first that gives few enough rows."""
PARTS_S = (300, 600, 1800, 3600)
"""Lengths [s] of the rows of a session's table."""


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
    mean = _over(np.mean, audit.traces.load[run.start_s : stop])
    return (
        clock_of(audit, run.start_s),
        clock_text(run.start_s),
        RIBBON_NAMES[run.code],
        duration_text(run.length_s),
        loads_of(audit).text(mean) if run.code < len(BAND_NAMES) else DASH,
        _surges(audit, run.start_s, stop),
    )


def _surges(audit: Audit, start: int, stop: int) -> str:
    if audit.surges is None:
        return DASH
    return str(sum(start <= event.start_s < stop for event in audit.surges.events))


def _over(what: Callable[[FloatArray], float], values: FloatArray) -> float | None:
    known = values[np.isfinite(values)]
    return float(what(known)) if len(known) else None


def session_table(audit: Audit) -> Table:
    """Load, bands, heart rate and surges of a session in rows of five minutes (longer ones in a long session)."""
    total = len(audit.traces.ribbon)
    step = next((step for step in PARTS_S if total <= step * MOST_PARTS), PARTS_S[-1])
    rows = tuple(_part(audit, start, min(start + step, total)) for start in range(0, total, step))
    window = audit.settings.bands.window_s
    head = ("from start", "mean load", f"highest {window}-s load", "mean heart rate", "surges", "bands")
    note = f"Each row is {duration_text(step)} long. Surges are counted where they begin."
    return Table("The figure as a table", head, rows, note=note)


def _part(audit: Audit, start: int, stop: int) -> tuple[str, ...]:
    traces, part, loads = audit.traces, slice(start, stop), loads_of(audit)
    shares = {name: float((traces.ribbon[part] == code).mean()) for code, name in enumerate(BAND_NAMES)}
    return (
        clock_text(start),
        loads.text(_over(np.mean, traces.load[part])),
        loads.text(_over(np.max, traces.band_load[part])),
        number_text(_over(np.mean, traces.heart_rate_bpm[part]), "bpm"),
        _surges(audit, start, stop),
        ", ".join(f"{name} {share_text(share)}" for name, share in shares.items() if share) or "not active",
    )


def hours_table(rows: Sequence[tuple[str, Mapping[str, int]]]) -> Table:
    """The bars of hours per band, one row a bar: rows are (label, seconds by band) as `band_hours` takes them."""
    shown = [name for name in BAND_NAMES if any(row.get(name) for _, row in rows)]
    cells = tuple((label, *(zero_or_time(row.get(name, 0)) for name in shown)) for label, row in rows)
    first = "week" if all(label.startswith("Week ") for label, _ in rows) else "session"
    note = "Rows that begin with “week:” add up the sessions of one sport." if any(label.startswith(WEEK) for label, _ in rows) else ""  # fmt: skip
    return Table("The figure as a table", (first, *shown), cells, note=note)
