"""Tables on narrow screens."""

from __future__ import annotations

import io

from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from steadyband.report.common.fitted import BETWEEN, Fitted, fitting
from steadyband.report.common.view import Table

VIEW = Table("", ("edge", "mean load"), (("target top", "200 W"), ("floor", "")))


def shown(view: Table, width: int) -> str:
    console = Console(file=io.StringIO(), width=width, legacy_windows=False)
    console.print(Fitted(view))
    return console.file.getvalue()  # type: ignore[attr-defined]


def test_widths_by_hand() -> None:
    """By hand: "target top" 10, "mean load" 9, 2 between: 21 in one line; at 17 the heading wraps to "load"; at 15 nothing fits
    whole but the longest words 6 and 4 or 5 do; at 12 they do not."""
    columns = [("edge", "target top"), ("mean load", "200 W")]
    assert fitting(columns, 80) == [10, 9]
    assert fitting(columns, 17) == [10, 5]
    assert fitting(columns, 13) == [6, 5]
    assert fitting(columns, 11) == []


def test_a_line_a_row_where_words_have_no_room() -> None:
    assert " ".join(shown(VIEW, 10).split()) == "target top: mean load 200 W floor"
    assert "–" in shown(VIEW, 40)


@given(
    st.lists(st.lists(st.text("abc xyz", min_size=0, max_size=20), min_size=3, max_size=3), min_size=1, max_size=6),
    st.integers(5, 120),
)
def test_columns_fit_and_hold_their_longest_word(columns: list[list[str]], most: int) -> None:
    widths = fitting(columns, most)
    if not widths:
        return
    assert sum(widths) + BETWEEN * (len(widths) - 1) <= most
    for column, width in zip(columns, widths, strict=True):
        assert width >= max((len(word) for cell in column for word in cell.split()), default=0)
