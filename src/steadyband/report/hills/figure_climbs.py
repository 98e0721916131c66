"""The same hill again, drawn: the smoothest and the latest effort over the length of the climb."""

from __future__ import annotations

from steadyband.ground.units import height_unit, time_of_day
from steadyband.report.common.figure_base import Figure, Trace, base_layout, figure, still
from steadyband.report.common.palette import token
from steadyband.report.common.words import Loads
from steadyband.report.session.figure import load_axis
from steadyband.review.repeat_climbs import Effort, RepeatClimb

HEIGHT = 200


def overlay_figure(climb: RepeatClimb, ceiling: float | None, loads: Loads) -> Figure | None:
    """Mean load by distance of the smoothest and the latest effort (or the one before), the ceiling across; None without load."""
    (name, other), (word, latest) = efforts_drawn(climb)
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
