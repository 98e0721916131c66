"""How the load of an uneven session was spread against the edges: minutes by load, coloured by band, with its table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import BAND_NAMES, HARD_INTENTS, Audit
from steadyband.ground.units import duration_text
from steadyband.report.common.figure_base import Figure, Trace, band_marker, base_layout, figure, hour_marks, still
from steadyband.report.common.palette import token
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import Loads, edges_of, loads_of, share_text
from steadyband.report.session.figure import load_axis

HEIGHT = 250
BINS = 40
CROWDED = 12.0
"""Surges an hour from which single marks crowd and the spread tells more (design choice)."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Borders [W, m/s or bpm; n + 1], seconds of each bin in each band [n, bands], and how the loads are written."""

    borders: NDArray[np.float64]
    seconds: NDArray[np.int64]
    loads: Loads


def spread_plot(audit: Audit) -> Plot | None:
    """The figure with its table; None for an even session, and where there is no load to spread."""
    found = spread_of(audit) if is_uneven(audit) else None
    if found is None:
        return None
    words = f"Minutes by load in {len(found.seconds)} steps, coloured by band. The table under it says the same."
    return plot("spread", spread_figure(audit, found), words, spread_table(found))


def is_uneven(audit: Audit) -> bool:
    """True where a session was meant hard, or surged so often that single marks crowd."""
    if audit.info.intent in HARD_INTENTS:
        return True
    return audit.surges is not None and audit.surges.per_hour >= CROWDED


def spread_of(audit: Audit) -> Spread | None:
    """Seconds by load (means over the window of the bands) and band, what lies beyond the first and the last hundredth gathered in the bins at the ends."""
    mean, ribbon = audit.traces.band_load, audit.traces.ribbon
    known = np.isfinite(mean) & (ribbon < len(BAND_NAMES))
    if not known.any() or not audit.bands:
        return None
    values, codes = mean[known], ribbon[known]
    low, high = (float(edge) for edge in np.quantile(values, (0.01, 0.995)))
    borders = np.linspace(low, max(high, low + 1e-6), BINS + 1)
    at = np.clip(np.searchsorted(borders, values, side="right") - 1, 0, BINS - 1)
    seconds = np.zeros((BINS, len(BAND_NAMES)), dtype=np.int64)
    np.add.at(seconds, (at, codes), 1)
    return Spread(borders, seconds, loads_of(audit))


def spread_figure(audit: Audit, found: Spread) -> Figure:
    """Bars by load, the edges as upright lines with how far the test may be out as thick grey bars under them."""
    middles = 0.5 * (found.borders[:-1] + found.borders[1:])
    width = float(found.borders[1] - found.borders[0])
    bars = [
        Trace(
            type="bar",
            name=name,
            x=[round(float(value), 4) for value in middles],
            y=[round(int(count) / 60, 2) for count in found.seconds[:, code]],
            width=0.92 * width,
            marker=band_marker(code),
            hovertext=[
                f"{_span(found, row)}<br>{name} {duration_text(int(count))}"
                for row, count in enumerate(found.seconds[:, code])
            ],
            hovertemplate="%{hovertext}<extra></extra>",
        )
        for code, name in enumerate(BAND_NAMES)
        if found.seconds[:, code].any()
    ]
    most = float(found.seconds.sum(axis=1).max())
    marks = (
        hour_marks(most) if most >= 600 else [(minute * 60, f"{minute} min") for minute in range(int(most // 60) + 1)]
    )
    low, high = float(found.borders[0]) - width, float(found.borders[-1]) + width
    layout = base_layout(
        height=HEIGHT,
        barmode="stack",
        margin={"l": 52, "r": 8, "t": 22, "b": 42},
        xaxis=load_axis(found.loads, low, high),
        yaxis={
            "tickvals": [mark / 60 for mark, _ in marks],
            "ticktext": [text for _, text in marks],
            "gridcolor": token("line"),
            "range": [-0.05 * most / 60, 1.05 * most / 60],
            **still(),
        },
        shapes=[*_lines(audit, low, high), *_ranges(audit, low, high, most)],
        annotations=_labels(audit, low, high),
    )
    return figure(bars, layout)


def _edges(audit: Audit, low: float, high: float) -> list[tuple[str, float]]:
    return [(name, value) for name, value in edges_of(audit).items() if value is not None and low < value < high]


def _lines(audit: Audit, low: float, high: float) -> list[dict[str, object]]:
    dashes = {"floor": "solid", "target top": "dot", "ceiling": "dash", "upper threshold": "dashdot"}
    return [
        {"type": "line", "yref": "paper", "y0": 0, "y1": 1, "x0": value, "x1": value,
         "line": {"color": token("ink"), "width": 1, "dash": dashes[name]}}
        for name, value in _edges(audit, low, high)
    ]  # fmt: skip


def _ranges(audit: Audit, low: float, high: float, most: float) -> list[dict[str, object]]:
    zones = audit.zones
    if zones is None or loads_of(audit).unit == "bpm":
        return []
    spans = [(a, high if b is None else b) for a, b in (zones.floor_range, zones.ceiling_range) if a is not None]
    return [
        {"type": "rect", "x0": max(a, low), "x1": min(b, high), "y0": -0.05 * most / 60, "y1": -0.015 * most / 60,
         "fillcolor": token("outline"), "line": {"width": 0}}
        for a, b in spans if a < high and b > low
    ]  # fmt: skip


def _labels(audit: Audit, low: float, high: float) -> list[dict[str, object]]:
    """Each edge named at the top of its line; of neighbours the lower to the left of it, the higher to the right."""
    shown = [(name, value) for name, value in _edges(audit, low, high) if name in ("floor", "ceiling")]
    return [
        {"text": f"{name} {loads_of(audit).text(value)}", "x": value, "yref": "paper", "y": 1.0, "yanchor": "bottom",
         "xanchor": "right" if name == "floor" else "left", "showarrow": False, "font": {"size": 11, "color": token("ink")}}
        for name, value in shown
    ]  # fmt: skip


def _span(found: Spread, row: int) -> str:
    return found.loads.range(float(found.borders[row]), float(found.borders[row + 1]))


def spread_table(found: Spread) -> Table:
    """The same in rows of four bars each: from load to load, time, share, and its bands."""
    total = int(found.seconds.sum())
    rows = []
    for start in range(0, BINS, 4):
        part = found.seconds[start : start + 4].sum(axis=0)
        if not part.any():
            continue
        span = found.loads.range(float(found.borders[start]), float(found.borders[min(start + 4, BINS)]))
        bands = ", ".join(
            f"{name} {duration_text(int(count))}" for name, count in zip(BAND_NAMES, part, strict=True) if count
        )
        rows.append((span, bands, duration_text(int(part.sum())), share_text(int(part.sum()) / total)))
    return Table("The figure as a table", ("load", "bands", "time", "share"), tuple(rows), words=2)
