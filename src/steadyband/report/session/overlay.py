"""The same hill again: the smoothest and the latest effort over the length of the climb, and their table."""

from __future__ import annotations

from collections.abc import Sequence

from steadyband.ground.units import height_unit, length_text, time_of_day
from steadyband.report.common.figure_base import Figure, Trace, base_layout, figure, still
from steadyband.report.common.palette import token
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import DASH, Loads
from steadyband.report.session.figure import load_axis
from steadyband.review.repeat_climbs import Effort, RepeatClimb

HEIGHT = 200


def overlay_plot(climb: RepeatClimb, ceiling: float | None, loads: Loads) -> Plot | None:
    """The overlay of a climb with its table; None without load."""
    drawn = overlay_figure(climb, ceiling, loads)
    words = f"Load over the length of climb {climb.number}, smoothest and latest effort. The table says the same."
    table = overlay_table(climb, efforts_drawn(climb), loads)
    return plot(f"climb-{climb.number}", drawn, words, table) if drawn is not None else None


def overlay_figure(climb: RepeatClimb, ceiling: float | None, loads: Loads) -> Figure | None:
    """Mean load by distance of the smoothest and the latest effort (or the one before), the ceiling across; None without load, or with two units."""
    (name, other), (word, latest) = efforts_drawn(climb)
    if other.unit != latest.unit:
        return None
    traces = [_line(climb, other, (name, "trace", "dot"), loads), _line(climb, latest, (word, "ink", "solid"), loads)]
    if not any(value is not None for trace in traces for value in trace["y"]):
        return None
    across = {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": ceiling, "y1": ceiling}
    layout = base_layout(
        height=HEIGHT,
        showlegend=True,
        legend={"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0, "font": {"size": 12}},
        margin={"l": 52, "r": 8, "t": 26, "b": 30},
        xaxis={"ticksuffix": f" {height_unit()[0]}", "gridcolor": token("line"), "nticks": 6, **still()},
        yaxis=load_axis(loads, *_span(traces, ceiling)) | {"gridcolor": token("line"), "showgrid": True},
        shapes=[across | {"line": {"dash": "dash", "width": 1.2, "color": token("soft")}}] if ceiling else [],
    )
    return figure(traces, layout)


def efforts_drawn(climb: RepeatClimb) -> tuple[tuple[str, Effort], tuple[str, Effort]]:
    """(name, effort) of the two efforts drawn: the smoothest (or the time before, where the latest is that) and the latest."""
    if climb.smoothest is climb.latest:
        return ("the time before", climb.efforts[-2]), ("latest and smoothest", climb.latest)
    return ("smoothest", climb.smoothest), ("latest", climb.latest)


def _span(traces: list[Trace], ceiling: float | None) -> tuple[float, float]:
    values = [value for trace in traces for value in trace["y"] if value is not None] + ([ceiling] if ceiling else [])
    margin = 0.08 * (max(values) - min(values)) + 0.01 * max(values)
    return min(values) - margin, max(values) + margin


def _line(climb: RepeatClimb, effort: Effort, look: tuple[str, str, str], loads: Loads) -> Trace:
    parts, (name, colour, dash) = effort.climb.parts, look
    day = f"{effort.start:%-d %b}, {time_of_day(effort.start)}"
    return Trace(
        type="scatter",
        mode="lines",
        name=f"{name}, {day}",
        x=[
            round((number + 0.5) / max(len(parts), 1) * climb.length_m / height_unit()[1])
            for number in range(len(parts))
        ],
        y=[None if value is None else round(value, 3) for value in parts],
        hovertext=[loads.text(value) for value in parts],
        line={"color": token(colour), "width": 2, "dash": dash, "shape": "hvh"},
        hovertemplate=f"%{{x}} {height_unit()[0]}: " + "%{hovertext}<extra>" + name + "</extra>",
    )


def overlay_table(climb: RepeatClimb, shown: Sequence[tuple[str, Effort]], loads: Loads) -> Table:
    """Mean load over the even parts of a climb's length, one column an effort; `shown` is (name, effort) as drawn."""
    most = max(len(effort.climb.parts) for _, effort in shown)
    rows = tuple(
        (
            length_text((number + 0.5) / most * climb.length_m),
            *(_part(effort, number, most, loads) for _, effort in shown),
        )
        for number in range(most)
    )
    return Table("The figure as a table", ("from the foot", *(name for name, _ in shown)), rows)


def _part(effort: Effort, number: int, most: int, loads: Loads) -> str:
    parts = effort.climb.parts
    return loads.text(parts[number * len(parts) // most]) if parts else DASH
