"""The track of one session seen from above, true to shape, by band, with its surges; no map under it; and its table."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import BAND_NAMES, RIBBON_NAMES, UNMEASURED, Audit
from steadyband.ground.units import distance_text, place_text
from steadyband.report.common.figure_base import Figure, Trace, figure
from steadyband.report.common.ground import (
    FloatArray,
    bands_cell,
    code_runs,
    flat_plan,
    place_cells,
    plan_layout,
    span_cells,
    stretch_borders,
)
from steadyband.report.common.palette import token
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import hour_of
from steadyband.report.session.marks import surge_marks, surges_cell

POINTS = 1800
"""Points the track is drawn in at most, about."""
WIDTHS = (2.2, 3.2, 5.2, 6.4, 1.4, 1.4)
"""Width of the line [px] of each code of the ribbon."""


def plan_plot(audit: Audit) -> Plot | None:
    """The plan with its table; None where positions are missing or the track is shorter than 50 m either way."""
    traces = audit.traces
    known = np.isfinite(traces.lat_deg) & np.isfinite(traces.lon_deg)
    if np.count_nonzero(known) < 2:
        return None
    x, y = flat_plan(traces.lat_deg, traces.lon_deg)
    if max(np.ptp(x[known]), np.ptp(y[known])) < 50:
        return None
    return plot("plan", plan_figure(audit, x, y), _words(audit), plan_table(audit, x, y))


def plan_figure(audit: Audit, x: FloatArray, y: FloatArray) -> Figure:
    """The track at `x` east and `y` north [m, n], NaN where unknown."""
    known = np.flatnonzero(np.isfinite(x + y))
    marks = surge_marks(audit, lambda event: _seen(x, y, event.start_s))
    return figure([*_plan_lines(audit, known, x, y), *marks], plan_layout(x[known], y[known]))


def _seen(x: FloatArray, y: FloatArray, row: int) -> tuple[float, float] | None:
    return (round(float(x[row]), 1), round(float(y[row]), 1)) if math.isfinite(x[row] + y[row]) else None


def _plan_lines(audit: Audit, known: NDArray[np.int64], x: FloatArray, y: FloatArray) -> list[Trace]:
    """One line a band, broken where the track is; a thin line under them all carries the hover."""
    kept = known[:: max(1, len(known) // POINTS)]
    gaps = np.flatnonzero(np.diff(kept) > 30 + 2 * max(1, len(known) // POINTS))
    traces = [_track(audit, kept, gaps, x, y)]
    codes = audit.traces.ribbon[kept].astype(np.int64)
    for code in range(UNMEASURED + 1):
        px: list[float | None] = []
        py: list[float | None] = []
        for found, first, end in code_runs(codes):
            if found != code:
                continue
            for part in np.split(
                np.arange(first, min(end + 1, len(kept))), gaps[(gaps >= first) & (gaps < end)] + 1 - first
            ):
                px += [round(float(value), 1) for value in x[kept[part]]] + [None]
                py += [round(float(value), 1) for value in y[kept[part]]] + [None]
        if px:
            colour = token(RIBBON_NAMES[code] if code < len(BAND_NAMES) else "outline")
            line = {"width": WIDTHS[code], "color": colour, "dash": "solid" if code < len(BAND_NAMES) else "dot"}
            traces.append(
                Trace(type="scatter", name=RIBBON_NAMES[code], mode="lines", x=px, y=py, line=line, hoverinfo="skip")
            )
    return traces


def _track(audit: Audit, kept: NDArray[np.int64], gaps: NDArray[np.int64], x: FloatArray, y: FloatArray) -> Trace:
    metres = audit.traces.distance_m[kept]
    px, py = x[kept].tolist(), y[kept].tolist()
    texts: list[Any] = [
        f"{hour_of(audit, row)}, {place_text(m)}" for row, m in zip(kept.tolist(), metres.tolist(), strict=True)
    ]
    keys: list[Any] = [["m", round(m) if math.isfinite(m) else None] for m in metres.tolist()]
    for place in gaps[::-1].tolist():
        for values in (px, py, texts, keys):
            values.insert(place + 1, None)
    return Trace(
        type="scatter",
        name="track",
        mode="lines",
        x=[None if value is None else round(value, 1) for value in px],
        y=[None if value is None else round(value, 1) for value in py],
        line={"width": 7.4, "color": token("outline")},
        customdata=keys,
        hovertext=texts,
        hovertemplate="%{hovertext}<extra></extra>",
        connectgaps=False,
    )


def plan_table(audit: Audit, x: FloatArray, y: FloatArray) -> Table:
    """Where the track goes: places east and north of the middle of what is drawn, with bands and surges."""
    traces = audit.traces
    known = np.flatnonzero(np.isfinite(x + y + traces.distance_m))
    if not len(known):
        return Table("The plan as a table", ("track", "place"), (("whole track", "no distances were recorded"),))
    along = traces.distance_m[known]
    rows = tuple(
        (
            *span_cells(start, end),
            *place_cells(x[known], y[known], along, end),
            bands_cell(traces.ribbon[known][(along >= start) & (along < end)].astype(np.int64)),
            surges_cell(audit, start, end),
        )
        for start, end in pairwise(stretch_borders(float(along.min()), float(along.max())).tolist())
    )
    head = ("from", "to", "east at the end", "north at the end", "bands by time", "surges")
    return Table(
        "The plan as a table", head, rows, words=2, note="East and north are counted from the middle of the track."
    )


def _words(audit: Audit) -> str:
    length = np.nanmax(audit.traces.distance_m) if np.isfinite(audit.traces.distance_m).any() else float("nan")
    return f"The track of {distance_text(float(length))} seen from above, by band, with its surges."
