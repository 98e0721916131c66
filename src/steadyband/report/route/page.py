"""A planned way's page: where the band can be held, the gears it needs, its profile and its plan."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.route import RouteClimb, RoutePlan
from steadyband.ground.units import distance_text, height_text, length_text, place_text
from steadyband.recording.geo import between_m
from steadyband.recording.planned import Planned
from steadyband.report.common import pages
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.figure_base import HATCH, Figure, Trace, base_layout, figure, still
from steadyband.report.common.palette import token
from steadyband.report.common.view import Plot, plot
from steadyband.report.common.words import Loads, signed_text, sport_word
from steadyband.report.hills.figure import (
    LABELLED,
    PLAN_HEIGHT,
    Drawn,
    along,
    apart,
    flat_plan,
    height_axis,
    km_axis,
    pieces_of,
    scale_bar,
)
from steadyband.report.hills.figure_tables import route_plan_table, route_profile_table
from steadyband.report.route import view as route_view
from steadyband.report.week.view import CAUTIONS

FloatArray = NDArray[np.float64]
HEIGHT = 320
DRAWN = 1200
"""Points of the profile and of the plan at most."""
INSIDE, FORCED = 1, 2
"""Codes of the ribbon whose look the two kinds of ground take: steady and heavy."""


def route_page(
    plan: RoutePlan, way: Planned, loads: Loads, basis: str, privacy_m: float | None, *, beside: Beside = ALONE
) -> str:
    """The page of a planned way as an HTML file that needs no network.

    `basis` says in a sentence which test it stands on; positions within `privacy_m` of start and end are left out of the plan, all
    of them where it is None. `beside` says what the page may count on in its folder.
    """
    words = f"Height over distance. {route_view.answer_text(plan)}"
    profile = plot("profile", profile_figure(plan), words, route_profile_table(plan, _thinned(plan)))
    above = _above(plan, way, privacy_m) if privacy_m is not None else None
    found = (
        route_view.paces_table(plan, loads), route_view.stretches_table(plan), route_view.climbs_table(plan),
    )  # fmt: skip
    values = {
        "title": way.name or way.file,
        "sport": sport_word(plan.sport),
        "answer": route_view.answer_text(plan),
        "basis": basis,
        "notes": route_view.notes(plan, loads),
        "tables": [table for table in found if table],
        "profile": profile,
        "plan": above,
        "hidden": length_text(privacy_m) if privacy_m else "",
        "walk": plan.sport != "cycling",
        "cautions": CAUTIONS,
    }
    drawn: list[Plot] = [profile, *([above] if above else [])]
    return pages.render_page("route.html.j2", pages.Carried(drawn, more=("terrain.js",)), values, beside)


def _above(plan: RoutePlan, way: Planned, privacy_m: float) -> Plot | None:
    seen = plan_figure(plan, way, privacy_m)
    if seen is None:
        return None
    table = route_plan_table(plan, way.along_m, *flat_plan(*told(way, privacy_m)))
    return plot("plan", seen, "The way from above, with the stretches where the band cannot be held.", table)


def _thinned(plan: RoutePlan) -> Drawn:
    """The profile in at most `DRAWN` points; a piece is forced where any of its metres is."""
    borders = np.unique(np.linspace(0, len(plan.metres) - 1, min(DRAWN, len(plan.metres))).astype(np.int64))
    forced = np.logical_or.reduceat(plan.forced, borders[:-1])
    return Drawn(plan.metres[borders], plan.height[borders], np.where(forced, FORCED, INSIDE))


def profile_figure(plan: RoutePlan) -> Figure:
    """Height over distance; stretches on which the band cannot be held stand out, climbs are bracketed."""
    drawn = _thinned(plan)
    low, top = float(drawn.height.min()), max(float(np.ptp(drawn.height)), 20.0)
    traces = [_fill(drawn, low, code) for code in (INSIDE, FORCED) if (drawn.codes == code).any()]
    layout = base_layout(
        height=HEIGHT,
        margin={"l": 52, "r": 10, "t": 8, "b": 34},
        xaxis=km_axis(drawn),
        yaxis=height_axis(low, top),
        shapes=[_bracket(climb.start_m, climb.length_m, top) for climb in plan.climbs],
        annotations=[
            _label(
                climb.start_m + climb.length_m / 2,
                f"{distance_text(climb.length_m)}<br>{100 * climb.mean_grade:.1f} %",
                top,
            )
            for climb in _labelled(plan)
        ],
    )
    places = [(item.start_m, float(np.interp(item.start_m, plan.metres, plan.height)) - low) for item in plan.stretches]
    marks = _marks(plan, [(along(metre), height + 0.06 * top) for metre, height in places])
    return figure([*traces, _outline(drawn, low), *marks], layout)


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


def _fill(drawn: Drawn, low: float, code: int) -> Trace:
    x, y = pieces_of(drawn, low, code)
    name = "steady" if code == INSIDE else "heavy"
    pattern = {"fillmode": "overlay", **HATCH[name]} if name in HATCH else {"shape": ""}
    return Trace(
        type="scatter", name=name, mode="lines", x=x, y=y, line={"width": 0}, fill="toself",
        fillcolor=token("easy" if code == INSIDE else "heavy"), fillpattern=pattern, hoverinfo="skip", connectgaps=False,
    )  # fmt: skip


def _outline(drawn: Drawn, low: float) -> Trace:
    grades = np.gradient(drawn.height, drawn.metres)
    texts = [
        f"{place_text(metre)}<br>{height_text(height)}, {signed_text(100 * grade, '%')}"
        for metre, height, grade in zip(drawn.metres.tolist(), drawn.height.tolist(), grades.tolist(), strict=True)
    ]
    return Trace(
        type="scatter", name="ground", mode="lines", x=[along(value) for value in drawn.metres.tolist()],
        y=[round(value - low, 1) for value in drawn.height.tolist()], line={"width": 1.4, "color": token("ink")},
        customdata=[["m", round(value)] for value in drawn.metres.tolist()], hovertext=texts,
        hovertemplate="%{hovertext}<extra></extra>",
    )  # fmt: skip


def _labelled(plan: RoutePlan) -> list[RouteClimb]:
    climbs = sorted(plan.climbs, key=lambda climb: -climb.height_m)[:LABELLED]
    return [climbs[number] for number in apart([one.start_m + one.length_m / 2 for one in climbs], plan.length_m)]


def _bracket(start_m: float, length_m: float, top: float) -> dict[str, Any]:
    line = {"width": 2, "color": token("soft")}
    return {
        "type": "line",
        "x0": along(start_m),
        "x1": along(start_m + length_m),
        "y0": 1.16 * top,
        "y1": 1.16 * top,
        "line": line,
    }


def _label(metre: float, text: str, top: float) -> dict[str, Any]:
    font = {"size": 11, "color": token("soft")}
    return {"x": along(metre), "y": 1.17 * top, "text": text, "showarrow": False, "yanchor": "bottom", "font": font}


def plan_figure(plan: RoutePlan, way: Planned, privacy_m: float) -> Figure | None:
    """The way from above, true to shape; None where too little of it may be shown."""
    lat, lon = told(way, privacy_m)
    known = np.isfinite(lat) & np.isfinite(lon)
    if np.count_nonzero(known) < 2:
        return None
    x, y = flat_plan(lat, lon)
    kept = np.unique(np.linspace(0, len(x) - 1, min(DRAWN, len(x))).astype(np.int64))
    out = plan.forced[np.minimum(way.along_m.astype(np.int64), len(plan.forced) - 1)] & known
    forced = np.logical_or.reduceat(out, kept)
    traces = [
        _way(way.along_m[kept], x[kept], y[kept]),
        _line(x[kept], y[kept], np.ones(len(kept), np.bool_), ("easy", 4.0)),
    ]
    if forced.any():
        traces.append(_line(x[kept], y[kept], forced, ("heavy", 6.0)))
    starts = np.minimum(np.searchsorted(way.along_m, [item.start_m for item in plan.stretches]), len(x) - 1)
    traces += _marks(plan, [(float(x[row]), float(y[row])) if np.isfinite(x[row] + y[row]) else None for row in starts])
    layout = base_layout(
        height=PLAN_HEIGHT,
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        xaxis={"visible": False, "constrain": "domain", **still()},
        yaxis={"visible": False, "scaleanchor": "x", "scaleratio": 1, **still()},
        **scale_bar(x[known], y[known]),
    )
    return figure(traces, layout)


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
