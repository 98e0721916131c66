"""What figures of the ground share: height over distance, the way seen from above, and the rows of their tables."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import RIBBON_NAMES
from steadyband.ground.reader import reader
from steadyband.ground.units import (
    EARTH_RADIUS_M,
    METRES_PER_FOOT,
    METRES_PER_MILE,
    distance_text,
    distance_unit,
    height_text,
    height_unit,
    length_text,
    place_text,
)
from steadyband.report.common.figure_base import HATCH, Trace, base_layout, still
from steadyband.report.common.palette import token
from steadyband.report.common.words import DASH, share_text, signed_text

FloatArray = NDArray[np.float64]
Codes = NDArray[np.int64]

PLAN_HEIGHT = 460
LABEL_WIDTH = 0.055
"""Room of a climb's label as a share of the drawn length."""
LABELLED = 12
"""Most climbs with a label in the figure; the table lists all."""
ROUND_M = (100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000)
MOST_ROWS = 25
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
"""Lengths of the rows of a table in the reader's unit of distance, the first that gives few enough rows."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """Ground by distance: cell borders [p + 1, m], height at each [m], code of the ribbon in each cell [p]."""

    metres: FloatArray
    height: FloatArray
    codes: Codes

    @property
    def low(self) -> float:
        """The lowest height [m], where the figure begins."""
        return float(self.height.min())

    @property
    def top(self) -> float:
        """Metres of height the figure spans, 20 at least."""
        return max(float(np.ptp(self.height)), 20.0)


def code_runs(codes: Codes) -> Iterable[tuple[int, int, int]]:
    """(code, first, last + 1) of the runs of equal code."""
    cuts = np.flatnonzero(np.diff(codes)) + 1
    for first, end in zip(np.concatenate(([0], cuts)), np.append(cuts, len(codes)), strict=True):
        yield int(codes[first]), int(first), int(end)


def outlines_of(drawn: Drawn, code: int) -> tuple[list[float | None], list[float | None]]:
    """Outlines of the ground under every run of one code, closed down to the lowest, with gaps between them."""
    x: list[float | None] = []
    y: list[float | None] = []
    for _, first, end in (run for run in code_runs(drawn.codes) if run[0] == code):
        places = [along(float(value)) for value in drawn.metres[first : end + 1]]
        x += [places[0], *places, places[-1], None]
        y += [0.0, *(round(float(value) - drawn.low, 1) for value in drawn.height[first : end + 1]), 0.0, None]
    return x, y


def ground_fill(drawn: Drawn, code: int, colour: str) -> Trace:
    """The ground under every run of one code, filled in a colour, with the pattern of the code's band."""
    x, y = outlines_of(drawn, code)
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
        fillcolor=token(colour),
        fillpattern=pattern,
        hoverinfo="skip",
        connectgaps=False,
    )


def ground_line(drawn: Drawn) -> Trace:
    """The line of the ground; pointing at it says place, height and grade."""
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
        y=[round(value - drawn.low, 1) for value in drawn.height.tolist()],
        line={"width": 1.4, "color": token("ink")},
        customdata=[["m", round(value)] for value in metres.tolist()],
        hovertext=texts,
        hovertemplate="%{hovertext}<extra></extra>",
    )


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


def height_axis(drawn: Drawn) -> dict[str, Any]:
    """An axis of heights, with room for labels above."""
    low, top = drawn.low, drawn.top
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


def apart(middles_m: Sequence[float], length_m: float) -> list[int]:
    """Which labels to show, in the order given: those that no label shown before stands in the way of."""
    shown: list[int] = []
    for number, middle in enumerate(middles_m):
        if all(abs(middle - middles_m[other]) > LABEL_WIDTH * length_m for other in shown):
            shown.append(number)
    return shown


@dataclass(frozen=True, slots=True)
class Hill:
    """A climb as a figure marks it: where it begins, its length and height [m], mean grade."""

    start_m: float
    length_m: float
    height_m: float
    mean_grade: float

    @property
    def middle_m(self) -> float:
        """Where its label stands."""
        return self.start_m + self.length_m / 2


