"""The ground of one session: height over distance filled by band, climbs bracketed, surges by cause above it, and its table."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from steadyband.audit.model import RIBBON_NAMES, UNMEASURED, Audit, Surge
from steadyband.ground.units import height_text, height_unit
from steadyband.report.common.figure_base import FILLS, Figure, Trace, base_layout, figure, still
from steadyband.report.common.ground import (
    Codes,
    Drawn,
    Hill,
    along,
    bands_cell,
    code_runs,
    ground_cells,
    ground_fill,
    ground_line,
    height_axis,
    hill_marks,
    km_axis,
    span_cells,
    stretch_borders,
)
from steadyband.report.common.palette import token
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import DASH, counted, number_text
from steadyband.report.session.marks import surge_marks, surges_cell

PARTS = 900
"""Pieces of equal length the ground is drawn in: about two pixels each."""
HEIGHT = 400
ABOVE = "above the ceiling"


def profile_plot(audit: Audit) -> Plot | None:
    """The profile with its table; None without ground."""
    drawn = by_distance(audit)
    return plot("profile", profile_figure(audit, drawn), _words(audit), profile_table(audit, drawn)) if drawn else None


def profile_figure(audit: Audit, drawn: Drawn) -> Figure:
    """Height over distance filled by band, climbs bracketed, surges by cause above it, what gathered above the ceiling below."""
    below = _gathered(audit)
    codes = sorted({code for code, _, _ in code_runs(drawn.codes)})
    traces = [
        *(ground_fill(drawn, code, FILLS.get(code, RIBBON_NAMES[code])) for code in codes),
        ground_line(drawn),
        *surge_marks(audit, lambda event: _above(audit, event, drawn)),
    ]
    hills = [Hill(climb.start_m, climb.length_m, climb.height_m, climb.mean_grade) for climb in audit.climbs]
    layout = base_layout(
        height=HEIGHT if below else HEIGHT - 80,
        margin={"l": 52, "r": 10, "t": 8, "b": 34},
        xaxis=km_axis(drawn) | {"anchor": "y2" if below else "y"},
        yaxis=height_axis(drawn) | {"domain": [0.3, 1] if below else [0, 1]},
        **hill_marks(hills, drawn),
    )
    if below:
        traces.append(_gathering(audit))
        layout["yaxis2"] = {
            "domain": [0, 0.2],
            "nticks": 3,
            "showgrid": False,
            "rangemode": "tozero",
            **still(),
            "title": {"text": f"{_unit(audit)[0]} above", "standoff": 6, "font": {"size": 12, "color": token("soft")}},
        }
    return figure(traces, layout)


def _gathered(audit: Audit) -> bool:
    return bool((audit.traces.gathered_above > 0).any())


def gathered_words(audit: Audit) -> str:
    """What the strip under the profile shows; empty where nothing gathered above the ceiling."""
    if not _gathered(audit):
        return ""
    by_power = audit.load is not None and audit.load.channel == "power"
    what = "work above the ceiling" if by_power else "distance gained on the ceiling's pace"
    return f"{what}, added up from the start; where the line climbs, the ceiling was passed."


def base_text(audit: Audit) -> str:
    """From which height the profile is drawn; empty without one."""
    drawn = by_distance(audit)
    return height_text(drawn.low) if drawn else ""


def _unit(audit: Audit) -> tuple[str, float]:
    """Name and size of the unit of what gathers above the ceiling: kJ for power, else of the length gained on its pace."""
    return ("kJ", 1000.0) if audit.load and audit.load.channel == "power" else height_unit()


def by_distance(audit: Audit, parts: int = PARTS) -> Drawn | None:
    """The session cut into pieces of equal distance, each with the band that fills most of it; None without ground."""
    traces = audit.traces
    known = np.flatnonzero(np.isfinite(traces.distance_m) & np.isfinite(traces.height_m))
    if len(known) < 2:
        return None
    along = np.maximum.accumulate(traces.distance_m[known])
    if along[-1] - along[0] < 100:
        return None
    borders = np.linspace(along[0], along[-1], parts + 1)
    cell = np.minimum(np.searchsorted(borders, along, side="right") - 1, parts - 1)
    counts = np.zeros((parts, len(RIBBON_NAMES)), dtype=np.int64)
    np.add.at(counts, (cell, traces.ribbon[known]), 1)
    codes = np.argmax(counts[:, : UNMEASURED + 1], axis=1)
    empty = counts[:, : UNMEASURED + 1].sum(axis=1) == 0
    filled = np.maximum.accumulate(np.where(empty, 0, np.arange(parts)))
    return Drawn(borders, np.interp(borders, along, traces.height_m[known]), codes[filled])


def _above(audit: Audit, event: Surge, drawn: Drawn) -> tuple[float, float] | None:
    row = event.start_s
    metre, height = float(audit.traces.distance_m[row]), float(audit.traces.height_m[row])
    if not (math.isfinite(metre) and math.isfinite(height)):
        return None
    return along(metre), round(height - drawn.low + 0.055 * drawn.top, 1)


def _gathering(audit: Audit) -> Trace:
    traces = audit.traces
    known = np.flatnonzero(np.isfinite(traces.distance_m) & np.isfinite(traces.gathered_above))
    kept, size = known[:: max(1, len(known) // PARTS)], _unit(audit)[1]
    return Trace(
        type="scatter",
        name=ABOVE,
        mode="lines",
        x=[along(float(value)) for value in traces.distance_m[kept]],
        y=[round(float(value) / size, 1) for value in traces.gathered_above[kept]],
        yaxis="y2",
        fill="tozeroy",
        fillcolor=token("shade"),
        line={"width": 1.2, "color": token("ink")},
        hoverinfo="skip",
    )


def profile_table(audit: Audit, drawn: Drawn) -> Table:
    """Height, grade, bands, surges and what gathered above the ceiling over the distance."""
    carried = _gathered(audit)
    rows = tuple(
        (
            *span_cells(start, end),
            *ground_cells(drawn, start, end),
            bands_cell(_codes_in(drawn, start, end)),
            surges_cell(audit, start, end),
            *([_carried(audit, start, end)] if carried else []),
        )
        for start, end in pairwise(stretch_borders(float(drawn.metres[0]), float(drawn.metres[-1])).tolist())
    )
    head = ("from", "to", "height at the end", "change", "mean grade", "bands by distance", "surges")
    note = f"Above the ceiling: up to the end of the stretch, in {_unit(audit)[0]}." if carried else ""
    return Table("The profile as a table", (*head, *([ABOVE] if carried else [])), rows, words=2, note=note)


def _codes_in(drawn: Drawn, start: float, end: float) -> Codes:
    middles = 0.5 * (drawn.metres[:-1] + drawn.metres[1:])
    return drawn.codes[(middles >= start) & (middles < end)]


def _carried(audit: Audit, start: float, end: float) -> str:
    traces = audit.traces
    here = traces.gathered_above[(traces.distance_m >= start) & (traces.distance_m < end)]
    known = here[np.isfinite(here)]
    name, size = _unit(audit)
    return number_text(float(known.max()) / size, name, 1) if len(known) else DASH


def _words(audit: Audit) -> str:
    found = audit.surges
    told = [f"{count} {cause}" for cause, count in (found.by_cause if found else {}).items() if count]
    climbs = counted(len(audit.climbs), "climb")
    return f"Height over distance by band with {climbs}; surges: {', '.join(told) or 'none'}. The tables say the same."
