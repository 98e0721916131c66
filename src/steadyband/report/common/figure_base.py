"""What every plotly figure of the report shares: layout, axes, patterns. Colours are named `var(--name)`; the page
turns the names into colours."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import EASY, GAP, PAUSE, RESTING, RIBBON_NAMES, UNMEASURED, Audit
from steadyband.report.common.palette import token

Trace: TypeAlias = dict[str, Any]
"""One trace as plotly.js takes it."""

ZERO_MS = 2 * 86_400_000
"""Where elapsed time begins on a date axis: plotly takes numbers of four digits for years, so it is not at 0."""

CONFIG: Mapping[str, Any] = {
    "displayModeBar": False,
    "displaylogo": False,
    "responsive": True,
    "scrollZoom": False,
    "doubleClick": False,
    "showTips": False,
}
HATCH: Mapping[str, dict[str, Any]] = {
    "heavy": {"shape": "/", "size": 6, "solidity": 0.24, "fgcolor": token("grain"), "fgopacity": 1},
    "severe": {"shape": "x", "size": 4, "solidity": 0.26, "fgcolor": token("hatch"), "fgopacity": 1},
    "unmeasured": {"shape": ".", "size": 5, "solidity": 0.3, "fgcolor": token("dots"), "fgopacity": 1},
}
FILLS: Mapping[int, str] = {UNMEASURED: "blank", RESTING: "resting", PAUSE: "blank", GAP: "blank"}


def base_layout(**changes: Any) -> dict[str, Any]:
    """The layout every figure starts from: no frame, no zoom, the page's own type."""
    layout: dict[str, Any] = {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": "system-ui, sans-serif", "size": 12, "color": token("soft")},
        "margin": {"l": 0, "r": 0, "t": 0, "b": 0},
        "showlegend": False,
        "dragmode": False,
        "hovermode": "closest",
        "hoverlabel": {
            "bgcolor": token("card"),
            "bordercolor": token("outline"),
            "font": {"color": token("ink"), "size": 13},
            "align": "left",
        },
    }
    return layout | changes


@dataclass(frozen=True, slots=True)
class Figure:
    """Traces and layout in plotly's own terms, ready for its script.

    plotly's Python side is not needed to draw, and its import alone takes some 0.15 s; the tests have it check every figure
    of every page.
    """

    data: tuple[Trace, ...]
    layout: Mapping[str, Any]


def figure(traces: Sequence[Trace], layout: Mapping[str, Any]) -> Figure:
    """A figure of traces on a layout; what is None in them is left out."""
    return Figure(tuple(_told(trace) for trace in traces), _told(layout))


def _told(parts: Mapping[str, Any]) -> dict[str, Any]:
    return {key: _told(part) if isinstance(part, Mapping) else part for key, part in parts.items() if part is not None}


def hour_step(seconds: float) -> int:
    """Seconds between the marks of a time axis, so that at most six stand on it."""
    steps = (300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200)
    return next((step for step in steps if seconds / step <= 6), 86400)


def hour_marks(seconds: float) -> list[tuple[int, str]]:
    """(second, label) of the marks of a time axis from 0: "0", "30 min", "1 h", "1 h 30"."""
    step = hour_step(seconds)
    return [(mark, _mark_text(mark)) for mark in range(0, int(seconds) + 1, step)]


def _mark_text(mark: int) -> str:
    if mark % 3600 == 0:
        return f"{mark // 3600} h" if mark else "0"
    return f"{mark // 60} min" if mark < 3600 else f"{mark // 3600} h {mark % 3600 // 60:02d}"


def longest_of(audits: Iterable[Audit]) -> int:
    """Seconds of the longest session, the end of the shared time axis."""
    return max((len(audit.traces.ribbon) for audit in audits), default=1) or 1


def still() -> dict[str, Any]:
    """An axis that is not zoomed or dragged."""
    return {"fixedrange": True, "zeroline": False}


def band_marker(code: int) -> dict[str, Any]:
    """Colour, pattern and outline of one code of the ribbon."""
    name = RIBBON_NAMES[code]
    outlined = code in FILLS or code == EASY
    line = {"width": 0.6 if outlined else 0, "color": token("outline")}
    pattern = {"fillmode": "overlay", **HATCH[name]} if name in HATCH else {"shape": ""}
    return {"color": token(FILLS.get(code, name)), "line": line, "pattern": pattern}


def elapsed_axis(seconds: int) -> dict[str, Any]:
    """A time axis in milliseconds from `ZERO_MS`, marked in hours; the page tells it as h:mm:ss from the start."""
    marks = hour_marks(seconds)
    return {
        "type": "date",
        "range": [ZERO_MS, ZERO_MS + seconds * 1000],
        "tickvals": [ZERO_MS + mark * 1000 for mark, _ in marks],
        "ticktext": [text for _, text in marks],
        "showspikes": True,
        "spikemode": "across",
        "spikesnap": "hovered data",
        "spikecolor": token("outline"),
        "spikethickness": 1,
        "spikedash": "solid",
        "gridcolor": token("line"),
        "showgrid": True,
        **still(),
    }


def elapsed_ms(second: int) -> int:
    """A second of the session on the axis of `elapsed_axis`."""
    return ZERO_MS + int(second) * 1000


def of_known(what: Callable[[NDArray[np.float64]], float], values: NDArray[np.float64]) -> float | None:
    """A number (mean, highest) of the values that are known; None where none is."""
    known = values[np.isfinite(values)]
    return float(what(known)) if len(known) else None
