"""The curve of a step test, and the parts its other figures share. Draws numbers that were worked out elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from steadyband.report.common.figure_base import Figure, Trace, base_layout, figure, still
from steadyband.report.common.palette import token
from steadyband.report.common.words import Loads, number_text
from steadyband.steptest.model import EdgeRange, ZoneSet

CURVE_HEIGHT, PULSE_HEIGHT, ROW_HEIGHT = 380, 130, 30
EDGE_COLOURS: Mapping[str, str] = {"floor": "steady", "target_top": "soft", "ceiling": "upper"}
EDGE_SYMBOLS: Mapping[str, str] = {"floor": "circle", "target_top": "circle-open", "ceiling": "diamond"}
DASHES: Mapping[str, str] = {"floor": "solid", "target_top": "dot", "ceiling": "dash"}
LABEL_HEIGHTS: Mapping[str, float] = {"floor": 0.995, "target_top": 0.93, "ceiling": 0.865}
BAR_HEIGHTS: Mapping[str, float] = {"floor": 0.79, "target_top": 0.76, "ceiling": 0.73}
"""Shares of the height of its upper part at which the edges are named and their ranges drawn."""


def curve_figure(zone_set: ZoneSet) -> Figure:
    """Samples, step values, the median curve with its ribbon, three edges with their ranges; highest heart rates below."""
    pulse = any(point.hr_max is not None for point in zone_set.curve)
    height = CURVE_HEIGHT + (PULSE_HEIGHT if pulse else 0)
    top = _lactate_top(zone_set)
    share = (PULSE_HEIGHT - 40) / (height - 50)
    layout = base_layout(
        height=height,
        margin={"l": 46, "r": 10, "t": 8, "b": 42},
        xaxis=load_axis(zone_set, baseline=True) | {"anchor": "y2" if pulse else "y"},
        yaxis=value_axis("lactate, mmol/L") | {"range": [0, top], "domain": [share + 0.06, 1] if pulse else [0, 1]},
        shapes=[*_bands(zone_set), *_edge_lines(zone_set), *_levels(zone_set)],
        annotations=[*_edge_labels(zone_set), *_level_labels(zone_set)],
    )
    traces = [*_ribbon(zone_set), _samples(zone_set), _values(zone_set), *_range_bars(zone_set, top)]
    if pulse:
        traces.append(_pulse(zone_set))
        layout["yaxis2"] = value_axis("bpm") | {"domain": [0, share], "nticks": 4}
    return figure(traces, layout)


def edge_of(zone_set: ZoneSet, name: str) -> float | None:
    """One edge of a usable test, None where it is not known or open."""
    value: float | None = getattr(zone_set.edges, name)
    is_open = value == zone_set.edges.ceiling_at_least
    return value if zone_set.usable and not is_open else None


def edge_label(name: str) -> str:
    """ "target top" for target_top."""
    return name.replace("_", " ")


def span_of(zone_set: ZoneSet, name: str) -> tuple[float, float]:
    """Range of an edge for drawing; an end above the last load is drawn to the last load."""
    span: EdgeRange | None = zone_set.ranges.get(name)
    value = edge_of(zone_set, name) or 0.0
    if span is None:
        return value, value
    return span.low if span.low is not None else value, span.high if span.high is not None else last_load(zone_set)


def load_title(loads: Loads) -> str:
    """Title of a load axis."""
    return f"load, {loads.shown}"


def load_axis(zone_set: ZoneSet, *, baseline: bool) -> dict[str, Any]:
    """The load axis, marked at the steps; with the baseline one step before the first."""
    loads = Loads(zone_set.test.load_unit)
    steps = [point.load_si for point in zone_set.curve[1:]]
    marks = [*([_baseline_at(zone_set)] if baseline else []), *steps]
    texts = [*(["baseline"] if baseline else []), *(loads.bare(load) for load in steps)]
    gap = step_gap(zone_set)
    low = marks[0] - 0.6 * gap if baseline else min([steps[0], *readings_of(zone_set)]) - 0.4 * gap
    high = max([steps[-1], *([] if baseline else readings_of(zone_set))]) + 0.4 * gap
    title = {"text": load_title(loads), "font": {"color": token("soft"), "size": 12}, "standoff": 6}
    return {
        "range": [low, high],
        "tickvals": marks,
        "ticktext": texts,
        "gridcolor": token("line"),
        "showgrid": True,
        "title": title,
        "tickangle": 0,
        **still(),
    }


def step_gap(zone_set: ZoneSet) -> float:
    """Median step height, W or m/s."""
    return float(np.median(np.diff([point.load_si for point in zone_set.curve[1:]])))


def _baseline_at(zone_set: ZoneSet) -> float:
    """Where the baseline is drawn: one step before the first, as its true load of 0 would squeeze everything else."""
    return zone_set.curve[1].load_si - 1.2 * step_gap(zone_set)


def _x(zone_set: ZoneSet) -> list[float]:
    return [_baseline_at(zone_set), *(point.load_si for point in zone_set.curve[1:])]


def last_load(zone_set: ZoneSet) -> float:
    """Last load tested, W or m/s."""
    return zone_set.curve[-1].load_si


def _lactate_top(zone_set: ZoneSet) -> float:
    samples = [item.lactate_mmol_l for step in zone_set.test.steps for item in step.samples]
    return 1.38 * max([*samples, *(point.lactate + point.sd for point in zone_set.curve), 2.0])


def _ribbon(zone_set: ZoneSet) -> list[Trace]:
    """The range of the curve as a filled ribbon, and the median curve on it."""
    ribbon, share = zone_set.ribbon, f"{zone_set.settings.range_share * 100:.0f} %"
    loads = [float(load) for load in ribbon.loads]
    out = {
        "type": "scatter",
        "mode": "lines",
        "name": f"{share} range of the curve",
        "x": [*loads, *reversed(loads)],
        "y": [*ribbon.high.tolist(), *reversed(ribbon.low.tolist())],
        "fill": "toself",
        "fillcolor": token("trace"),
        "opacity": 0.22,
        "line": {"width": 0, "color": token("trace")},
        "hoverinfo": "skip",
    }
    middle = {
        "type": "scatter",
        "mode": "lines",
        "name": "median curve",
        "x": loads,
        "y": ribbon.middle.tolist(),
        "line": {"color": token("trace"), "width": 2.2},
        "hoverinfo": "skip",
    }
    return [out, middle]


def _samples(zone_set: ZoneSet) -> Trace:
    test, loads = zone_set.test, Loads(zone_set.test.load_unit)
    found = [(x, value, "baseline") for x, value in zip([_baseline_at(zone_set)] * 9, test.baseline, strict=False)]
    for step in test.steps:
        for item in step.samples:
            minute = f", minute {item.minute:g}" if item.minute is not None else ""
            found.append((step.load_si, item.lactate_mmol_l, f"{loads.text(step.load_si)}{minute}"))
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "samples",
        "x": [x for x, _, _ in found],
        "y": [value for _, value, _ in found],
        "marker": {"symbol": "circle-open", "size": 9, "color": token("soft"), "line": {"width": 1.2}},
        "hovertext": [f"{where}<br>{value:.2f} mmol/L" for _, value, where in found],
        "hovertemplate": "%{hovertext}<extra></extra>",
    }


def _values(zone_set: ZoneSet) -> Trace:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "step values",
        "x": _x(zone_set),
        "y": [point.lactate for point in zone_set.curve],
        "marker": {"symbol": "circle", "size": 7, "color": token("ink")},
        "error_y": {
            "type": "data",
            "array": [point.sd for point in zone_set.curve],
            "color": token("ink"),
            "thickness": 1.2,
            "width": 5,
        },
        "hovertext": [f"{point.lactate:.2f} ± {point.sd:.2f} mmol/L" for point in zone_set.curve],
        "hovertemplate": "%{hovertext}<extra></extra>",
    }


def _pulse(zone_set: ZoneSet) -> Trace:
    known = [point for point in zone_set.curve[1:] if point.hr_max is not None]
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "name": "highest heart rate",
        "x": [point.load_si for point in known],
        "y": [point.hr_max for point in known],
        "yaxis": "y2",
        "line": {"color": token("pulse"), "width": 1.6},
        "marker": {"size": 6, "symbol": "square", "color": token("pulse")},
        "hovertemplate": "%{y:.0f} bpm<extra></extra>",
    }


def _bands(zone_set: ZoneSet) -> list[dict[str, Any]]:
    if not zone_set.usable or zone_set.edges.floor is None:
        return []
    right = last_load(zone_set) + 0.4 * step_gap(zone_set)
    left = _baseline_at(zone_set) - 0.6 * step_gap(zone_set)
    floor, ceiling = zone_set.edges.floor, zone_set.edges.ceiling
    bands = [] if zone_set.edges.easy_empty else [band_rect(left, floor, "y domain", "easy", 0.28)]
    bands.append(band_rect(floor, ceiling or right, "y domain", "steady", 0.16))
    return [*bands, band_rect(ceiling, right, "y domain", "heavy", 0.16)] if ceiling is not None else bands


def band_rect(left: float, right: float, axis: str, colour: str, opacity: float = 1.0) -> dict[str, Any]:
    """A band shaded from one load to another."""
    return {
        "type": "rect",
        "xref": "x",
        "yref": axis,
        "x0": left,
        "x1": right,
        "y0": 0,
        "y1": 1,
        "fillcolor": token(colour),
        "opacity": opacity,
        "line": {"width": 0},
        "layer": "below",
    }


def _edge_lines(zone_set: ZoneSet) -> list[dict[str, Any]]:
    return [
        {
            "type": "line",
            "xref": "x",
            "yref": "paper",
            "x0": edge_of(zone_set, name),
            "x1": edge_of(zone_set, name),
            "y0": 0,
            "y1": 1,
            "line": {"color": token(EDGE_COLOURS[name]), "width": 1.6, "dash": dash},
        }
        for name, dash in DASHES.items()
        if edge_of(zone_set, name) is not None
    ]


def _edge_labels(zone_set: ZoneSet) -> list[dict[str, Any]]:
    return [_edge_label(zone_set, name) for name in DASHES if edge_of(zone_set, name) is not None]


def _edge_label(zone_set: ZoneSet, name: str) -> dict[str, Any]:
    """Left of its line, or right of it where there is room: never past the frame of a narrow screen."""
    low, high = load_axis(zone_set, baseline=True)["range"]
    value = edge_of(zone_set, name) or 0.0
    left = name != "ceiling" or (value - low) / (high - low) > 0.68
    return {
        "x": value,
        "y": LABEL_HEIGHTS[name],
        "yref": "y domain",
        "yanchor": "top",
        "xanchor": "right" if left else "left",
        "text": f"<b>{edge_label(name)}</b> {Loads(zone_set.test.load_unit).text(value)}",
        "showarrow": False,
        "xshift": -4 if left else 4,
        "font": {"color": token("ink"), "size": 12},
    }


def _range_bars(zone_set: ZoneSet, top: float) -> list[Trace]:
    bars = [range_bar(zone_set, name, BAR_HEIGHTS[name] * top, width=5) for name in DASHES]
    return [bar for bar in bars if bar]


def range_bar(zone_set: ZoneSet, name: str, y: float | str, width: float) -> Trace:
    """The range of an edge as a thick line; empty where there is none."""
    if edge_of(zone_set, name) is None or name not in zone_set.ranges:
        return {}
    low, high = span_of(zone_set, name)
    span = zone_set.ranges[name]
    share = f"{zone_set.settings.range_share * 100:.0f} %"
    text = f"{edge_label(name)}, {share} range: {Loads(zone_set.test.load_unit).range(span.low, span.high)}"
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [low, high],
        "y": [y, y],
        "line": {"color": token(EDGE_COLOURS[name]), "width": width},
        "opacity": 0.8,
        "hovertext": text,
        "hovertemplate": "%{hovertext}<extra></extra>",
        "cliponaxis": True,
    }


def _levels(zone_set: ZoneSet) -> list[dict[str, Any]]:
    return [level_line(level, "y", "outline") for level, _ in _level_rows(zone_set)]


def _level_rows(zone_set: ZoneSet) -> list[tuple[float, str]]:
    if zone_set.edges.floor is None:
        return []
    plateau, up = zone_set.edges.plateau, zone_set.settings.ceiling_rise
    return [(plateau, f"flat part {plateau:.2f}"), (plateau + up, f"+ {up:g} mmol/L")]


def _level_labels(zone_set: ZoneSet) -> list[dict[str, Any]]:
    """The flat part is named at the right, under the risen curve; the ceiling's level at the left, above the flat one."""
    sides = ("right", "left")
    return [
        {
            "x": 1 if side == "right" else 0,
            "xref": "paper",
            "y": level,
            "text": text,
            "xanchor": side,
            "yanchor": "bottom",
            "showarrow": False,
            "xshift": -4 if side == "right" else 4,
            "font": {"size": 11, "color": token("soft")},
        }
        for side, (level, text) in zip(sides, _level_rows(zone_set), strict=False)
    ]


def level_line(level: float, axis: str, colour: str) -> dict[str, Any]:
    """A dotted line right across at one level."""
    line = {"color": token(colour), "width": 1, "dash": "dot"}
    return {"type": "line", "xref": "paper", "yref": axis, "x0": 0, "x1": 1, "y0": level, "y1": level, "line": line}


def value_axis(title: str) -> dict[str, Any]:
    """A plain axis with its title."""
    return {
        "gridcolor": token("line"),
        "title": {"text": title, "font": {"size": 12, "color": token("soft")}, "standoff": 6},
        **still(),
    }


def curve_words(zone_set: ZoneSet) -> str:
    """The curve figure in words, for those who cannot see it."""
    loads = Loads(zone_set.test.load_unit)
    points = [
        f"{loads.text(point.load_si) if number else 'baseline'} {number_text(point.lactate, 'mmol/L', 2)}"
        for number, point in enumerate(zone_set.curve)
    ]
    return f"Lactate against load: {'; '.join(points)}."


def readings_of(zone_set: ZoneSet) -> list[float]:
    """Loads of the other published readings that were reached."""
    return [item.value for item in zone_set.methods if item.value is not None]
