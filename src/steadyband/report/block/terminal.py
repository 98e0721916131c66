"""What `block` and `history` print: lines that fit 80 columns."""

from __future__ import annotations

from dataclasses import replace

from rich.console import Group, RenderableType
from rich.text import Text

from steadyband.ground.units import duration_text
from steadyband.report.block.view import fit_table, plan_table, weeks_table
from steadyband.report.common.fitted import Fitted, printable
from steadyband.report.common.terminal import heading, lead, paragraph, paragraphs, titled
from steadyband.report.common.view import Table as TableView
from steadyband.review.block_model import BlockReview
from steadyband.review.history import History, HistoryGap, HistoryWeek
from steadyband.steptest.sentences import overrides_of


def block_view(review: BlockReview) -> RenderableType:
    """The block: the answer, decisions with what would change the mind, weeks, drift, distribution, durability, fit."""
    parts: list[RenderableType] = [heading(review.answer), paragraph(review.subline)]
    parts += titled(
        "To decide before the next block", [_decision(item.head, item.text, item.unless) for item in review.decisions]
    )
    parts += titled("Asked about rather than judged", [lead(f"{item.head} ", item.text) for item in review.questions])
    parts += titled("What holds it back", [lead(f"{item.head} ", item.text) for item in review.limiters])
    parts += titled("What went well", [lead(f"{item.head} ", item.text) for item in review.went_well])
    parts += titled("Does the load creep?", paragraphs(review.drift_notes))
    parts += titled("Week by week", [*_weeks(review), *paragraphs(review.load_notes)])
    parts += titled("How intensity was spread", paragraphs(review.distribution_notes))
    parts += titled("Durability", paragraphs(item.text for item in review.durability))
    parts += titled("Does the test still fit?", [*_table(fit_table(review)), *paragraphs(review.fit_notes)])
    parts += titled("Left out or repaired", paragraphs(review.left_out))
    return Group(*parts, Text())


def _weeks(review: BlockReview) -> list[RenderableType]:
    tables = [table for table in (weeks_table(review), plan_table(review.weeks)) if table and table.rows]
    return [part for table in tables for part in _table(table, caption="" if table is tables[0] else table.caption)]


def _table(table: TableView | None, caption: str = "") -> list[RenderableType]:
    """A table with a blank line below it, and its note."""
    if table is None or not table.rows:
        return []
    return [Fitted(replace(table, caption=caption)), *paragraphs([table.note] if table.note else []), Text()]


def _decision(head: str, text: str, unless: str) -> Text:
    return lead(f"{head} ", text).append(printable(f"\nWhat would change the mind: {unless}"), "dim")


def history_view(season: History) -> RenderableType:
    """The season, one line a week, latest first."""
    lines = [_week(row) for row in season.rows]
    notes = overrides_of(item for week in season.weeks for item in week.tests)
    return Group(heading(season.answer), *paragraphs(notes), Text(), *lines, Text())


def _week(row: HistoryWeek | HistoryGap) -> Text:
    if isinstance(row, HistoryGap):
        return Text(f"          {row.weeks} weeks without a session", style="dim")
    if not row.sessions and not row.tests:
        return Text(f"{row.iso_year}-W{row.iso_week:02d}  no session", style="dim")
    held = f"{row.held} of {row.judged} held" if row.judged else "none judged" if row.sessions else "no session"
    tests = "".join(f"  ◆ {item.test.sport} test" for item in row.tests)
    count = f"{len(row.sessions)} session" + ("" if len(row.sessions) == 1 else "s")
    return Text(
        printable(f"{row.iso_year}-W{row.iso_week:02d}  {duration_text(row.active_s):>9}  {count:>11}  {held}{tests}")
    )
