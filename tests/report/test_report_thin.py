"""Thinning for drawing keeps every extreme."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from steadyband.report.thin import thinned

VALUES = st.lists(st.floats(-1e6, 1e6) | st.just(float("nan")), min_size=1, max_size=400)


@given(values=VALUES, pieces=st.integers(1, 60))
def test_lowest_and_highest_value_survive_and_the_order_holds(values: list[float], pieces: int) -> None:
    array = np.array(values)
    index, kept = thinned(array, pieces)
    assert (np.diff(index) > 0).all()
    assert len(index) <= max(2 * pieces, len(values) if len(values) <= 2 * pieces else 0)
    np.testing.assert_array_equal(kept, array[index])
    if not np.isnan(array).all():
        assert np.nanmax(kept) == np.nanmax(array)
        assert np.nanmin(kept) == np.nanmin(array)


def test_a_long_hole_breaks_the_line() -> None:
    values = np.ones(10_000)
    values[4000:6000] = np.nan
    index, kept = thinned(values, 100)
    hole = np.isnan(kept)
    assert hole.any()
    assert ((index[hole] >= 4000) & (index[hole] < 6000)).all()


def test_one_second_peak_in_ten_thousand_survives() -> None:
    values = np.zeros(10_000)
    values[7777] = 900.0
    index, kept = thinned(values, 50)
    assert kept[index == 7777].tolist() == [900.0]
