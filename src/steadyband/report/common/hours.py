"""Hours in each band as stacked bars, with the table of what they show."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence

from steadyband.audit.model import BAND_NAMES
from steadyband.ground.units import duration_text
from steadyband.report.common.figure_base import Figure, Trace, band_marker, base_layout, figure, hour_marks, still
from steadyband.report.common.palette import token
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import zero_or_time

WEEK = "week: "
"""How the label of a row for the whole week begins; such rows stand apart."""
Rows = Sequence[tuple[str, Mapping[str, int]]]
"""(label, seconds by band), drawn from top to bottom."""


def bands_plot(rows: Rows, words: str) -> Plot | None:
    """Hours per band, one stacked bar a row; None where there is nothing to draw."""
    if not any(sum(bands.values()) for _, bands in rows):
        return None
    return plot("hours", band_hours(rows), words, hours_table(rows))


def band_hours(rows: Rows) -> Figure:
    """The bars."""
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


def hours_table(rows: Rows) -> Table:
    """The same rows, one a bar."""
    shown = [name for name in BAND_NAMES if any(row.get(name) for _, row in rows)]
    cells = tuple((label, *(zero_or_time(row.get(name, 0)) for name in shown)) for label, row in rows)
    first = "week" if all(label.startswith("Week ") for label, _ in rows) else "session"
    note = "Rows that begin with “week:” add up the sessions of one sport." if any(label.startswith(WEEK) for label, _ in rows) else ""  # fmt: skip
    return Table("The figure as a table", (first, *shown), cells, note=note)
