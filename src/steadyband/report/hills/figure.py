"""The ground of one session drawn: height over distance and the track seen from above, both by band, surges marked by cause."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import BAND_NAMES, CAUSES, RIBBON_NAMES, UNMEASURED, Audit, Climb, Surge
from steadyband.ground.reader import reader
from steadyband.ground.units import (
    EARTH_RADIUS_M,
    METRES_PER_FOOT,
    METRES_PER_MILE,
    distance_text,
    distance_unit,
    height_text,
    height_unit,
    place_text,
)
from steadyband.report.common.figure_base import FILLS, HATCH, Figure, Trace, base_layout, figure, still
from steadyband.report.common.palette import token
from steadyband.report.common.words import hour_of, loads_of, signed_text

FloatArray = NDArray[np.float64]
Codes = NDArray[np.int64]

PARTS = 900
"""Pieces of equal length the ground is drawn in: about two pixels each."""
PROFILE_HEIGHT, PLAN_HEIGHT = 400, 460
LABEL_WIDTH = 0.055
"""Room of a climb's label as a share of the drawn length."""
LABELLED = 12
"""Most climbs with a label in the figure; the table lists all."""

SYMBOLS: Mapping[str, tuple[str, str, str]] = {
    "restart": ("cross", "✚", "✛"),
    "climb start": ("triangle-up", "▲", "△"),
    "crest": ("diamond", "◆", "◇"),
    "on climb": ("circle", "●", "○"),
    "rise": ("triangle-right", "▶", "▷"),
    "descent": ("triangle-down", "▼", "▽"),
    "flat": ("square", "■", "□"),
    "unknown": ("star", "★", "☆"),
}
"""Of each cause: plotly's symbol, and its sign in texts, filled and open."""
WIDTHS = (2.2, 3.2, 5.2, 6.4, 1.4, 1.4)
ROUND_M = (100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A session by distance: cell borders [p + 1, m], height at each [m], code of the ribbon in each cell [p]."""

    metres: FloatArray
    height: FloatArray
    codes: Codes


def by_distance(audit: Audit, parts: int = PARTS) -> Drawn | None:
    """The session cut into pieces of equal distance, each with the band that fills most of it; None without ground."""
    traces = audit.traces
    known = np.flatnonzero(np.isfinite(traces.distance_m) & np.isfinite(traces.height_m))
    if len(known) < 2:
        return None
    along = np.maximum.accumulate(traces.distance_m[known])
    if along[-1] - along[0] < 100:
        return None
    borders = np.linspace(along[0], along[-1], parts + 1)
    cell = np.minimum(np.searchsorted(borders, along, side="right") - 1, parts - 1)
    counts = np.zeros((parts, len(RIBBON_NAMES)), dtype=np.int64)
    np.add.at(counts, (cell, traces.ribbon[known]), 1)
    codes = np.argmax(counts[:, : UNMEASURED + 1], axis=1)
    empty = counts[:, : UNMEASURED + 1].sum(axis=1) == 0
    filled = np.maximum.accumulate(np.where(empty, 0, np.arange(parts)))
    return Drawn(borders, np.interp(borders, along, traces.height_m[known]), codes[filled])


def profile_figure(audit: Audit) -> Figure | None:
    """Height over distance filled by band, climbs bracketed, surges by cause above it, carry-over below."""
    drawn = by_distance(audit)
    if drawn is None:
        return None
    low, top = float(drawn.height.min()), max(float(np.ptp(drawn.height)), 20.0)
    below = bool((audit.traces.carry_over > 0).any())
    marks = surge_marks(audit, lambda event: _above(audit, event, low, top))
    traces = [*_fills(drawn, low), _outline(audit, drawn, low), *marks]
    layout = base_layout(
        height=PROFILE_HEIGHT if below else PROFILE_HEIGHT - 80,
        margin={"l": 52, "r": 10, "t": 8, "b": 34},
        xaxis=km_axis(drawn) | {"anchor": "y2" if below else "y"},
        yaxis=height_axis(low, top) | {"domain": [0.3, 1] if below else [0, 1]},
        shapes=_climb_shapes(audit, top),
        annotations=_climb_labels(audit, top),
    )
    if below:
        traces.append(_carry_over(audit))
        layout["yaxis2"] = {
            "domain": [0, 0.2],
            "showticklabels": False,
            "showgrid": False,
            "rangemode": "tozero",
            **still(),
        }
        layout["yaxis2"]["title"] = _title("carry-over")
    return figure(traces, layout)


def _title(text: str) -> dict[str, Any]:
    return {"text": text, "standoff": 6, "font": {"size": 12, "color": token("soft")}}


def km_axis(drawn: Drawn) -> dict[str, Any]:
    """An axis of distance in km or miles."""
    first, last = along(float(drawn.metres[0])), along(float(drawn.metres[-1]))
    axis = {
        "range": [first, last],
        "gridcolor": token("line"),
        "showgrid": True,
        "nticks": 9,
        "ticksuffix": f" {distance_unit()[0]}",
    }
    return axis | still()


def height_axis(low: float, top: float) -> dict[str, Any]:
    """An axis of heights drawn from `low` [m] over a range of `top` [m], with room for labels above."""
    name, size = height_unit()
    step = next((step for step in (5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000) if top / size / step <= 5), 10_000)
    marks = list(range(math.ceil(low / size / step) * step, int((low + top * 1.05) / size) + 1, step))
    return {
        "range": [0, top * 1.34],
        "tickvals": [mark * size - low for mark in marks],
        "ticktext": [f"{mark} {name}" for mark in marks],
        "gridcolor": token("line"),
        "showgrid": False,
        **still(),
    }


def along(metres: float) -> float:
    """Where a place [m] stands on that axis."""
    return round(metres / distance_unit()[1], 3)


def _runs(codes: Codes) -> Iterable[tuple[int, int, int]]:
    """(code, first, last + 1) of the runs of equal code."""
    cuts = np.flatnonzero(np.diff(codes)) + 1
    for first, end in zip(np.concatenate(([0], cuts)), np.append(cuts, len(codes)), strict=True):
        yield int(codes[first]), int(first), int(end)


def _fills(drawn: Drawn, low: float) -> list[Trace]:
    return [_fill(drawn, low, code) for code in sorted({code for code, _, _ in _runs(drawn.codes)})]


def pieces_of(drawn: Drawn, low: float, code: int) -> tuple[list[float | None], list[float | None]]:
    """Outlines of the ground under every run of one code, closed down to `low` [m], with gaps between them."""
    x: list[float | None] = []
    y: list[float | None] = []
    for _, first, end in (run for run in _runs(drawn.codes) if run[0] == code):
        places = [along(float(value)) for value in drawn.metres[first : end + 1]]
        x += [places[0], *places, places[-1], None]
        y += [0.0, *(round(float(value) - low, 1) for value in drawn.height[first : end + 1]), 0.0, None]
    return x, y


def _fill(drawn: Drawn, low: float, code: int) -> Trace:
    x, y = pieces_of(drawn, low, code)
    name = RIBBON_NAMES[code]
    pattern = {"fillmode": "overlay", **HATCH[name]} if name in HATCH else {"shape": ""}
    return Trace(
        type="scatter",
        name=name,
        mode="lines",
        x=x,
        y=y,
        line={"width": 0},
        fill="toself",
        fillcolor=token(FILLS.get(code, name)),
        fillpattern=pattern,
        hoverinfo="skip",
        connectgaps=False,
    )


def _outline(audit: Audit, drawn: Drawn, low: float) -> Trace:
    metres = drawn.metres
    grades = np.gradient(drawn.height, metres)
    texts = [
        f"{place_text(metre)}<br>{height_text(height)}, {signed_text(100 * grade, '%')}"
        for metre, height, grade in zip(metres.tolist(), drawn.height.tolist(), grades.tolist(), strict=True)
    ]
    return Trace(
        type="scatter",
        name="ground",
        mode="lines",
        x=[along(value) for value in metres.tolist()],
        y=[round(value - low, 1) for value in drawn.height.tolist()],
        line={"width": 1.4, "color": token("ink")},
        customdata=[["m", round(value)] for value in metres.tolist()],
        hovertext=texts,
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _carry_over(audit: Audit) -> Trace:
    traces = audit.traces
    known = np.flatnonzero(np.isfinite(traces.distance_m) & np.isfinite(traces.carry_over))
    kept = known[:: max(1, len(known) // PARTS)]
    return Trace(
        type="scatter",
        name="carry-over",
        mode="lines",
        x=[along(float(value)) for value in traces.distance_m[kept]],
        y=[round(float(value), 1) for value in traces.carry_over[kept]],
        yaxis="y2",
        fill="tozeroy",
        fillcolor=token("shade"),
        line={"width": 1.2, "color": token("ink")},
        hoverinfo="skip",
    )


def _above(audit: Audit, event: Surge, low: float, top: float) -> tuple[float, float] | None:
    """Place of a surge's mark in the profile: on the distance axis, and a little above the ground."""
    row = event.start_s
    metre, height = float(audit.traces.distance_m[row]), float(audit.traces.height_m[row])
    if not (math.isfinite(metre) and math.isfinite(height)):
        return None
    return along(metre), round(height - low + 0.055 * top, 1)


def surge_marks(audit: Audit, place: Callable[[Surge], tuple[float, float] | None]) -> list[Trace]:
    """The surges as one trace of marks a cause; filled where the hill forced them, open elsewhere."""
    events = audit.surges.events if audit.surges else ()
    traces = []
    for cause in CAUSES:
        found = [(number, event, place(event)) for number, event in enumerate(events) if event.cause == cause]
        seen = [(number, event, at) for number, event, at in found if at is not None]
        if not seen:
            continue
        symbol = SYMBOLS[cause][0]
        traces.append(
            Trace(
                type="scatter",
                name=cause,
                mode="markers",
                x=[at[0] for _, _, at in seen],
                y=[at[1] for _, _, at in seen],
                customdata=[["s", number] for number, _, _ in seen],
                marker={
                    "symbol": [symbol if event.forced else f"{symbol}-open" for _, event, _ in seen],
                    "size": 9,
                    "color": token("ink"),
                    "line": {"width": 1.6, "color": token("ink")},
                },
                hovertext=[surge_text(audit, event) for _, event, _ in seen],
                hovertemplate="%{hovertext}<extra></extra>",
                cliponaxis=False,
            )
        )
    return traces


def surge_text(audit: Audit, event: Surge) -> str:
    """One surge for the hover label: when and where, cause, seconds above, highest load, forced or avoidable."""
    where = "" if event.at_m is None else f", {place_text(event.at_m)}"
    grade = "" if event.grade is None else f" at {signed_text(100 * event.grade, '%')}"
    forced = {True: "<br>forced by the hill", False: "<br>avoidable", None: ""}[event.forced]
    return (
        f"{hour_of(audit, event.start_s)}{where}<br><b>{event.cause}</b>{grade}"
        f"<br>{event.seconds_above} s above the ceiling, highest {loads_of(audit).text(event.highest)}{forced}"
    )


def climb_name(climb: Climb) -> str:
    """ "1.3 km, 6.2 %"."""
    return f"{distance_text(climb.length_m)}, {100 * climb.mean_grade:.1f} %"


def _shown(audit: Audit) -> Sequence[Climb]:
    return sorted(audit.climbs, key=lambda climb: -climb.height_m)[:LABELLED]


def apart(middles_m: Sequence[float], length_m: float) -> list[int]:
    """Which labels to show, in the order given: those that no label shown before stands in the way of."""
    shown: list[int] = []
    for number, middle in enumerate(middles_m):
        if all(abs(middle - middles_m[other]) > LABEL_WIDTH * length_m for other in shown):
            shown.append(number)
    return shown


def _climb_shapes(audit: Audit, top: float) -> list[dict[str, Any]]:
    return [
        {
            "type": "line",
            "xref": "x",
            "yref": "y",
            "x0": along(climb.start_m),
            "x1": along(climb.start_m + climb.length_m),
            "y0": 1.16 * top,
            "y1": 1.16 * top,
            "line": {"width": 2, "color": token("soft")},
        }
        for climb in _shown(audit)
    ]


def _climb_labels(audit: Audit, top: float) -> list[dict[str, Any]]:
    return [
        {
            "x": along(climb.start_m + climb.length_m / 2),
            "y": 1.17 * top,
            "text": climb_name(climb).replace(", ", "<br>"),
            "showarrow": False,
            "yanchor": "bottom",
            "font": {"size": 11, "color": token("soft")},
        }
        for climb in _labelled(audit)
    ]


def _labelled(audit: Audit) -> list[Climb]:
    climbs, metres = _shown(audit), audit.traces.distance_m
    known = metres[np.isfinite(metres)]
    middles = [climb.start_m + climb.length_m / 2 for climb in climbs]
    return [climbs[number] for number in apart(middles, float(np.ptp(known)))]


def plan_figure(audit: Audit) -> Figure | None:
    """The track seen from above, true to shape, by band, with surges; no map under it. None where positions are missing."""
    traces = audit.traces
    known = np.flatnonzero(np.isfinite(traces.lat_deg) & np.isfinite(traces.lon_deg))
    if len(known) < 2:
        return None
    x, y = flat_plan(traces.lat_deg, traces.lon_deg)
    if max(np.nanmax(x) - np.nanmin(x), np.nanmax(y) - np.nanmin(y)) < 50:
        return None
    marks = surge_marks(audit, lambda event: _seen(x, y, event.start_s))
    lines = _plan_lines(audit, known, x, y)
    layout = base_layout(
        height=PLAN_HEIGHT,
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        xaxis={"visible": False, "constrain": "domain", **still()},
        yaxis={"visible": False, "scaleanchor": "x", "scaleratio": 1, **still()},
        **scale_bar(x[known], y[known]),
    )
    return figure([*lines, *marks], layout)


def flat_plan(lat: FloatArray, lon: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Metres east and north [n] of the middle of a track [deg, n], true to shape around it; NaN stays NaN.

    Longitudes are taken the short way round, so that a track may cross the date line.
    """
    known = np.isfinite(lat) & np.isfinite(lon)
    middle = float(np.median(lat[known]))
    turn = (lon - float(lon[known][0]) + 180) % 360 - 180
    east = np.radians(turn) * EARTH_RADIUS_M * math.cos(math.radians(middle))
    return east, np.radians(lat - middle) * EARTH_RADIUS_M


def _seen(x: FloatArray, y: FloatArray, row: int) -> tuple[float, float] | None:
    return (round(float(x[row]), 1), round(float(y[row]), 1)) if math.isfinite(x[row] + y[row]) else None


def _plan_lines(audit: Audit, known: NDArray[np.int64], x: FloatArray, y: FloatArray) -> list[Trace]:
    """One line a band, broken where the track is; a thin line under them all carries the hover."""
    kept = known[:: max(1, len(known) // (2 * PARTS))]
    gaps = np.flatnonzero(np.diff(kept) > 30 + 2 * max(1, len(known) // (2 * PARTS)))
    traces = [_track(audit, kept, gaps, x, y)]
    codes = audit.traces.ribbon[kept].astype(np.int64)
    for code in range(UNMEASURED + 1):
        px: list[float | None] = []
        py: list[float | None] = []
        for found, first, end in _runs(codes):
            if found != code:
                continue
            for part in np.split(
                np.arange(first, min(end + 1, len(kept))), gaps[(gaps >= first) & (gaps < end)] + 1 - first
            ):
                px += [round(float(value), 1) for value in x[kept[part]]] + [None]
                py += [round(float(value), 1) for value in y[kept[part]]] + [None]
        if px:
            colour = token(RIBBON_NAMES[code] if code < len(BAND_NAMES) else "outline")
            line = {"width": WIDTHS[code], "color": colour, "dash": "solid" if code < len(BAND_NAMES) else "dot"}
            traces.append(
                Trace(type="scatter", name=RIBBON_NAMES[code], mode="lines", x=px, y=py, line=line, hoverinfo="skip")
            )
    return traces


def _track(audit: Audit, kept: NDArray[np.int64], gaps: NDArray[np.int64], x: FloatArray, y: FloatArray) -> Trace:
    metres = audit.traces.distance_m[kept]
    px, py = x[kept].tolist(), y[kept].tolist()
    texts: list[Any] = [
        f"{hour_of(audit, row)}, {place_text(m)}" for row, m in zip(kept.tolist(), metres.tolist(), strict=True)
    ]
    keys: list[Any] = [["m", round(m) if math.isfinite(m) else None] for m in metres.tolist()]
    for place in gaps[::-1].tolist():
        for values in (px, py, texts, keys):
            values.insert(place + 1, None)
    return Trace(
        type="scatter",
        name="track",
        mode="lines",
        x=[None if value is None else round(value, 1) for value in px],
        y=[None if value is None else round(value, 1) for value in py],
        line={"width": 7.4, "color": token("outline")},
        customdata=keys,
        hovertext=texts,
        hovertemplate="%{hovertext}<extra></extra>",
        connectgaps=False,
    )


def scale_bar(x: FloatArray, y: FloatArray) -> dict[str, Any]:
    """A bar of a round length in the lower left corner, and which way is north."""
    wide = max(float(np.ptp(x)), float(np.ptp(y)))
    length, text = round_length(wide / 4)
    left, low = float(x.min()), float(y.min()) - 0.06 * wide
    line = {"width": 3, "color": token("ink")}
    label = {"showarrow": False, "font": {"size": 12, "color": token("soft")}, "xanchor": "left"}
    return {
        "shapes": [{"type": "line", "x0": left, "x1": left + length, "y0": low, "y1": low, "line": line}],
        "annotations": [
            {"x": left, "y": low, "text": f"{text}, north is up", "yanchor": "bottom", **label},
        ],
    }


def round_length(most_m: float) -> tuple[float, str]:
    """The longest round length [m] not over `most_m` (the shortest where none is), and how it is written."""
    if reader().units == "miles":
        rounded = [(METRES_PER_FOOT * feet, f"{feet} ft") for feet in (200, 500)]
        rounded += [(METRES_PER_MILE * miles, f"{miles:g} mi") for miles in (0.2, 0.5, 1, 2, 5, 10, 20, 50)]
    else:
        rounded = [(metres, f"{metres / 1000:g} km" if metres >= 1000 else f"{metres} m") for metres in ROUND_M]
    return next((item for item in reversed(rounded) if item[0] <= most_m), rounded[0])


def profile_words(audit: Audit) -> str:
    """The profile in a sentence, for those who do not see it."""
    found = audit.surges
    told = [f"{count} {cause}" for cause, count in (found.by_cause if found else {}).items() if count]
    climbs = f"{len(audit.climbs)} climbs" if len(audit.climbs) != 1 else "1 climb"
    return f"Height over distance by band with {climbs}; surges: {', '.join(told) or 'none'}. The tables say the same."


def plan_words(audit: Audit) -> str:
    """The plan in a sentence."""
    length = np.nanmax(audit.traces.distance_m) if np.isfinite(audit.traces.distance_m).any() else float("nan")
    return f"The track of {distance_text(float(length))} seen from above, by band, with its surges."
