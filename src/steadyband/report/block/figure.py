"""Figures over many sessions, each with its table: the block chart and durability."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from steadyband.athlete.condensed import Condensed
from steadyband.report.common.figure_base import Figure, Trace, base_layout, figure, still
from steadyband.report.common.palette import token
from steadyband.report.common.view import Table
from steadyband.report.common.words import DASH, capital, day_text, number_text, signed_text, verdict_label
from steadyband.review.block_drift import DriftChart, LevelTrend
from steadyband.review.model import Durability

CHART_HEIGHT = 330
SHORT_HEIGHT = 210
DURABILITY_HEIGHT = 260
SYMBOLS = ("circle", "square", "diamond", "triangle-up", "cross", "x")


def drift_figure(chart: DriftChart, trend: LevelTrend | None = None) -> Figure:
    """Mean load over target top, session after session, with its reference; below it the rising sum and its limit.

    A chart without a reference yet has no lower part. A `trend` is drawn through the sessions it was made from.
    """
    place = _days(chart.sessions)
    percent = 100 * chart.ratio
    low, high = min(float(percent.min()), 100.0) - 2, max(float(percent.max()), 100.0) + 2
    begun = {chart.sessions.index(creep.began) for creep in chart.creeps}
    layout = base_layout(
        height=SHORT_HEIGHT if chart.is_open else CHART_HEIGHT,
        margin={"l": 46, "r": 10, "t": 8, "b": 30},
        xaxis={**_session_axis(chart.sessions), "anchor": "y" if chart.is_open else "y2"},
        yaxis={**_axis("% of target top"), "range": [low, high], "domain": [0 if chart.is_open else 0.42, 1]},
        shapes=[_across(100.0, "dash"), *(_mark(place, index) for index in sorted(begun))],
        annotations=[_note("target top", 100.0)],
    )
    traces = [
        _line("reference", place, 100 * chart.reference, "y", "soft", "dot"),
        *([_trend(chart, trend)] if trend else []),
        _points(chart, place, percent, held=True),
        _points(chart, place, percent, held=False),
    ]
    if not chart.is_open:
        layout["yaxis2"] = {**_axis("rising sum"), "domain": [0, 0.3], "rangemode": "tozero", "nticks": 3}
        traces += _sum(place, chart)
    return figure(traces, layout)


def _trend(chart: DriftChart, trend: LevelTrend) -> Trace:
    fitted = _fitted(trend)
    days = _days(chart.sessions)
    chosen = [index for index, item in enumerate(chart.sessions) if item.audit.info.start in fitted]
    values = [100 * fitted[chart.sessions[index].audit.info.start] for index in chosen]
    places = [days[index] for index in chosen]
    return _line("trend of the sessions that held", places, values, "y", "amiss", "solid")


def _fitted(trend: LevelTrend) -> dict[datetime, float]:
    return {item.audit.info.start: float(value) for item, value in zip(trend.sessions, trend.fitted, strict=True)}


def _axis(title: str) -> dict[str, Any]:
    words = {"text": title, "standoff": 4, "font": {"size": 12, "color": token("soft")}}
    return {"title": words, "showgrid": False, "ticks": "outside", "ticklen": 4, **still()}


def _days(sessions: Sequence[Condensed]) -> list[float]:
    """Days from midnight of the first session's day to the begin of each, a true axis of time."""
    first = sessions[0].day
    return [
        round(
            (item.day - first).days + (item.audit.info.local_start.hour + item.audit.info.local_start.minute / 60) / 24,
            3,
        )
        for item in sessions
    ]


def _session_axis(sessions: Sequence[Condensed]) -> dict[str, Any]:
    first, last = sessions[0].day, sessions[-1].day
    span = (last - first).days + 1
    step = next((days for days in (1, 2, 7, 14, 28, 56, 91, 182) if span / days <= 8), 364)
    shown = [first + timedelta(days=number) for number in range(0, span, step)]
    return {
        "range": [-0.02 * span - 0.2, span + 0.02 * span + 0.2],
        "tickvals": [(day - first).days for day in shown],
        "ticktext": [f"{day:%-d %b}" for day in shown],
        "gridcolor": token("line"),
        "showgrid": True,
        **still(),
    }


