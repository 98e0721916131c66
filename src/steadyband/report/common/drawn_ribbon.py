"""A ribbon drawn by the page itself: the figure's bars and ticks as places and widths, so that it stands before any script runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from steadyband.report.common.figure_base import hour_marks
from steadyband.report.common.figures import DRIFT
from steadyband.report.common.view import Plot

OVERLAP = 0.05
"""Share of the axis [%] by which a piece reaches under the next one, so that no seam shows between them."""
BLANKS = frozenset({"pause", "gap"})


@dataclass(frozen=True, slots=True)
class Piece:
    """A run of one band: place and width in % of the shared axis, style class."""

    x: str
    width: str
    css: str


@dataclass(frozen=True, slots=True)
class DrawnRibbon:
    """One ribbon: its pieces in time order, its surges, the axis marks and the ends of the drifted part as places [%], and
    what pointing at it tells."""

    id: str
    words: str
    pieces: tuple[Piece, ...]
    ticks: tuple[str, ...]
    marks: tuple[str, ...]
    drift: tuple[str, str] | None
    tips: Mapping[str, Any] = field(repr=False)


Bar = tuple[float, float, str, str]


def drawn_ribbon(plot: Plot, longest_s: int) -> DrawnRibbon:
    """The ribbon figure of `figures.ribbon` as a drawing on an axis that ends at `longest_s`."""
    bars = sorted(_bars(plot.spec["data"]))
    ticks = sorted(_ticks(plot.spec["data"]))
    return DrawnRibbon(
        id=plot.id,
        words=plot.words,
        pieces=tuple(_piece(bar, longest_s) for bar in bars),
        ticks=tuple(_share(second, longest_s) for second, _ in ticks),
        marks=tuple(_share(second, longest_s) for second, _ in hour_marks(longest_s)),
        drift=_drift(plot.spec["data"], longest_s),
        tips={
            "length": longest_s,
            "starts": [start for start, *_ in bars],
            "ends": [start + length for start, length, *_ in bars],
            "texts": [text for *_, text in bars],
            "ticks": [second for second, _ in ticks],
            "surges": [text for _, text in ticks],
        },
    )


def axis_marks(longest_s: int) -> tuple[tuple[str, str], ...]:
    """(place [%], label) of the marks over a stack of ribbons."""
    return tuple((_share(second, longest_s), text) for second, text in hour_marks(longest_s))


def _bars(traces: Sequence[Mapping[str, Any]]) -> Iterator[Bar]:
    for trace in traces:
        if trace["type"] == "bar":
            for start, length, text in zip(trace["base"], trace["x"], trace["hovertext"], strict=True):
                yield start, length, trace["name"], text


def _ticks(traces: Sequence[Mapping[str, Any]]) -> Iterator[tuple[float, str]]:
    for trace in traces:
        if trace["type"] == "scatter" and trace["name"] != DRIFT:
            yield from zip(trace["x"], trace["hovertext"], strict=True)


def _drift(traces: Sequence[Mapping[str, Any]], longest_s: int) -> tuple[str, str] | None:
    for trace in traces:
        if trace["type"] == "scatter" and trace["name"] == DRIFT:
            start, end = trace["x"]
            return _share(start, longest_s), _share(end, longest_s)
    return None


def _piece(bar: Bar, longest_s: int) -> Piece:
    start, length, name, _ = bar
    css = "blank" if name in BLANKS else name.replace(" ", "-")
    width = min(100 * (start + length) / longest_s + OVERLAP, 100) - 100 * start / longest_s
    return Piece(_share(start, longest_s), f"{width:.2f}", css)


def _share(second: float, longest_s: int) -> str:
    return f"{100 * second / longest_s:.2f}"
