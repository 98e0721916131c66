"""One session's load over time with the band edges and their ranges, its surges, its heart rate below, and its table."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import BAND_NAMES, Audit
from steadyband.ground.units import LoadUnit, clock_text, duration_text, load_to_si
from steadyband.report.common.figure_base import (
    ZERO_MS,
    Figure,
    Trace,
    base_layout,
    elapsed_axis,
    elapsed_ms,
    figure,
    of_known,
    still,
)
from steadyband.report.common.page_ribbon import surges_begun
from steadyband.report.common.palette import token
from steadyband.report.common.thin import thinned
from steadyband.report.common.view import Table
from steadyband.report.common.words import Loads, drift_span, edges_of, loads_of, number_text, share_text

FloatArray = NDArray[np.float64]
PIECES = {"faint": 500, "trace": 350, "pulse": 300}
SESSION_HEIGHT = 340
PACES = (30.0, 20.0, 15.0, 12.0, 10.0, 9.0, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5, 4.0, 3.5, 3.0, 2.5)
MOST_PARTS = 60
PARTS_S = (300, 600, 1800, 3600)
"""Lengths [s] of the rows of the table."""
DASHES = {"floor": "solid", "target top": "dot", "ceiling": "dash", "upper threshold": "dashdot"}


def session_figure(audit: Audit) -> Figure:
    """Load over time (1-s faint, 31-s mean strong), edges as lines with their ranges as shade, heart rate below.

    Traces are thinned for drawing with the lowest and highest value of every piece kept.
    """
    beats = audit.traces.heart_rate_bpm
    by_heart = loads_of(audit).unit == "bpm"
    below = not by_heart and bool(np.isfinite(beats).any())
    low, high = load_span(audit)
    traces = [*_loads(audit), *_surge_ticks(audit, high - 0.03 * (high - low))]
    layout = base_layout(
        hovermode="x",
        meta={"zero": ZERO_MS},
        hoversubplots="axis",
        height=SESSION_HEIGHT if below else SESSION_HEIGHT - 90,
        margin={"l": 52, "r": 8, "t": 6, "b": 28},
        xaxis=elapsed_axis(len(audit.traces.ribbon)) | {"anchor": "y2" if below else "y"},
        yaxis=load_axis(loads_of(audit), low, high) | {"domain": [0.34, 1] if below else [0, 1]},
        shapes=[*_edge_shapes(audit, low, high), *_drift_shape(audit)],
        annotations=_edge_labels(audit, high),
    )
    if below:
        traces.append(_line(beats, "heart rate", "pulse", 1.2, "y2", Loads("bpm")))
        layout["yaxis2"] = {**_plain_axis(), "domain": [0, 0.26], "title": _title("bpm"), "nticks": 4}
        layout["shapes"] += _heart_limit(audit)
    return figure(traces, layout)


def load_span(audit: Audit) -> tuple[float, float]:
    """Lowest and highest load drawn.

    Single sprints beyond three times the highest edge are cut off; at the bottom power goes down to where its mean goes,
    speed to a little below the lowest edge, heart rate to its lowest.
    """
    loads = audit.traces.load[np.isfinite(audit.traces.load)]
    means = audit.traces.band_load[np.isfinite(audit.traces.band_load)]
    edges = [edge for edge in edges_of(audit).values() if edge is not None]
    top = max([float(loads.max()) if len(loads) else 1.0, *(edge * 1.05 for edge in edges)])
    top = 1.06 * (min(top, 3 * max(edges)) if edges else top)
    if loads_of(audit).unit == "bpm":
        return max(0.0, float(loads.min()) - 5) if len(loads) else 0.0, top
    low = 0.6 * min(edges, default=0.0)
    if loads_of(audit).unit == "W" and len(means):
        low = min(low, 0.85 * float(means.min()))
    return max(0.0, low), top


def is_cut(audit: Audit) -> bool:
    """True where the figure leaves out the tops of single sprints."""
    return bool((audit.traces.load[np.isfinite(audit.traces.load)] > load_span(audit)[1]).any())


def _loads(audit: Audit) -> list[Trace]:
    loads = loads_of(audit)
    mean = "31-s mean" if audit.settings.bands.window_s == 31 else f"{audit.settings.bands.window_s}-s mean"
    return [
        _line(audit.traces.load, "each second", "faint", 0.8, "y", loads),
        _line(audit.traces.band_load, mean, "trace", 1.6, "y", loads),
    ]


def _line(values: FloatArray, name: str, colour: str, width: float, axis: str, loads: Loads) -> Trace:
    index, kept = thinned(values, PIECES[colour])
    speed = loads.unit not in ("W", "bpm")
    return Trace(
        type="scatter",
        name=name,
        mode="lines",
        x=[elapsed_ms(second) for second in index],
        y=[None if math.isnan(value) else round(float(value), 3 if speed else 0) for value in kept],
        yaxis=axis,
        line={"color": token(colour), "width": width},
        connectgaps=False,
        hoverinfo="skip" if colour == "faint" else None,
        text=[loads.text(float(value)) for value in kept] if speed and colour != "faint" else None,
        hovertemplate=_hover(name, loads, speed) if colour != "faint" else None,
    )


def _hover(name: str, loads: Loads, speed: bool) -> str:
    value = "%{text}" if speed else f"%{{y:.0f}} {loads.shown}"
    return f"{name} <b>{value}</b><extra></extra>"


def _plain_axis() -> dict[str, Any]:
    return {"gridcolor": token("line"), "showgrid": False, "ticks": "outside", "ticklen": 4, **still()}


def _title(text: str) -> dict[str, Any]:
    return {"text": text, "standoff": 4, "font": {"size": 12, "color": token("soft")}}


def load_axis(loads: Loads, low: float, high: float) -> dict[str, Any]:
    """An axis of loads [W, m/s or bpm] with round marks in the unit they are shown in."""
    axis = {**_plain_axis(), "range": [low, high], "title": _title(loads.shown)}
    if loads.unit in ("W", "bpm"):
        return axis | {"nticks": 6}
    marks = load_marks(loads, low, high)
    return axis | {"tickvals": marks, "ticktext": [loads.bare(mark) for mark in marks]}


def load_marks(loads: Loads, low: float, high: float) -> list[float]:
    """Round loads [m/s] for a speed axis, whole km/h or mph or paces in half minutes, none too close to the next."""
    shown = loads.shown
    if shown in ("km/h", "mph"):
        one = load_to_si(1.0 if high - low > load_to_si(3.0, shown) else 0.5, shown)
        wanted = [number * one for number in range(math.ceil(low / one), math.ceil(high / one))]
    else:
        unit: LoadUnit = "min/km" if shown == "min/km" else "min/mile"
        wanted = [load_to_si(pace, unit) for pace in PACES]
    marks: list[float] = []
    for mark in wanted:
        if low <= mark <= high and (not marks or mark - marks[-1] >= 0.09 * (high - low)):
            marks.append(mark)
    return marks


def _edge_shapes(audit: Audit, low: float, high: float) -> list[dict[str, Any]]:
    edges = edges_of(audit)
    shapes = [_across(edges[name], dash) for name, dash in DASHES.items() if edges[name] is not None]
    zones = audit.zones
    if zones is None or loads_of(audit).unit == "bpm":
        return shapes
    ranges = [zones.floor_range, zones.ceiling_range]
    shades = [_shade(a, high if b is None else b, "shade") for a, b in ranges if a is not None]
    if zones.ceiling is not None:
        shades.append(_shade(low if zones.floor is None else zones.floor, zones.ceiling, "tint"))
    return shades + shapes


def _across(value: float | None, dash: str) -> dict[str, Any]:
    line = {"color": token("ink"), "width": 1, "dash": dash}
    return {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": value, "y1": value, "line": line}


def _shade(low: float, high: float, colour: str) -> dict[str, Any]:
    box = {"type": "rect", "xref": "paper", "x0": 0, "x1": 1, "y0": low, "y1": high}
    return box | {"fillcolor": token(colour), "line": {"width": 0}, "layer": "below"}


def _drift_shape(audit: Audit) -> list[dict[str, Any]]:
    span = drift_span(audit)
    if span is None:
        return []
    start, end = span
    edge = {"width": 1, "color": token("amiss"), "dash": "dot"}
    box = {"type": "rect", "yref": "y domain", "x0": elapsed_ms(start), "x1": elapsed_ms(end), "y0": 0, "y1": 1}
    return [box | {"fillcolor": token("drifted"), "line": edge, "layer": "below"}]


def _heart_limit(audit: Audit) -> list[dict[str, Any]]:
    limit = audit.zones.hr_ceiling if audit.zones else None
    return [] if limit is None else [_across(limit, "dash") | {"yref": "y2"}]


def _edge_labels(audit: Audit, high: float) -> list[dict[str, Any]]:
    edges = edges_of(audit)
    sides = {"floor": "top", "ceiling": "bottom", "upper threshold": "bottom"}
    return [
        {
            "text": f"{name} {loads_of(audit).text(edges[name])}",
            "xref": "paper",
            "x": 0.005,
            "xanchor": "left",
            "y": edges[name],
            "yanchor": side,
            "showarrow": False,
            "font": {"size": 11, "color": token("ink")},
            "bgcolor": token("label"),
            "borderpad": 1,
        }
        for name, side in sides.items()
        if edges[name] is not None and (edges[name] or 0) < high
    ]


def _surge_ticks(audit: Audit, y: float) -> list[Trace]:
    events = audit.surges.events if audit.surges else ()
    if not events:
        return []
    return [
        Trace(
            type="scatter",
            name="surges",
            mode="markers",
            x=[elapsed_ms(event.start_s) for event in events],
            y=[y] * len(events),
            marker={"symbol": "line-ns", "size": 6, "line": {"width": 1.4, "color": token("ink")}},
            hoverinfo="skip",
            cliponaxis=False,
        )
    ]


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
        loads.text(of_known(np.mean, traces.load[part])),
        loads.text(of_known(np.max, traces.band_load[part])),
        number_text(of_known(np.mean, traces.heart_rate_bpm[part]), "bpm"),
        surges_begun(audit, start, stop),
        ", ".join(f"{name} {share_text(share)}" for name, share in shares.items() if share) or "not active",
    )
