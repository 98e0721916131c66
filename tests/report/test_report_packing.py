"""Times written short come back number by number; nothing else is touched."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from steadyband.report.common.packing import WORTH, packed, unpacked


@given(st.lists(st.integers(-(2**40), 2**40), min_size=WORTH, max_size=200))
def test_a_long_row_comes_back_as_it_was(row: list[int]) -> None:
    assert unpacked(packed({"data": [{"x": row}]})["data"][0]["x"]) == row


@given(st.lists(st.integers() | st.none() | st.floats(allow_nan=False) | st.booleans() | st.text(), max_size=60))
def test_rows_of_anything_else_are_left_alone(row: list[object]) -> None:
    if len(row) >= WORTH and all(type(item) is int for item in row):
        return
    assert packed({"data": [{"x": row, "y": row}]})["data"][0] == {"x": row, "y": row}


def test_only_times_are_written_short() -> None:
    """A page made for somebody else is searched for the heart rates it must not hold, so they are written as they are."""
    row = list(range(1000, 5000, 7))
    spec = {"data": [{"x": row, "y": row, "customdata": row}], "layout": {"height": 300}}
    made = packed(spec)
    assert (made["data"][0]["y"], made["data"][0]["customdata"], made["layout"]) == (row, row, {"height": 300})
    # by hand: 1000, 1007, 1014 and so on are a first value and as many single steps of 7 as there are further values
    assert made["data"][0]["x"] == {"first": 1000, "by": 7, "steps": [1] * (len(row) - 1)}
