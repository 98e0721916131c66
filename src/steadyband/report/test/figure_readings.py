"""Figures beside the curve, each with its table: strip of readings, edges over time, two meters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from steadyband.ground.units import load_to_si, speed_unit
from steadyband.report.common.figure_base import Figure, Trace, base_layout, figure, still
from steadyband.report.common.palette import token
from steadyband.report.common.view import Table
from steadyband.report.common.words import Loads, capital, counted, date_text, number_text, signed_text
from steadyband.report.test.figure_curve import (
    DASHES,
    EDGE_COLOURS,
    EDGE_SYMBOLS,
    ROW_HEIGHT,
    band_rect,
    edge_label,
    edge_of,
    last_load,
    level_line,
    load_axis,
    load_title,
    range_bar,
    span_of,
    value_axis,
)
from steadyband.steptest.history import HistoryGroup
from steadyband.steptest.meters import MeterComparison
from steadyband.steptest.model import ZoneSet


def readings_figure(zone_set: ZoneSet) -> Figure:
    """This tool's three edges with their ranges and every other published reading, marked on one load axis."""
    loads, edges = Loads(zone_set.test.load_unit), zone_set.edges
    rows: list[tuple[str, float | None]] = [(edge_label(name), edge_of(zone_set, name)) for name in DASHES]
    rows += [(item.name, item.value) for item in zone_set.methods]
    names = [name for name, _ in rows]
    found = [(name, value) for name, value in rows if value is not None]
    own = [name for name in DASHES if edge_of(zone_set, name) is not None]
    marks: Trace = {
        "type": "scatter",
        "mode": "markers",
        "x": [value for _, value in found],
        "y": [name for name, _ in found],
        "marker": {
            "size": 11,
            "symbol": [EDGE_SYMBOLS[name] for name in own] + ["line-ns"] * (len(found) - len(own)),
            "color": [token(EDGE_COLOURS[name]) for name in own] + [token("ink")] * (len(found) - len(own)),
            "line": {"width": [0] * len(own) + [2.5] * (len(found) - len(own)), "color": token("ink")},
        },
        "hovertext": [f"{name}: {loads.text(value)}" for name, value in found],
        "hovertemplate": "%{hovertext}<extra></extra>",
        "cliponaxis": False,
    }
    bars = [range_bar(zone_set, name, edge_label(name), width=9) for name in DASHES]
    low, high = edges.floor, edges.ceiling if edges.ceiling is not None else last_load(zone_set)
    shapes = [band_rect(low, high, "y domain", "tint")] if low is not None else []
    layout = base_layout(
        height=ROW_HEIGHT * len(rows) + 52,
        margin={"l": 8, "r": 14, "t": 4, "b": 42},
        xaxis=load_axis(zone_set, baseline=False),
        yaxis={
            "type": "category",
            "categoryorder": "array",
            "categoryarray": names,
            "range": [len(names) - 0.5, -0.5],
            "automargin": True,
            "gridcolor": token("line"),
            "tickfont": {"color": token("ink"), "size": 12.5},
            "ticklabelstandoff": 6,
            **still(),
        },
        shapes=shapes,
        annotations=[_not_reached(name) for name, value in rows if value is None],
    )
    return figure([*(bar for bar in bars if bar), marks], layout)


def history_figure(group: HistoryGroup) -> Figure:
    """Floor, target top and ceiling of every test of a group over time, with their ranges."""
    loads = Loads(group.load_unit)
    values = [edge_of(item, name) for item in group.zone_sets for name in EDGE_COLOURS]
    known = [value for value in values if value is not None]
    ticks = _round_loads(min(known, default=0.0), max(known, default=1.0), loads)
    layout = base_layout(
        height=300,
        margin={"l": 70, "r": 16, "t": 12, "b": 40},
        xaxis={
            "type": "date",
            "tickvals": _days(group),
            "ticktext": _day_labels(group),
            "gridcolor": token("line"),
            **still(),
        },
        yaxis=value_axis(load_title(loads)) | {"tickvals": ticks, "ticktext": [loads.bare(tick) for tick in ticks]},
        showlegend=True,
        legend={"orientation": "h", "y": 1.14, "x": 0, "font": {"color": token("ink")}},
    )
    layout["margin"]["t"] = 40
    return figure([_over_time(group, name) for name in EDGE_COLOURS], layout)


def meters_figure(comparison: MeterComparison) -> Figure:
    """How much more B reads than A at each load of A: a dot for every half minute, and the Theil-Sen line."""
    a, b = comparison.means_a, comparison.means_b
    ends = np.array([float(a.min()), float(a.max())])
    line = comparison.intercept_w + comparison.slope * ends - ends
    dots: Trace = {
        "type": "scatter",
        "mode": "markers",
        "x": a.tolist(),
        "y": (b - a).tolist(),
        "marker": {"size": 5, "color": token("trace"), "opacity": 0.75},
        "hovertemplate": f"{comparison.name_a} %{{x:.0f}} W<br>difference %{{y:+.1f}} W<extra></extra>",
    }
    fit: Trace = {
        "type": "scatter",
        "mode": "lines",
        "x": ends.tolist(),
        "y": line.tolist(),
        "line": {"color": token("ink"), "width": 2},
        "hoverinfo": "skip",
    }
    layout = base_layout(
        height=360,
        margin={"l": 56, "r": 12, "t": 10, "b": 44},
        xaxis=value_axis("30-s mean of the first meter, W") | {"gridcolor": token("line")},
        yaxis=value_axis("second minus first, W"),
        shapes=[level_line(0.0, "y", "outline")],
    )
    return figure([dots, fit], layout)