def _points(chart: DriftChart, place: Sequence[float], percent: Any, *, held: bool) -> Trace:
    chosen = [
        index for index in range(len(chart.sessions)) if bool(chart.sessions[index].audit.verdict.in_band) is held
    ]
    outline = {"width": 1.8, "color": token("trace" if held else "amiss")}
    return Trace(
        type="scatter",
        name="held the band" if held else "left the band",
        mode="markers",
        x=[place[index] for index in chosen],
        y=[float(percent[index]) for index in chosen],
        marker={"symbol": "circle", "size": 9, "color": token("trace" if held else "card"), "line": outline},
        hovertext=[_session_text(chart, index) for index in chosen],
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _session_text(chart: DriftChart, index: int) -> str:
    audit = chart.sessions[index].audit
    day = day_text(chart.sessions[index].day)
    text = f"{day}<br><b>{number_text(100 * float(chart.ratio[index]), '%', 1)} of the target top</b>, {verdict_label(audit)}"
    if np.isfinite(chart.upper[index]):
        text += f"<br>rising sum {chart.upper[index]:.3f}, limit {chart.limit_up[index]:.3f}"
    return text


def _sum(place: Sequence[float], chart: DriftChart) -> list[Trace]:
    limit = np.where(np.isfinite(chart.upper), chart.limit_up, np.nan)
    total = _line("rising sum", place, chart.upper, "y2", "trace", "solid")
    return [total | {"mode": "lines+markers", "marker": {"size": 5, "color": token("trace")}},
            _line("limit", place, limit, "y2", "ink", "dash")]  # fmt: skip


def _line(name: str, place: Sequence[float], values: Any, axis: str, colour: str, dash: str) -> Trace:
    return Trace(
        type="scatter",
        name=name,
        mode="lines",
        x=list(place),
        y=[float(value) if np.isfinite(value) else None for value in values],
        yaxis=axis,
        line={"color": token(colour), "width": 1.6, "dash": dash},
        hoverinfo="skip",
    )


def _across(value: float, dash: str) -> dict[str, Any]:
    line = {"color": token("ink"), "width": 1, "dash": dash}
    return {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": value, "y1": value, "line": line}


def _mark(place: Sequence[float], index: int) -> dict[str, Any]:
    """Before the session at `index`, half way from the one before."""
    at = (place[index - 1] + place[index]) / 2 if index else place[0] - 0.5
    line = {"color": token("amiss"), "width": 1.4, "dash": "dot"}
    return {"type": "line", "yref": "paper", "y0": 0, "y1": 1, "x0": at, "x1": at, "line": line}


def _note(text: str, y: float) -> dict[str, Any]:
    font = {"size": 11, "color": token("ink")}
    return {"text": text, "xref": "paper", "x": 0.005, "xanchor": "left", "y": y, "yanchor": "bottom",
            "showarrow": False, "font": font}  # fmt: skip


def durability_figure(rows: Sequence[Durability], flag: float = 5.0) -> Figure:
    """Heart-rate drift against session length, one kind of mark for each sport and place; a line at `flag` [%]."""
    traces = [
        Trace(
            type="scatter",
            name=row.sport,
            mode="markers",
            x=[hours for hours, _ in row.points],
            y=[drift for _, drift in row.points],
            marker={"symbol": SYMBOLS[number % len(SYMBOLS)], "size": 9, "color": token("trace"), "opacity": 0.85},
            hovertext=[row.sport] * len(row.points),
            hovertemplate="%{hovertext}<br>%{x:.1f} h, %{y:+.1f} %<extra></extra>",
        )
        for number, row in enumerate(rows)
    ]
    longest = max(hours for row in rows for hours, _ in row.points)
    layout = base_layout(
        height=DURABILITY_HEIGHT,
        margin={"l": 46, "r": 10, "t": 30, "b": 42},
        showlegend=True,
        legend={
            "orientation": "h",
            "x": 0,
            "y": 1.02,
            "yanchor": "bottom",
            "font": {"size": 12, "color": token("soft")},
        },
        xaxis={**_axis("hours active"), "range": [0, longest * 1.06], "gridcolor": token("line"), "showgrid": True},
        yaxis=_axis("heart-rate drift, %"),
        shapes=[_across(0.0, "solid"), _across(flag, "dash")],
        annotations=[_note(f"{flag:g} %: pointed out", flag)],
    )
    return figure(traces, layout)


def drift_table(chart: DriftChart, trend: LevelTrend | None = None) -> Table:
    """Every session of a block chart: its mean load, the reference, the rising sum and its limit, and the trend where drawn."""
    fitted = _fitted(trend) if trend else {}
    rows = tuple(
        (
            day_text(item.day),
            verdict_label(item.audit),
            _percent(float(chart.ratio[number])),
            _percent(float(chart.reference[number])),
            *([] if chart.is_open else [_three(chart.upper[number]), _limit(chart, number)]),
            *([] if trend is None else [_percent(fitted.get(item.audit.info.start, float("nan")))]),
        )
        for number, item in enumerate(chart.sessions)
    )
    head = ["session", "verdict", "mean load of target top", "reference"]
    head += [] if chart.is_open else ["rising sum", "limit"]
    head += [] if trend is None else ["trend"]
    return Table("The figure as a table", tuple(head), rows, words=2)


def _percent(ratio: float) -> str:
    return number_text(100 * ratio, "%", 1)


def _three(value: float) -> str:
    return number_text(float(value), digits=3)


def _limit(chart: DriftChart, number: int) -> str:
    return _three(chart.limit_up[number]) if np.isfinite(chart.upper[number]) else DASH


def durability_table(rows: Sequence[Durability]) -> Table:
    """Every dot of the durability figure: sport and place, hours active, heart-rate drift."""
    cells = tuple(
        (capital(row.sport), number_text(hours, "h", 1), signed_text(drift, "%", 1))
        for row in rows
        for hours, drift in row.points
    )
    return Table("The figure as a table", ("sport", "hours active", "heart-rate drift"), cells)
