"""A planned way drawn: its profile and its plan, with the stretches where the band cannot be held, and their tables."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import HEAVY, STEADY
from steadyband.audit.route import RoutePlan
from steadyband.ground.units import length_text, place_text
from steadyband.recording.geo import between_m
from steadyband.recording.planned import Planned
from steadyband.report.common.figure_base import Figure, Trace, base_layout, figure
from steadyband.report.common.ground import (
    Drawn,
    FloatArray,
    Hill,
    along,
    flat_plan,
    ground_cells,
    ground_fill,
    ground_line,
    height_axis,
    hill_marks,
    km_axis,
    place_cells,
    plan_layout,
    span_cells,
    stretch_borders,
)
from steadyband.report.common.palette import token
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import DASH, share_text
from steadyband.report.route import view as route_view

HEIGHT = 320
DRAWN = 1200
"""Points of the profile and of the plan at most."""
COLOURS = {STEADY: "faint", HEAVY: "heavy"}
"""Ground that can be ridden inside the band, and ground that cannot, by the code whose pattern it takes."""


def profile_plot(plan: RoutePlan) -> Plot:
    """Height over distance with its table; stretches on which the band cannot be held stand out, climbs are bracketed."""
    drawn = _thinned(plan)
    words = f"Height over distance. {route_view.answer_text(plan)}"
    return plot("profile", profile_figure(plan, drawn), words, profile_table(plan, drawn))


def plan_plot(plan: RoutePlan, way: Planned, privacy_m: float) -> Plot | None:
    """The way from above with its table, positions within `privacy_m` of its ends left out; None where too little is left."""
    lat, lon = told(way, privacy_m)
    if np.count_nonzero(np.isfinite(lat) & np.isfinite(lon)) < 2:
        return None
    x, y = flat_plan(lat, lon)
    words = "The way from above, with the stretches where the band cannot be held."
    return plot("plan", plan_figure(plan, way, x, y), words, plan_table(plan, way.along_m, x, y))


def _thinned(plan: RoutePlan) -> Drawn:
    """The profile in at most `DRAWN` points; a piece is forced where any of its metres is."""
    borders = np.unique(np.linspace(0, len(plan.metres) - 1, min(DRAWN, len(plan.metres))).astype(np.int64))
    forced = np.logical_or.reduceat(plan.forced, borders[:-1])
    return Drawn(plan.metres[borders], plan.height[borders], np.where(forced, HEAVY, STEADY))


def profile_figure(plan: RoutePlan, drawn: Drawn) -> Figure:
    """The ground, what cannot be held on it, and its climbs."""
    hills = [Hill(climb.start_m, climb.length_m, climb.height_m, climb.mean_grade) for climb in plan.climbs]
    layout = base_layout(
        height=HEIGHT,
        margin={"l": 52, "r": 10, "t": 8, "b": 34},
        xaxis=km_axis(drawn),
        yaxis=height_axis(drawn),
        **hill_marks(hills, drawn),
    )
    fills = [ground_fill(drawn, code, colour) for code, colour in COLOURS.items() if (drawn.codes == code).any()]
    starts = [item.start_m for item in plan.stretches]
    heights = np.interp(starts, plan.metres, plan.height) - drawn.low + 0.06 * drawn.top
    marks = _marks(plan, [(along(metre), float(height)) for metre, height in zip(starts, heights, strict=True)])
    return figure([*fills, ground_line(drawn), *marks], layout)


def plan_figure(plan: RoutePlan, way: Planned, x: FloatArray, y: FloatArray) -> Figure:
    """The way at `x` east and `y` north [m, n], NaN where it may not be shown."""
    known = np.isfinite(x + y)
    kept = np.unique(np.linspace(0, len(x) - 1, min(DRAWN, len(x))).astype(np.int64))
    out = plan.forced[np.minimum(way.along_m.astype(np.int64), len(plan.forced) - 1)] & known
    forced = np.logical_or.reduceat(out, kept)
    traces = [
        _way(way.along_m[kept], x[kept], y[kept]),
        _line(x[kept], y[kept], np.ones(len(kept), np.bool_), ("faint", 4.0)),
    ]
    if forced.any():
        traces.append(_line(x[kept], y[kept], forced, ("heavy", 6.0)))
    starts = np.minimum(np.searchsorted(way.along_m, [item.start_m for item in plan.stretches]), len(x) - 1)
    traces += _marks(plan, [(float(x[row]), float(y[row])) if np.isfinite(x[row] + y[row]) else None for row in starts])
    return figure(traces, plan_layout(x[known], y[known]))


def _marks(plan: RoutePlan, places: list[tuple[float, float] | None]) -> list[Trace]:
    """A mark at the start of every stretch on which the band cannot be held; None where it may not be shown."""
    shown = [(number, place) for number, place in enumerate(places) if place is not None]
    texts = [_stretch_text(plan, number) for number, _ in shown]
    marker = {"symbol": "circle", "size": 9, "color": token("ink")}
    return (
        [
            Trace(
                type="scatter",
                name="out of the band",
                mode="markers",
                x=[round(place[0], 3) for _, place in shown],
                y=[round(place[1], 1) for _, place in shown],
                customdata=[["s", number] for number, _ in shown],
                marker=marker,
                hovertext=texts,
                hovertemplate="%{hovertext}<extra></extra>",
                cliponaxis=False,
            )
        ]
        if shown
        else []
    )


def _stretch_text(plan: RoutePlan, number: int) -> str:
    item = plan.stretches[number]
    what = "walk" if plan.sport != "cycling" else route_view.gear_text(item)
    return f"{place_text(item.start_m)}: {length_text(item.length_m)}, steepest {100 * item.steepest:.0f} %<br><b>{what}</b>"


def told(way: Planned, privacy_m: float) -> tuple[FloatArray, FloatArray]:
    """Positions [deg, n] without those within `privacy_m` of the first and the last one."""
    known = np.flatnonzero(np.isfinite(way.lat_deg) & np.isfinite(way.lon_deg))
    hidden = np.zeros(len(way.lat_deg), np.bool_)
    for row in known[[0, -1]] if len(known) else ():
        hidden |= between_m(way.lat_deg, way.lon_deg, float(way.lat_deg[row]), float(way.lon_deg[row])) < privacy_m
    return np.where(hidden, np.nan, way.lat_deg), np.where(hidden, np.nan, way.lon_deg)


def _points(values: FloatArray, shown: NDArray[np.bool_]) -> list[float | None]:
    return [
        round(value, 1) if keep and np.isfinite(value) else None
        for value, keep in zip(values.tolist(), shown, strict=True)
    ]


def _line(x: FloatArray, y: FloatArray, shown: NDArray[np.bool_], look: tuple[str, float]) -> Trace:
    line = {"width": look[1], "color": token(look[0])}
    return Trace(
        type="scatter",
        mode="lines",
        x=_points(x, shown),
        y=_points(y, shown),
        line=line,
        hoverinfo="skip",
        connectgaps=False,
    )


def _way(along_m: FloatArray, x: FloatArray, y: FloatArray) -> Trace:
    shown = np.ones(len(x), np.bool_)
    return Trace(
        type="scatter", name="way", mode="lines", x=_points(x, shown), y=_points(y, shown), connectgaps=False,
        line={"width": 7, "color": token("ink")}, customdata=[["m", round(value)] for value in along_m.tolist()],
        hovertext=[place_text(value) for value in along_m.tolist()], hovertemplate="%{hovertext}<extra></extra>",
    )  # fmt: skip


def profile_table(plan: RoutePlan, drawn: Drawn) -> Table:
    """Height, grade and how much of the planned way allows the band, over the distance."""
    rows = tuple(
        (*span_cells(start, end), *ground_cells(drawn, start, end), _held(plan, start, end))
        for start, end in pairwise(stretch_borders(float(drawn.metres[0]), float(drawn.metres[-1])).tolist())
    )
    head = ("from", "to", "height at the end", "change", "mean grade", "band can be held on")
    return Table("The profile as a table", head, rows, words=2)


def plan_table(plan: RoutePlan, along_m: FloatArray, x: FloatArray, y: FloatArray) -> Table:
    """Where the planned way goes: places [m] east `x` and north `y` of its middle at `along_m`, NaN where left out."""
    known = np.flatnonzero(np.isfinite(x + y + along_m))
    along = along_m[known]
    rows = tuple(
        (*span_cells(start, end), *place_cells(x[known], y[known], along, end), _held(plan, start, end))
        for start, end in pairwise(stretch_borders(float(along.min()), float(along.max())).tolist())
    )
    head = ("from", "to", "east at the end", "north at the end", "band can be held on")
    return Table(
        "The plan as a table", head, rows, words=2, note="East and north are counted from the middle of the way."
    )


def _held(plan: RoutePlan, start: float, end: float) -> str:
    middles = 0.5 * (plan.metres[:-1] + plan.metres[1:])
    here = plan.forced[: len(middles)][(middles >= start) & (middles < end)]
    return share_text(float(1 - here.mean())) if len(here) and plan.inside is not None else DASH