def hill_marks(hills: Sequence[Hill], drawn: Drawn) -> dict[str, Any]:
    """Brackets over the highest climbs and the labels there is room for, as parts of a layout."""
    shown = sorted(hills, key=lambda hill: -hill.height_m)[:LABELLED]
    kept = apart([hill.middle_m for hill in shown], float(drawn.metres[-1] - drawn.metres[0]))
    return {
        "shapes": [_bracket(hill, drawn.top) for hill in shown],
        "annotations": [_label(shown[number], drawn.top) for number in kept],
    }


def _bracket(hill: Hill, top: float) -> dict[str, Any]:
    return {
        "type": "line",
        "xref": "x",
        "yref": "y",
        "x0": along(hill.start_m),
        "x1": along(hill.start_m + hill.length_m),
        "y0": 1.16 * top,
        "y1": 1.16 * top,
        "line": {"width": 2, "color": token("soft")},
    }


def _label(hill: Hill, top: float) -> dict[str, Any]:
    return {
        "x": along(hill.middle_m),
        "y": 1.17 * top,
        "text": f"{distance_text(hill.length_m)}<br>{100 * hill.mean_grade:.1f} %",
        "showarrow": False,
        "yanchor": "bottom",
        "font": {"size": 11, "color": token("soft")},
    }


def flat_plan(lat: FloatArray, lon: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Metres east and north [n] of the middle of a track [deg, n], true to shape around it; NaN stays NaN.

    Longitudes are taken the short way round, so that a track may cross the date line.
    """
    known = np.isfinite(lat) & np.isfinite(lon)
    middle = float(np.median(lat[known]))
    turn = (lon - float(lon[known][0]) + 180) % 360 - 180
    east = np.radians(turn) * EARTH_RADIUS_M * math.cos(math.radians(middle))
    return east, np.radians(lat - middle) * EARTH_RADIUS_M


def plan_layout(x: FloatArray, y: FloatArray) -> dict[str, Any]:
    """The layout of a way seen from above, true to shape; `x` and `y` [m] are what is drawn, all of it known."""
    return base_layout(
        height=PLAN_HEIGHT,
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        xaxis={"visible": False, "constrain": "domain", **still()},
        yaxis={"visible": False, "scaleanchor": "x", "scaleratio": 1, **still()},
        **_scale_bar(x, y),
    )


def _scale_bar(x: FloatArray, y: FloatArray) -> dict[str, Any]:
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


def stretch_borders(first_m: float, last_m: float) -> FloatArray:
    """Round places [m] from start to end, at most `MOST_ROWS` stretches."""
    size = distance_unit()[1]
    length = max(last_m - first_m, 0.0)
    step = size * next((step for step in STEPS if length / (step * size) <= MOST_ROWS), STEPS[-1])
    inner = np.arange(np.floor(first_m / step) + 1, np.ceil(last_m / step)) * step
    return np.concatenate(([first_m], inner, [last_m]))


def span_cells(start: float, end: float) -> tuple[str, str]:
    """Start and end of a stretch [m] as places."""
    return place_text(start), place_text(end)


def ground_cells(drawn: Drawn, start: float, end: float) -> tuple[str, str, str]:
    """Height at the end, change of height and mean grade of a stretch."""
    low, high = np.interp([start, end], drawn.metres, drawn.height)
    grade = 100 * (high - low) / (end - start) if end > start else 0.0
    return height_text(float(high)), height_text(float(high - low)).replace("-", "−"), signed_text(float(grade), "%", 1)


def bands_cell(codes: Codes) -> str:
    """How much of each band these codes hold: "easy 40 %, steady 60 %"."""
    shares = [(float((codes == code).mean()), RIBBON_NAMES[code]) for code in sorted(set(codes.tolist()))]
    return ", ".join(f"{name} {share_text(share)}" for share, name in shares) or DASH


def place_cells(x: FloatArray, y: FloatArray, along: FloatArray, metre: float) -> tuple[str, str]:
    """How far east and north [m] the way stands at `metre` along it."""
    row = int(np.argmin(np.abs(along - metre)))
    return _side(float(x[row]), ("west", "east")), _side(float(y[row]), ("south", "north"))


def _side(metres: float, names: tuple[str, str]) -> str:
    return f"{length_text(abs(metres))} {names[metres >= 0]}"