def _over_time(group: HistoryGroup, name: str) -> Trace:
    loads = Loads(group.load_unit)
    sets = [item for item in group.zone_sets if edge_of(item, name) is not None]
    values = [edge_of(item, name) or 0.0 for item in sets]
    spans = [span_of(item, name) for item in sets]
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "name": name.replace("_", " "),
        "x": [item.test.date.isoformat() for item in sets],
        "y": values,
        "line": {"color": token(EDGE_COLOURS[name]), "width": 1, "dash": "dot"},
        "marker": {"size": 10, "symbol": EDGE_SYMBOLS[name], "color": token(EDGE_COLOURS[name])},
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": [max(high - value, 0.0) for value, (_, high) in zip(values, spans, strict=True)],
            "arrayminus": [max(value - low, 0.0) for value, (low, _) in zip(values, spans, strict=True)],
            "color": token(EDGE_COLOURS[name]),
            "thickness": 1.4,
            "width": 4,
        },
        "hovertext": [
            f"{date_text(item.test.date)}: {name.replace('_', ' ')} {loads.text(edge_of(item, name))}" for item in sets
        ],
        "hovertemplate": "%{hovertext}<extra></extra>",
    }


def _days(group: HistoryGroup) -> list[str]:
    return sorted({item.test.date.isoformat() for item in group.zone_sets})


def _day_labels(group: HistoryGroup) -> list[str]:
    days = sorted({item.test.date for item in group.zone_sets})
    return [f"{day:%-d %b}<br>{day:%Y}" for day in days]


def _round_loads(low: float, high: float, loads: Loads) -> list[float]:
    step = 10.0 if loads.unit == "W" else load_to_si(0.5, speed_unit())
    step *= max(1, math.ceil((high - low) / step / 6))
    first = math.floor(low / step) - 1
    return [step * number for number in range(max(first, 0), math.ceil(high / step) + 2)]


def _not_reached(name: str) -> dict[str, Any]:
    return {
        "x": 0,
        "xref": "paper",
        "y": name,
        "text": "not reached",
        "xanchor": "left",
        "showarrow": False,
        "xshift": 6,
        "font": {"size": 11.5, "color": token("soft")},
    }


def readings_words(zone_set: ZoneSet) -> str:
    """The strip of readings in words."""
    loads = Loads(zone_set.test.load_unit)
    parts = [
        f"{item.name} {loads.text(item.value) if item.value is not None else 'not reached'}"
        for item in zone_set.methods
    ]
    return (
        f"Floor {loads.text(zone_set.edges.floor)}, ceiling {loads.text(zone_set.edges.ceiling)}; {'; '.join(parts)}."
    )


def history_words(group: HistoryGroup) -> str:
    """The figure over time in words."""
    loads = Loads(group.load_unit)
    parts: Sequence[str] = [
        f"{date_text(item.test.date)}: floor {loads.text(edge_of(item, 'floor'))}, ceiling {loads.text(edge_of(item, 'ceiling'))}"
        for item in group.zone_sets
    ]
    return capital(f"{counted(len(parts), 'test')} over time. {'; '.join(parts)}.")


def readings_table(zone_set: ZoneSet) -> Table:
    """The three edges of this tool with their ranges, and every other reading, as marked in the strip."""
    loads = Loads(zone_set.test.load_unit)
    own = [
        (name.replace("_", " "), "this tool", _reached(loads, edge_of(zone_set, name)), _range(zone_set, name))
        for name in EDGE_COLOURS
    ]
    others = [(item.name, item.source, _reached(loads, item.value), "") for item in zone_set.methods]
    share = f"{zone_set.settings.range_share * 100:.0f} % range"
    return Table("The figure as a table", ("reading", "source", "load", share), (*own, *others), words=2)


def _reached(loads: Loads, value: float | None) -> str:
    return "not reached" if value is None else loads.text(value)


def _range(zone_set: ZoneSet, name: str) -> str:
    span = zone_set.ranges.get(name)
    return Loads(zone_set.test.load_unit).range(span.low, span.high) if span else ""


def edges_over_time_table(group: HistoryGroup) -> Table:
    """One row a test and edge, as drawn: date, edge, load and range."""
    loads = Loads(group.load_unit)
    rows = tuple(
        (date_text(item.test.date), name.replace("_", " "), loads.text(edge_of(item, name)), _range(item, name))
        for item in group.zone_sets
        for name in EDGE_COLOURS
        if edge_of(item, name) is not None
    )
    share = f"{group.zone_sets[-1].settings.range_share * 100:.0f} % range"
    none = (("no usable test", "", "", ""),)
    return Table("The figure as a table", ("date", "edge", "load", share), rows or none, words=2)


def meters_dots_table(comparison: MeterComparison) -> Table:
    """Every half minute: the load of the first meter and how much more the second reads, and the line at that load."""
    a, b = comparison.means_a, comparison.means_b
    line = comparison.intercept_w + comparison.slope * a - a
    rows = tuple(
        (
            number_text(float(a[row]), "W"),
            signed_text(float(b[row] - a[row]), "W", 1),
            signed_text(float(line[row]), "W", 1),
        )
        for row in a.argsort(kind="stable").tolist()
    )
    head = (f"{comparison.name_a}, 30-s mean", f"{comparison.name_b} minus {comparison.name_a}", "line")
    return Table("The figure as a table", head, rows)
