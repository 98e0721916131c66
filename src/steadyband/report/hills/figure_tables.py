"""The table behind a figure of the ground: profile, plan, climb and planned way in rows, from what the figures draw."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from steadyband.audit.model import RIBBON_NAMES, Audit
from steadyband.audit.route import RoutePlan
from steadyband.ground.units import distance_unit, height_text, length_text, place_text
from steadyband.report.common.view import Table
from steadyband.report.common.words import DASH, Loads, number_text, share_text, signed_text
from steadyband.report.hills.figure import Codes, Drawn, FloatArray, by_distance, flat_plan
from steadyband.review.repeat_climbs import Effort, RepeatClimb

MOST_ROWS = 25
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
"""Lengths of the rows in the reader's unit of distance, the first that gives few enough rows."""


def _borders(first_m: float, last_m: float) -> FloatArray:
    """Round places [m] from start to end, at most `MOST_ROWS` stretches apart."""
    size = distance_unit()[1]
    length = max(last_m - first_m, 0.0)
    step = size * next((step for step in STEPS if length / (step * size) <= MOST_ROWS), STEPS[-1])
    inner = np.arange(np.floor(first_m / step) + 1, np.ceil(last_m / step)) * step
    return np.concatenate(([first_m], inner, [last_m]))


def _span(start: float, end: float) -> tuple[str, str]:
    return place_text(start), place_text(end)


def _ground(drawn: Drawn, start: float, end: float) -> tuple[str, str, str]:
    """Height at the end, change of height and mean grade of a stretch."""
    low, high = np.interp([start, end], drawn.metres, drawn.height)
    grade = 100 * (high - low) / (end - start) if end > start else 0.0
    return height_text(float(high)), height_text(float(high - low)).replace("-", "−"), signed_text(float(grade), "%", 1)


def _codes_in(drawn: Drawn, start: float, end: float) -> Codes:
    middles = 0.5 * (drawn.metres[:-1] + drawn.metres[1:])
    return drawn.codes[(middles >= start) & (middles < end)]


def _bands(codes: Codes) -> str:
    shares = [(float((codes == code).mean()), RIBBON_NAMES[code]) for code in sorted(set(codes.tolist()))]
    return ", ".join(f"{name} {share_text(share)}" for share, name in shares) or DASH


def profile_table(audit: Audit) -> Table | None:
    """Height, grade, bands, surges and highest carry-over over the distance; None where no profile is drawn."""
    drawn = by_distance(audit)
    if drawn is None:
        return None
    carried = bool((audit.traces.carry_over > 0).any())
    rows = tuple(
        (
            *_span(start, end),
            *_ground(drawn, start, end),
            _bands(_codes_in(drawn, start, end)),
            _surges(audit, start, end),
            *([_carried(audit, start, end)] if carried else []),
        )
        for start, end in pairwise(_borders(float(drawn.metres[0]), float(drawn.metres[-1])).tolist())
    )
    head = ("from", "to", "height at the end", "change", "mean grade", "bands by distance", "surges")
    note = "Carry-over: its highest value in the stretch, a relative index." if carried else ""
    return Table("The profile as a table", (*head, *(["carry-over"] if carried else [])), rows, words=2, note=note)


def _surges(audit: Audit, start: float, end: float) -> str:
    if audit.surges is None:
        return DASH
    found = [event.cause for event in audit.surges.events if event.at_m is not None and start <= event.at_m < end]
    told = [f"{found.count(cause)} {cause}" for cause in dict.fromkeys(found)]
    return ", ".join(told) or "0"


def _carried(audit: Audit, start: float, end: float) -> str:
    traces = audit.traces
    here = traces.carry_over[(traces.distance_m >= start) & (traces.distance_m < end)]
    known = here[np.isfinite(here)]
    return number_text(float(known.max()), digits=1) if len(known) else DASH


def plan_table(audit: Audit) -> Table:
    """Where the track goes: places east and north of the middle of what is drawn, with bands and surges."""
    traces = audit.traces
    x, y = flat_plan(traces.lat_deg, traces.lon_deg)
    known = np.flatnonzero(np.isfinite(x + y + traces.distance_m))
    if not len(known):
        return Table("The plan as a table", ("track", "place"), (("whole track", "no distances were recorded"),))
    along = traces.distance_m[known]
    rows = tuple(
        (
            *_span(start, end),
            *_place(x[known], y[known], along, end),
            _bands(traces.ribbon[known][(along >= start) & (along < end)].astype(np.int64)),
            _surges(audit, start, end),
        )
        for start, end in pairwise(_borders(float(along.min()), float(along.max())).tolist())
    )
    head = ("from", "to", "east at the end", "north at the end", "bands by time", "surges")
    return Table(
        "The plan as a table", head, rows, words=2, note="East and north are counted from the middle of the track."
    )


def _place(x: FloatArray, y: FloatArray, along: FloatArray, metre: float) -> tuple[str, str]:
    row = int(np.argmin(np.abs(along - metre)))
    return _side(float(x[row]), ("west", "east")), _side(float(y[row]), ("south", "north"))


def _side(metres: float, names: tuple[str, str]) -> str:
    return f"{length_text(abs(metres))} {names[metres >= 0]}"


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


def route_profile_table(plan: RoutePlan, drawn: Drawn) -> Table:
    """Height, grade and how much of the planned way allows the band, over the distance."""
    rows = tuple(
        (*_span(start, end), *_ground(drawn, start, end), _held(plan, start, end))
        for start, end in pairwise(_borders(float(drawn.metres[0]), float(drawn.metres[-1])).tolist())
    )
    head = ("from", "to", "height at the end", "change", "mean grade", "band can be held on")
    return Table("The profile as a table", head, rows, words=2)


def _held(plan: RoutePlan, start: float, end: float) -> str:
    middles = 0.5 * (plan.metres[:-1] + plan.metres[1:])
    here = plan.forced[: len(middles)][(middles >= start) & (middles < end)]
    return share_text(float(1 - here.mean())) if len(here) and plan.inside is not None else DASH


def route_plan_table(plan: RoutePlan, along_m: FloatArray, x: FloatArray, y: FloatArray) -> Table:
    """Where the planned way goes: places [m] east `x` and north `y` of its middle at `along_m`, NaN where left out."""
    known = np.flatnonzero(np.isfinite(x + y + along_m))
    along = along_m[known]
    rows = tuple(
        (*_span(start, end), *_place(x[known], y[known], along, end), _held(plan, start, end))
        for start, end in pairwise(_borders(float(along.min()), float(along.max())).tolist())
    )
    head = ("from", "to", "east at the end", "north at the end", "band can be held on")
    return Table(
        "The plan as a table", head, rows, words=2, note="East and north are counted from the middle of the way."
    )
