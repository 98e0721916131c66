"""What `zones`, `audit`, `week` and `settings` print: rich renderables that fit 80 columns on dark and light screens."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.text import Text

from steadyband.audit.model import Audit, Finding
from steadyband.ground.settings import Settings
from steadyband.ground.settings.setting import OPEN, SettingTold
from steadyband.ground.units import duration_text
from steadyband.report.common.evidence import places, slope_text
from steadyband.report.common.figure_base import hour_marks, longest_of
from steadyband.report.common.fitted import Fitted, printable
from steadyband.report.common.ribbon import RibbonKey, RibbonView
from steadyband.report.common.view import Table as TableView
from steadyband.report.common.words import (
    agreement_key,
    agreement_text,
    capital,
    compared_text,
    counted,
    date_text,
    hour_of,
    intent_text,
    label_of,
    loads_of,
    number_text,
    sentence,
    session_title,
    setting_text,
    share_text,
    signed_text,
    sport_word,
    verdict_label,
)
from steadyband.report.hills.view import hill_lines
from steadyband.report.session.view import bands_table, detail_line, facts_text, mean_text
from steadyband.report.test.view import edges_table, limits_table, methods_table, steps_table
from steadyband.report.week.view import plan_table, repairs_text, sports_table, titles
from steadyband.review.model import Advice, WeekReview
from steadyband.steptest.model import ZoneSet

HOW_TO_CHANGE = "Change a setting in athlete.toml under the heading of its group: below [settings.verdict] write micro_per_hour = 8."
SOURCES = (
    "METHOD and S1, S2 and so on: docs/method.md and docs/sources.md. Design choice: ours, and open to yours. "
    "Common practice: habits of the trade without one source."
)
SEVERITIES = {"block": "Stops it", "warn": "Warning", "evidence": "Evidence"}


def zones_view(zone_set: ZoneSet, sentences: Sequence[str]) -> RenderableType:
    """One step test: steps, edges with ranges and heart-rate limits, what they mean, checks, other readings."""
    test = zone_set.test
    head = f"{capital(sport_word(test.sport))}: step test of {date_text(test.date)}, {test.state}"
    parts: list[RenderableType] = [_head(head), _soft(test.file), Text()]
    parts += [Fitted(steps_table(zone_set)), Text()]
    if zone_set.usable:
        parts += [Fitted(edges_table(zone_set)), Text()]
    parts += [_line(line) for line in sentences]
    parts += _titled("Checks", [_check(check.severity, check.text) for check in zone_set.checks])
    if zone_set.usable and zone_set.methods:
        parts += [Text(), Fitted(methods_table(zone_set))]
    return Group(*parts)


def _check(severity: str, text: str) -> Text:
    return _lead(f"{SEVERITIES.get(severity, severity)}: ", sentence(text))


def audit_view(audit: Audit) -> RenderableType:
    """One session: what and when, ribbon, bands, surges, drift, findings, quality, and the test it is compared with."""
    return Group(
        _head(f"{session_title(audit)}: {verdict_label(audit)}"),
        _soft(_facts(audit)),
        Text(),
        RibbonView(audit),
        TimeAxis(longest_of([audit])),
        RibbonKey((audit,)),
        *_agreement_key((audit,)),
        *_audit_numbers(audit),
        *_titled(f"Verdict: {verdict_label(audit)}", _verdict(audit)),
        *_titled("Hills", [_line(line) for line in hill_lines(audit)]),
        *_titled("Recording", [_line(line) for line in quality_lines(audit)]),
        _line(f"\n{compared_text(audit)}\n"),
    )


def _agreement_key(audits: Sequence[Audit]) -> list[RenderableType]:
    judged = next((audit for audit in audits if agreement_text(audit)), None)
    return [_soft(agreement_key(judged.settings))] if judged else []


def _facts(audit: Audit) -> str:
    name = f"{audit.info.file}" + (f" ({audit.info.name})" if audit.info.name else "")
    return (
        f"{name}\n{date_text(audit.info.local_start.date())}, {facts_text(audit)} active, meant as {intent_text(audit)}"
    )


def _audit_numbers(audit: Audit) -> Iterable[RenderableType]:
    if audit.bands:
        table = bands_table(audit)
        yield Text()
        yield Fitted(TableView("", table.head, table.rows, note=""))
        if table.note:
            yield _soft(table.note)
    yield from (_line(line) for line in number_lines(audit))


def number_lines(audit: Audit) -> Iterable[str]:
    """Mean load, surges and drift, a line each."""
    if audit.load is not None:
        yield f"\nLoad: {mean_text(audit)}; highest 31-s mean {loads_of(audit).text(audit.load.mean_31s_max)}."
    if audit.surges is not None:
        yield _surges_line(audit)
    if audit.drift is not None:
        yield _drift_line(audit)


def _surges_line(audit: Audit) -> str:
    surges = audit.surges
    if surges is None or not surges.count:
        return "Surges: none above the ceiling."
    causes = ", ".join(f"{cause} {count}" for cause, count in surges.by_cause.items() if count)
    work = f", work above {number_text(surges.work_above_kj, 'kJ', 1)}" if surges.work_above_kj is not None else ""
    forced = f"; {surges.forced} forced by the hill" if surges.forced is not None else ""
    return (
        f"Surges: {surges.count:,} ({surges.per_hour:.0f} an active hour), {counted(surges.micro, 'micro-surge')} and "
        f"{counted(surges.sustained, 'sustained effort')}; {duration_text(surges.seconds_above)} above the ceiling, "
        f"{share_text(surges.share_above)}{work}. Where: {causes}{forced}."
    )


def _drift_line(audit: Audit) -> str:
    drift = audit.drift
    if drift is None:
        return ""
    longest = duration_text(drift.load_longest_s) if drift.load_longest_s else "never"
    parts = [f"ten-minute mean at or above the target top: {longest}"]
    if drift.load_slope_per_h is not None:
        parts.append(f"trend {slope_text(audit, drift.load_slope_per_h)} an hour")
    if drift.hr_drift_percent is not None:
        parts.append(f"heart rate against load {signed_text(drift.hr_drift_percent, '%', 1)}")
    if drift.hr_above_test_s:
        parts.append(f"heart rate above the test for {duration_text(drift.hr_above_test_s)}")
    return f"Drift: {'; '.join(parts)}."


def _verdict(audit: Audit) -> list[RenderableType]:
    found = [item for item in audit.verdict.findings if item.code != "in_band"]
    told: list[RenderableType] = [part for item in found for part in _finding(audit, item)]
    if agreement_text(audit):
        told.append(_line(f"The verdict as a whole: {agreement_text(audit)}."))
    return told or [Text("Nothing more to say.")]


def _finding(audit: Audit, item: Finding) -> Iterable[RenderableType]:
    label = label_of(item.code)
    text = _lead(f"{capital(label)}. ", sentence(item.text.removeprefix(f"{capital(label)}: ")))
    if item.agreement is not None and item.agreement >= audit.settings.verdict.unsure_below:
        text.append(f" Agreement {share_text(item.agreement)}.")
    yield text
    for place in places(audit, item.evidence):
        yield Padding(_line(place), (0, 0, 0, 2), expand=False)


def quality_lines(audit: Audit) -> tuple[str, ...]:
    """What was read, dropped, held and repaired."""
    quality = audit.quality
    read = (
        f"{counted(quality.records, 'record')} read, {quality.dropped:,} dropped, {duration_text(quality.held_s)} held."
    )
    return (read, *(sentence(text) for text in repairs_text(audit)))


def week_view(review: WeekReview) -> RenderableType:
    """The week: the answer, a ribbon for each session on one time axis, what to change and decide, hours, tests."""
    longest = longest_of(review.audits)
    parts: list[RenderableType] = [_head(review.answer), _line(review.subline), Text()]
    limits = limits_table(review.tests, review.fit_by_sport)
    parts += [Fitted(TableView("", limits.head, limits.rows, words=5)), Text()] if limits.rows else []
    for title, audit in zip(titles(review.audits), review.audits, strict=True):
        parts += [*_session(title, audit, longest), Text()]
    if review.audits:
        parts += [TimeAxis(longest), RibbonKey(review.audits), *_agreement_key(review.audits)]
    parts += _advice("What to change", review.changes)
    parts += _advice("What went well", review.went_well)
    parts += _advice("To decide before the next block", review.decisions)
    parts += _titled("Since last week", [_line(line) for line in review.since_last_week])
    if review.sports:
        table = sports_table(review)
        parts += [Text(), Fitted(TableView("Hours in each band", table.head, table.rows))]
    plan = plan_table(review)
    if plan is not None:
        parts += [Text(), Fitted(plan)]
    parts += _titled("The test in force", [_line(line) for line in review.test_notes])
    parts += _titled("Left out or repaired", [_line(line) for line in review.left_out])
    return Group(*parts, Text())


def _session(title: str, audit: Audit, longest_s: int) -> Iterable[RenderableType]:
    start = f", {hour_of(audit)}, {duration_text(audit.seconds.active)}: "
    yield _lead(title, start).append(verdict_label(audit), "bold")
    yield RibbonView(audit, longest_s)
    yield _line(" ".join(part for part in (detail_line(audit), sentence(agreement_text(audit))) if part))


def _advice(title: str, items: Sequence[Advice]) -> list[RenderableType]:
    return _titled(title, [_lead(f"{item.head} ", item.text) for item in items])


def settings_view(settings: Settings) -> RenderableType:
    """Every setting with its value, default, allowed range, source and meaning, group by group; changed ones say so."""
    parts: list[RenderableType] = []
    group = ""
    for item in settings.told():
        if item.group != group:
            group = item.group
            parts += [Text(), _head(f"[settings.{group}]"), _soft(sentence(item.topic))]
        parts.append(Padding(_setting(item), (0, 0, 0, 2), expand=False))
    return Group(_line(HOW_TO_CHANGE), *parts, Text(), _soft(SOURCES))


def _setting(item: SettingTold) -> Text:
    changed = item.value != item.default
    name = Text(f"{item.name} = {setting_text(item.value, item.unit)}", style="bold")
    name.append(", changed" if changed else "")
    about = f"default {setting_text(item.default)}, {range_text(item.low, item.high)}; {item.source}"
    return name.append(f" ({about})", "not bold").append(f"\n  {capital(item.meaning)}.", "not bold dim")


def range_text(low: float, high: float) -> str:
    """What a setting may be: "from 0 to 1", "from 1 up"."""
    return f"from {low:g} up" if high >= OPEN else f"from {low:g} to {high:g}"


def _line(text: str, style: str = "") -> Text:
    return Text(printable(text), style=style)


def _head(text: str) -> Text:
    return _line(text, "bold")


def _soft(text: str) -> Text:
    return _line(text, "dim")


def _lead(head: str, text: str) -> Text:
    return Text.assemble((printable(head), "bold"), printable(text))


def _titled(title: str, parts: Sequence[RenderableType]) -> list[RenderableType]:
    return [Text(), _head(title), *(Padding(part, (0, 0, 0, 2), expand=False) for part in parts)] if parts else []


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
