"""A table that fits the screen: no word is ever cut; where even the longest words have no room, a line a row instead."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich import box
from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from steadyband.report.common.view import Table as TableView
from steadyband.report.common.words import DASH

BETWEEN = 2
"""Blanks between two columns."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A table of texts as wide as it must be and as narrow as the screen."""

    view: TableView

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        columns = list(zip(self.view.head, *self.view.rows, strict=True))
        widths = fitting(columns, options.max_width)
        if self.view.caption:
            yield Text(printable(self.view.caption), style="bold")
        if widths:
            yield _table(self.view, widths)
        else:
            yield from _lines(self.view)


def fitting(columns: Sequence[Sequence[str]], most: int) -> list[int]:
    """Width of each column (its heading first), together at most `most` with the blanks between; empty where words do not fit.

    Every column gets its longest word. Then cells stay whole, those first that need least for it; what is left goes, a
    blank at a time, to the columns that wrap most.
    """
    widths = [_longest(word for cell in column for word in cell.split()) for column in columns]
    room = most - BETWEEN * (len(columns) - 1) - sum(widths)
    if room < 0:
        return []
    missing = {number: _longest(column[1:]) - widths[number] for number, column in enumerate(columns)}
    for number in sorted(missing, key=lambda one: missing[one]):
        if 0 < missing[number] <= room:
            widths[number] += missing[number]
            room -= missing[number]
    wanted = [_longest(column) for column in columns]
    for _ in range(room):
        wraps = [number for number, width in enumerate(widths) if width < wanted[number]]
        if not wraps:
            break
        widths[max(wraps, key=lambda number: wanted[number] / widths[number])] += 1
    return widths


def _longest(texts: Iterable[str]) -> int:
    return max((cell_len(text) for text in texts), default=1)


def _table(view: TableView, widths: Sequence[int]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, BETWEEN - 1, 0, 0), pad_edge=False)
    whole = all(cell_len(cell) <= width for row in view.rows for cell, width in zip(row, widths, strict=True))
    for number, (name, width) in enumerate(zip(view.head, widths, strict=True)):
        left = number < view.words
        table.add_column(
            name,
            justify="left" if left else "right",
            width=width,
            style="bold" if not number else "",
            vertical="bottom" if whole else "top",
        )
    for row in view.rows:
        table.add_row(*(Text(printable(cell or DASH)) for cell in row))
    return table


def _lines(view: TableView) -> list[RenderableType]:
    """A line a row, further lines set in: "step 1: load 85 W, lactate mmol/L 0.90"."""
    lines: list[RenderableType] = []
    for name, *cells in view.rows:
        told = ", ".join(
            f"{head} {cell}" for head, cell in zip(view.head[1:], cells, strict=True) if cell not in ("", DASH)
        )
        text = Text.assemble((printable(name), "bold"), printable(f": {told}" if told else ""))
        lines.append(Padding(text, (0, 0, 0, 2), expand=False))
    return lines


def printable(text: str) -> str:
    """The text with everything a terminal would act on (escape and other control characters) shown as U+FFFD."""
    return "".join(char if char.isprintable() or char == "\n" else "\ufffd" for char in text)
