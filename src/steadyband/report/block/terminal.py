"""What `block` prints."""

from __future__ import annotations

from dataclasses import replace

from rich.console import Group, RenderableType
from rich.text import Text

from steadyband.report.block.view import fit_table, plan_table, weeks_of, weeks_table
from steadyband.report.common.fitted import Fitted, printable
from steadyband.report.common.left_out import left_out_lines
from steadyband.report.common.terminal import heading, lead, paragraph, paragraphs, titled
from steadyband.report.common.view import Table as TableView
from steadyband.review.model import Review


def block_view(review: Review) -> RenderableType:
    """The block: the answer, decisions with what would change the mind, weeks, drift, distribution, durability, fit."""
    parts: list[RenderableType] = [heading(review.answer), paragraph(review.subline)]
    parts += titled(
        "To decide before the next block", [_decision(item.head, item.text, item.unless) for item in review.decisions]
    )
    parts += titled("Asked about rather than judged", [lead(f"{item.head} ", item.text) for item in review.questions])
    parts += titled("What holds it back", [lead(f"{item.head} ", item.text) for item in review.limiters])
    parts += titled("What went well", [lead(f"{item.head} ", item.text) for item in review.went_well])
    parts += titled("Does the load creep?", paragraphs(review.notes["drift"]))
    parts += titled("Week by week", [*_weeks(review), *paragraphs(review.notes["load"])])
    parts += titled("How intensity was spread", paragraphs(review.notes["distribution"]))
    parts += titled("Durability", paragraphs(item.text for item in review.durability))
    parts += titled("Does the test still fit?", [*_table(fit_table(review)), *paragraphs(review.notes["fit"])])
    parts += titled("Taken for granted", paragraphs(review.notes["taken"]))
    parts += titled("Left out or repaired", left_out_lines(review))
    return Group(*parts, Text())


def _weeks(review: Review) -> list[RenderableType]:
    tables = [table for table in (weeks_table(review), plan_table(weeks_of(review))) if table and table.rows]
    return [part for table in tables for part in _table(table, caption="" if table is tables[0] else table.caption)]


def _table(table: TableView | None, caption: str = "") -> list[RenderableType]:
    """A table with a blank line below it, and its note."""
    if table is None or not table.rows:
        return []
    return [Fitted(replace(table, caption=caption)), *paragraphs([table.note] if table.note else []), Text()]


def _decision(head: str, text: str, unless: str) -> Text:
    return lead(f"{head} ", text).append(printable(f"\nWhat would change this: {unless}"), "dim")
