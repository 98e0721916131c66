"""The surges of a session as marks by cause, in the profile and in the plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from steadyband.audit.model import CAUSES, Audit, Surge
from steadyband.ground.units import place_text
from steadyband.report.common.figure_base import Trace
from steadyband.report.common.palette import token
from steadyband.report.common.words import DASH, hour_of, loads_of, signed_text

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


def surges_cell(audit: Audit, start: float, end: float) -> str:
    """Surges that begin in a stretch [m], by cause."""
    if audit.surges is None:
        return DASH
    found = [event.cause for event in audit.surges.events if event.at_m is not None and start <= event.at_m < end]
    told = [f"{found.count(cause)} {cause}" for cause in dict.fromkeys(found)]
    return ", ".join(told) or "0"
