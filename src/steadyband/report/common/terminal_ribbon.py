"""A session as a ribbon of block characters, for a terminal."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Literal

import numpy as np
from rich.console import Console, ConsoleOptions, RenderResult
from rich.style import Style
from rich.text import Text

from steadyband.audit.model import EASY, GAP, HEAVY, PAUSE, RESTING, SEVERE, STEADY, UNMEASURED, Audit
from steadyband.report.common.figure_base import hour_marks
from steadyband.report.common.palette import BAND_COLOURS
from steadyband.report.common.ribbon import Codes, runs, shrunk
from steadyband.report.common.words import drift_span

RibbonStyle = Literal["colour", "blocks", "ascii"]
GLYPHS: dict[RibbonStyle, dict[int, str]] = {
    "colour": {EASY: " ", STEADY: " ", HEAVY: "╱", SEVERE: "╳", RESTING: "╌", UNMEASURED: "·", PAUSE: " ", GAP: " "},
    "blocks": {EASY: "░", STEADY: "▒", HEAVY: "▓", SEVERE: "█", RESTING: "╌", UNMEASURED: "·", PAUSE: " ", GAP: " "},
    "ascii": {EASY: ".", STEADY: "=", HEAVY: "#", SEVERE: "%", RESTING: "-", UNMEASURED: ":", PAUSE: " ", GAP: " "},
}
UNDER: dict[RibbonStyle, str] = {"colour": "▔", "blocks": "▔", "ascii": "~"}
"""The line under a part that drifted."""
TICKS: dict[RibbonStyle, str] = {"colour": "╷", "blocks": "╷", "ascii": "|"}
BACKGROUNDS = {
    EASY: Style(bgcolor=BAND_COLOURS["easy"], color="#1C2430"),
    STEADY: Style(bgcolor=BAND_COLOURS["steady"], color="#FFFFFF"),
    HEAVY: Style(bgcolor=BAND_COLOURS["heavy"], color="#1C2430"),
    SEVERE: Style(bgcolor=BAND_COLOURS["severe"], color="#FFFFFF"),
}


def columns(ribbon: Codes, width: int) -> Codes:
    """The ribbon [n] in `width` columns (fewer than n) or as it is."""
    if len(ribbon) <= width:
        return ribbon
    edges = np.linspace(0, len(ribbon), width + 1).astype(int)
    return np.concatenate([shrunk(ribbon[a:b], b - a) for a, b in itertools.pairwise(edges)])


def ribbon_text(audit: Audit, width: int, style: RibbonStyle = "blocks") -> Text:
    """Two lines of at most `width` characters: ticks of the surges, and the ribbon under them; a third where it drifted."""
    codes = columns(audit.traces.ribbon, max(width, 1))
    return Text("\n").join([_ticks(audit, len(codes), style), _band(codes, style), *_drift(audit, len(codes), style)])


def _ticks(audit: Audit, width: int, style: RibbonStyle) -> Text:
    places = (
        {event.start_s * width // len(audit.traces.ribbon) for event in audit.surges.events} if audit.surges else set()
    )
    line = "".join(TICKS[style] if place in places else " " for place in range(width))
    return Text(line, style="bold", no_wrap=True)


def _drift(audit: Audit, width: int, style: RibbonStyle) -> list[Text]:
    span = drift_span(audit)
    if span is None:
        return []
    first, last = (second * width // len(audit.traces.ribbon) for second in (span[0], span[1] - 1))
    return [Text(" " * first + UNDER[style] * (last - first + 1), style="bold", no_wrap=True)]


def _band(codes: Codes, style: RibbonStyle) -> Text:
    line = Text(no_wrap=True)
    for run in runs(codes):
        text = GLYPHS[style][run.code] * run.length_s
        line.append(text, BACKGROUNDS.get(run.code) if style == "colour" else None)
    return line


def style_for(console: Console, options: ConsoleOptions) -> RibbonStyle:
    """Colours where the screen has many, shades of block characters where it has none, plain signs on a screen without either."""
    if options.ascii_only or console.is_dumb_terminal:
        return "ascii"
    many = console.color_system in ("256", "truecolor") and not console.no_color
    return "colour" if many else "blocks"


@dataclass(frozen=True, slots=True)
class RibbonView:
    """A ribbon that fits the console it is printed on; `longest_s` sets a time axis shared with other ribbons."""

    audit: Audit
    longest_s: int | None = None

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        total = max(self.longest_s or 0, len(self.audit.traces.ribbon), 1)
        width = max(1, options.max_width * len(self.audit.traces.ribbon) // total)
        yield ribbon_text(self.audit, width, style_for(console, options))


@dataclass(frozen=True, slots=True)
class RibbonKey:
    """What the characters of the ribbons mean."""

    audits: tuple[Audit, ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield key_text(self.audits, style_for(console, options))


def key_text(audits: tuple[Audit, ...], style: RibbonStyle) -> Text:
    """A line naming each character that occurs in these ribbons."""
    names = ("easy", "steady", "heavy", "severe", "not active", "unmeasured")
    seen = {int(code) for audit in audits for code in np.unique(audit.traces.ribbon)}
    line = Text()
    for code, name in enumerate(names):
        if code in seen:
            line.append(GLYPHS[style][code] * 2, BACKGROUNDS.get(code) if style == "colour" else None)
            line.append(f" {name}   ")
    if seen & {PAUSE, GAP}:
        line.append("blank: pause or gap   ")
    line.append(f"{TICKS[style]} surge")
    if any(drift_span(audit) for audit in audits):
        line.append(f"   {UNDER[style]} load drift")
    return line


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """Hour marks under ribbons whose time axis ends at `longest_s`."""

    longest_s: int

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        width = options.max_width
        line = [" "] * width
        for mark, text in hour_marks(self.longest_s):
            place = min(mark * width // max(self.longest_s, 1), width - len(text))
            line[place : place + len(text)] = text
        yield Text("".join(line[:width]), style="dim", no_wrap=True)
