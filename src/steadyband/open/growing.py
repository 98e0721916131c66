"""The lactate curve of a test that is being done, with its range, as a small drawing: it grows with every sample."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from steadyband.ground.units import load_text, load_to_si
from steadyband.steptest.dialogue.draft import Draft
from steadyband.steptest.dialogue.live import Standing
from steadyband.steptest.model import FloatArray

WIDE, HIGH, LEFT, BELOW, TOP = 340, 210, 34, 26, 10
POINTS = 48
LEAST_TOP = 2.5
"""Lactate at the top of the drawing, at least [mmol/L]."""


def drawing(draft: Draft, now: Standing) -> str:
    """An SVG of the curves' median and range over the loads done so far, and of every sample; the table says the same."""
    loads = np.array([load_to_si(step.load, draft.unit) for step in draft.steps if step.samples])
    taken = [
        (load_to_si(step.load, draft.unit), item.lactate)
        for step in draft.steps
        if step.samples
        for item in step.samples
    ]
    room = 0.06 * (loads[-1] - loads[0]) + 0.02 * loads[-1]
    grid: FloatArray = np.linspace(loads[0] - room, loads[-1] + room, POINTS)
    tail = (1 - now.settings.range_share) / 2
    low, middle, high = np.quantile(now.curves.lactate(grid), (tail, 0.5, 1 - tail), axis=0)
    most = max(LEAST_TOP, 1.15 * max(value for _, value in taken))

    def x(load: float) -> float:
        return LEFT + (WIDE - LEFT - 8) * (load - float(grid[0])) / float(grid[-1] - grid[0])

    def y(value: float) -> float:
        return TOP + (HIGH - TOP - BELOW) * (1 - min(value, most) / most)

    there = [f"{x(load):.1f},{y(value):.1f}" for load, value in zip(grid, high, strict=True)]
    back = [f"{x(load):.1f},{y(value):.1f}" for load, value in zip(grid[::-1], low[::-1], strict=True)]
    line = " ".join(f"{x(load):.1f},{y(value):.1f}" for load, value in zip(grid, middle, strict=True))
    dots = "".join(f'<circle cx="{x(load):.1f}" cy="{y(value):.1f}" r="4"/>' for load, value in taken)
    marks = [
        f'<text x="{LEFT - 5}" y="{y(value) + 4:.1f}" text-anchor="end">{value}</text>'
        for value in range(1, int(most) + 1)
    ]
    grids = [f'<path d="M{LEFT} {y(value):.1f}H{WIDE - 8}"/>' for value in range(1, int(most) + 1)]
    under = [
        f'<text x="{x(load):.1f}" y="{HIGH - 8}" text-anchor="middle">{_short(load, draft)}</text>'
        for load in _spread(loads.tolist())
    ]
    words = f"Lactate in mmol/L over load, {len(taken)} samples, with the range of the curve so far; the table says the same."
    return str(
        Markup(
            f'<svg viewBox="0 0 {WIDE} {HIGH}" role="img" aria-label="{words}">'
            f'<g class="lines">{"".join(grids)}</g><polygon class="range" points="{" ".join(there + back)}"/>'
            f'<polyline class="middle" points="{line}"/><g class="taken">{dots}</g>'
            f'<g class="words">{"".join(marks)}{"".join(under)}</g></svg>'
        )
    )


def _short(load: float, draft: Draft) -> str:
    return load_text(load, draft.unit).split(" ")[0]


def _spread(loads: Sequence[float]) -> Sequence[float]:
    """At most five loads to name, so that no two touch."""
    step = -(-len(loads) // 5)
    return loads[::-step][::-1]
