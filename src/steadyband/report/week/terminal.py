"""What `week` prints."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from steadyband.audit.model import Audit
from steadyband.ground.units import duration_text
from steadyband.report.common.figure_base import longest_of
from steadyband.report.common.fitted import Fitted
from steadyband.report.common.left_out import left_out_lines
from steadyband.report.common.own_words import told_lines
from steadyband.report.common.terminal import heading, lead, paragraph, titled
from steadyband.report.common.terminal_ribbon import RibbonKey, RibbonView, TimeAxis
from steadyband.report.common.view import Table as TableView
from steadyband.report.common.words import agreement_text, hour_of, sentence, verdict_label
from steadyband.report.session.terminal import agreement_note
from steadyband.report.session.view import detail_line
from steadyband.report.test.view import limits_table
from steadyband.report.week.view import plan_table, sports_table, titles
from steadyband.review.model import Advice, Review


def week_view(review: Review) -> RenderableType:
    """The week: the answer, a ribbon for each session on one time axis, what to change and decide, hours, tests."""
    longest = longest_of(review.audits)
    parts: list[RenderableType] = [heading(review.answer), paragraph(review.subline), Text()]
    limits = limits_table(review.tests, review.fit_by_sport)
    parts += [Fitted(TableView("", limits.head, limits.rows, words=5)), Text()] if limits.rows else []
    if review.week_note:
        parts += [*(paragraph(f"Note on the week: {line}") for line in review.week_note.splitlines()), Text()]
    for title, audit, words in zip(titles(review.audits), review.audits, review.words_told, strict=True):
        parts += [*_session(title, audit, longest), *map(paragraph, told_lines(words)), Text()]
    if review.audits:
        parts += [TimeAxis(longest), RibbonKey(review.audits), *agreement_note(review.audits)]
    parts += _advice("What to change", review.changes)
    parts += _advice("What went well", review.went_well)
    parts += _advice("To decide before the next block", review.decisions)
    parts += titled("Since last week", [paragraph(line) for line in review.since_last_week])
    if review.sports:
        table = sports_table(review)
        parts += [Text(), Fitted(TableView("Hours in each band", table.head, table.rows))]
    plan = plan_table(review)
    if plan is not None:
        parts += [Text(), Fitted(plan)]
    parts += titled("The test in force", [paragraph(line) for line in (*review.notes["test"], *review.notes["fit"])])
    parts += titled("Taken for granted", [paragraph(line) for line in review.notes["taken"]])
    parts += titled("Left out or repaired", left_out_lines(review))
    return Group(*parts, Text())


def _session(title: str, audit: Audit, longest_s: int) -> Iterable[RenderableType]:
    start = f", {hour_of(audit)}, {duration_text(audit.seconds.active)}: "
    yield lead(title, start).append(verdict_label(audit), "bold")
    yield RibbonView(audit, longest_s)
    yield paragraph(" ".join(part for part in (detail_line(audit), sentence(agreement_text(audit))) if part))


def _advice(title: str, items: Sequence[Advice]) -> list[RenderableType]:
    return titled(title, [lead(f"{item.head} ", item.text) for item in items])
