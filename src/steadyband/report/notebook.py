"""How results show themselves in a notebook: an audit by its ribbon, a test by its curve, as drawings that need no script."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import numpy as np

from steadyband.audit.model import RIBBON_NAMES, Audit
from steadyband.ground.alike import draw_as
from steadyband.ground.units import clock_text, duration_text
from steadyband.report.common.figure_base import hour_marks
from steadyband.report.common.palette import LIGHT
from steadyband.report.common.ribbon import runs
from steadyband.report.common.words import session_title, verdict_label
from steadyband.steptest import StepTest, ZoneSet, make_zones
from steadyband.told.findings import finding_text, mean_text
from steadyband.told.loads import Loads

WIDE, HIGH, LOW = 720, 300, 34
"""Width of the drawings, height of a curve and of a ribbon [px]."""
LEFT, FOOT = 46, 34
COLOURS = {
    "not active": LIGHT["resting"],
    "unmeasured": LIGHT["blank"],
    "pause": LIGHT["blank"],
    "gap": LIGHT["blank"],
} | {name: LIGHT[name] for name in ("easy", "steady", "heavy", "severe")}


def audit_html(audit: Audit) -> str:
    """The verdict, the ribbon with its surges, and the findings."""
    length = len(audit.traces.ribbon) or 1
    scale = WIDE / length
    pieces = [
        f'<rect x="{run.start_s * scale:.1f}" y="12" width="{run.length_s * scale + 0.3:.1f}" height="22" '
        f'fill="{COLOURS[RIBBON_NAMES[run.code]]}"><title>{RIBBON_NAMES[run.code]}, {clock_text(run.start_s)}, '
        f"{duration_text(run.length_s)}</title></rect>"
        for run in runs(audit.traces.ribbon, max(1, length // WIDE))
    ]
    events = audit.surges.events if audit.surges else ()
    ticks = [_line(event.start_s * scale, 2, event.start_s * scale, 11, LIGHT["ink"]) for event in events]
    marks = [_text(max(second * scale, 6), LOW + 14, text) for second, text in hour_marks(length)]
    ribbon = _svg(WIDE, LOW + 18, [*pieces, _frame(0, 12, WIDE, 22), *ticks, *marks], "The session in a ribbon")
    told = [finding_text(audit, item) for item in audit.verdict.findings] or [mean_text(audit)]
    lines = "".join(f"<li>{escape(line)}</li>" for line in told)
    return f"<div><p><b>{escape(session_title(audit))}: {escape(verdict_label(audit))}</b></p>{ribbon}<ul>{lines}</ul></div>"


def zones_html(zones: ZoneSet) -> str:
    """The samples, the median curve with its range, and the edges with theirs."""
    test, loads = zones.test, Loads(zones.test.load_unit)
    edges = {name.replace("_", " "): getattr(zones.edges, name) for name in ("floor", "target_top", "ceiling")}
    told = ", ".join(f"{name} {loads.text(value)}" for name, value in edges.items())
    head = f"{test.sport} test of {test.date}: {told if zones.usable else 'not usable'}"
    drawn = _curve(zones, edges) if len(zones.ribbon.loads) else ""
    return f"<div><p><b>{escape(head)}</b></p>{drawn}</div>"


def test_html(test: StepTest) -> str:
    """A test as typed shows the curve made from it."""
    return zones_html(make_zones(test))


test_html.__test__ = False  # type: ignore[attr-defined]


def _curve(zones: ZoneSet, edges: dict[str, float | None]) -> str:
    ribbon, loads = zones.ribbon, Loads(zones.test.load_unit)
    points = [(step.load_si, sample.lactate_mmol_l) for step in zones.test.steps for sample in step.samples]
    low, high = float(ribbon.loads[0]), float(ribbon.loads[-1])
    top = max([*(lactate for _, lactate in points), float(np.max(ribbon.high))]) * 1.08
    across = (WIDE - LEFT - 12) / ((high - low) or 1.0)

    def x(load: float) -> float:
        return LEFT + (load - low) * across

    def y(lactate: float) -> float:
        return (HIGH - FOOT) * (1 - lactate / top) + 6

    upper = [f"{x(a):.1f},{y(b):.1f}" for a, b in zip(ribbon.loads, ribbon.high, strict=True)]
    lower = [f"{x(a):.1f},{y(b):.1f}" for a, b in zip(ribbon.loads, ribbon.low, strict=True)]
    middle = [f"{x(a):.1f},{y(b):.1f}" for a, b in zip(ribbon.loads, ribbon.middle, strict=True)]
    parts = [
        f'<polygon points="{" ".join([*upper, *reversed(lower)])}" fill="{LIGHT["tint"]}"/>',
        f'<polyline points="{" ".join(middle)}" fill="none" stroke="{LIGHT["steady"]}" stroke-width="2"/>',
        *(
            f'<circle cx="{x(load):.1f}" cy="{y(lactate):.1f}" r="3.5" fill="{LIGHT["ink"]}"/>'
            for load, lactate in points
        ),
        *(_edge(x(value), name) for name, value in edges.items() if value is not None),
        *(_text(x(step.load_si), HIGH - 14, loads.bare(step.load_si)) for step in zones.test.steps),
        *(_text(20, y(value) + 4, f"{value:g}") for value in range(1, int(top) + 1)),
        _text(WIDE / 2, HIGH, f"load, {loads.shown}; lactate, mmol/L, upwards"),
    ]
    return _svg(WIDE, HIGH + 6, parts, "Lactate over load, with the edges")


def _edge(at: float, name: str) -> Iterable[str] | str:
    return _line(at, 16, at, HIGH - FOOT + 6, LIGHT["upper"]) + _text(at, 12, name)


def _svg(wide: int, high: int, parts: Sequence[Iterable[str] | str], words: str) -> str:
    inside = "".join("".join(part) for part in parts)
    return (
        f'<svg viewBox="0 0 {wide} {high}" width="{wide}" style="max-width:100%;background:{LIGHT["paper"]}" role="img" '
        f'aria-label="{escape(words)}" font-family="sans-serif" font-size="11">{inside}</svg>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, colour: str) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="1.4"/>'


def _frame(x: float, y: float, wide: float, high: float) -> str:
    return f'<rect x="{x}" y="{y}" width="{wide}" height="{high}" fill="none" stroke="{LIGHT["outline"]}"/>'


def _text(x: float, y: float, text: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" fill="{LIGHT["ink"]}">{escape(text)}</text>'


draw_as("audit", audit_html)
draw_as("zones", zones_html)
draw_as("test", test_html)
