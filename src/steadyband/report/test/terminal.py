"""What `zones`, `plan-test`, `enter-test`, `tests` and `compare-meters` print."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from steadyband.ground.plain import plain_lines
from steadyband.ground.units import load_text, pace_unit
from steadyband.report.common.fitted import Fitted, printable
from steadyband.report.common.terminal import heading, lead, paragraph, soft, titled
from steadyband.report.common.view import Table as TableView
from steadyband.report.common.words import (
    DASH,
    Loads,
    capital,
    counted,
    date_text,
    planned_load_text,
    sentence,
    sport_word,
)
from steadyband.report.test.view import edges_table, methods_table, steps_table
from steadyband.steptest.dialogue.plan import CAUTIONS, SAMPLING, STATE, PlannedStep, TestPlan
from steadyband.steptest.dialogue.remarks import Remark, clock
from steadyband.steptest.history import HistoryGroup, change_sentence
from steadyband.steptest.model import ZoneSet
from steadyband.steptest.sentences import overrides_of

STYLES = {"saved": "dim", "good": "", "warn": "bold", "stop": "bold reverse"}
"""No colour of its own: on a light screen yellow and green cannot be read. The leads tell the weight."""
LEADS = {"saved": "", "good": "", "warn": "!", "stop": "STOP."}

SEVERITIES = {"block": "Stops it", "warn": "Warning", "evidence": "Evidence"}


def zones_view(zone_set: ZoneSet, sentences: Sequence[str]) -> RenderableType:
    """One step test: steps, edges with ranges and heart-rate limits, what they mean, checks, other readings."""
    test = zone_set.test
    head = f"{capital(sport_word(test.sport))}: step test of {date_text(test.date)}, {test.state}"
    parts: list[RenderableType] = [heading(head), soft(test.file), Text()]
    parts += [Fitted(steps_table(zone_set)), Text()]
    if zone_set.usable:
        parts += [Fitted(edges_table(zone_set)), Text()]
    parts += [paragraph(line) for line in sentences]
    parts += titled("Checks", [_check(check.severity, check.text) for check in zone_set.checks])
    if zone_set.usable and zone_set.methods:
        parts += [Text(), Fitted(methods_table(zone_set))]
    return Group(*parts)


def _check(severity: str, text: str) -> Text:
    return lead(f"{SEVERITIES.get(severity, severity)}: ", sentence(text))


def plan_view(plan: TestPlan) -> RenderableType:
    """The plan: steps, sample times, strips, state, sampling habits and cautions."""
    due = " and ".join(clock(minute) for minute in plan.sample_minutes)
    spare = " or ".join(clock(minute) for minute in plan.spare_minutes)
    spin = "spin" if plan.sport == "cycling" else "walk"
    lines = [
        f"Baseline: at most {plan.baseline_max:g} mmol/L; above it {spin} very easily for 15-20 minutes and sample again; still "
        "high: another day.",
        f"Samples: at {due} of every step; spare at {spare}.",
        f"Strips: {plan.strips.total} ({plan.strips.used} and {plan.strips.spare} spare), and a lancet for each.",
        f"Length: {plan.minutes[0]} to {plan.minutes[1]} minutes, beside warm-up and cool-down.",
        f"Stop once a step stands {plan.settings.ceiling_rise:g} mmol/L above the flat part.",
        *plan.notes,
    ]
    return Group(
        Text(f"Step test {sport_word(plan.sport)}", style="bold"),
        Text(plain_lines(f"From {plan.basis}."), style="dim"),
        _steps(plan),
        *(_bullet(line) for line in lines),
        *_section("Before", STATE),
        *_section("Sampling (common practice)", SAMPLING),
        *_section("Take care", CAUTIONS),
    )


def remark_view(remark: Remark) -> RenderableType:
    """One sentence of the dialogue; its lead tells its weight without colour."""
    text = f"{LEADS[remark.tone]} {capital(remark.text)}".strip()
    return Padding(Text(printable(text), style=STYLES[remark.tone]), (0, 0, 0, 2))


def entered_view(rows: Sequence[tuple[str, str, str, str]]) -> RenderableType:
    """Everything entered so far."""
    return _table(("step", "load", "samples, mmol/L (minute)", "highest heart rate"), rows)


def help_view(rows: Sequence[tuple[str, str]]) -> RenderableType:
    """What can be typed."""
    grid = Table.grid(padding=(0, 2))
    for typed, text in rows:
        grid.add_row(Text(plain_lines(f"  {typed}"), style="bold"), Text(plain_lines(text)))
    return grid


def history_view(groups: Sequence[HistoryGroup]) -> RenderableType:
    """All tests, group by group, and what changed."""
    if not groups:
        return Text("No step test was found.")
    return Group(*(part for group in groups for part in _history(group)))


def _history(group: HistoryGroup) -> list[RenderableType]:
    title = f"{capital(sport_word(group.sport))}, {group.state}: {counted(len(group.zone_sets), 'test')}"
    rows = [_history_row(item) for item in group.zone_sets]
    parts: list[RenderableType] = [
        Text(title, style="bold"),
        _table(("date", "floor", "range", "target top", "ceiling", "range"), rows),
    ]
    parts += [_bullet(line, "bold") for line in overrides_of(group.zone_sets)]
    for item in group.comparisons:
        parts.append(Text(f"{date_text(item.before.test.date)} to {date_text(item.now.test.date)}", style="bold"))
        parts += [_bullet(change_sentence(change, group.load_unit)) for change in item.changes]
        parts += [_bullet(text, "bold") for text in item.cautions]
    return [*parts, Text()]


def _history_row(zone_set: ZoneSet) -> tuple[str, ...]:
    loads, edges = Loads(zone_set.test.load_unit), zone_set.edges
    day = zone_set.test.date.isoformat()
    if not zone_set.usable:
        return (day, "not usable", DASH, DASH, DASH, DASH)
    spans = {name: loads.range(span.low, span.high) for name, span in zone_set.ranges.items()}
    ceiling = (
        loads.text(edges.ceiling) if edges.ceiling is not None else f"at least {loads.text(edges.ceiling_at_least)}"
    )
    return (day, loads.text(edges.floor), spans["floor"], loads.text(edges.target_top), ceiling, spans["ceiling"])


def _steps(plan: TestPlan) -> Fitted:
    rows = [_step(plan, step) for step in plan.steps]
    head = ("step", "load", *(("pace",) if plan.load_unit == "km/h" else ()), "how", "expected")
    return _table(head, rows)


def _step(plan: TestPlan, step: PlannedStep) -> tuple[str, ...]:
    pace = (load_text(step.load_si, pace_unit()),) if plan.load_unit == "km/h" else ()
    how = "ride" if plan.sport == "cycling" else step.gait
    return (str(step.number), planned_load_text(plan, step.load_si), *pace, how, "easy" if step.easy else "rise")


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Fitted:
    return Fitted(TableView("", tuple(head), tuple(tuple(row) for row in rows), words=len(head)))


def _section(title: str, lines: Sequence[str]) -> list[RenderableType]:
    return [Text(), Text(title, style="bold"), *(_bullet(line) for line in lines)]


def _bullet(text: str, style: str = "") -> Table:
    grid = Table.grid(padding=(0, 1))
    grid.add_row(Text("-"), Text(plain_lines(text), style=style))
    return grid
