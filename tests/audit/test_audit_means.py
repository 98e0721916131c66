"""Centred and trailing means, rolling minima and runs against pandas, and by hand.

Reference library: pandas 3.1.1, `Series.rolling(window, center=True, min_periods=1).mean()`,
`Series.rolling(window).mean()` and `Series.rolling(window).min()`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.audit.measure.means import centred_mean, rolling_minimum, runs, trailing_mean


def made_up(length: int = 4000, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Loads with holes, in stretches of many lengths, with rows outside any stretch between some of them."""
    rng = np.random.default_rng(seed)
    values = rng.integers(0, 500, length).astype(float)
    values[rng.random(length) < 0.1] = np.nan
    stretch = np.cumsum(rng.random(length) < 0.01).astype(np.int32)
    stretch[stretch % 3 == 1] = -1
    return values, stretch


@pytest.mark.parametrize("window", [1, 3, 31, 301])
def test_centred_mean_is_the_rolling_mean_of_pandas_within_each_stretch(window: int) -> None:
    values, stretch = made_up()
    expected = np.full(len(values), np.nan)
    pieces = np.cumsum(np.diff(stretch, prepend=stretch[0]) != 0)
    for piece in np.unique(pieces):
        rows = np.flatnonzero(pieces == piece)
        if stretch[rows[0]] >= 0:
            expected[rows] = pd.Series(values[rows]).rolling(window, center=True, min_periods=1).mean()
    expected[np.isnan(values)] = np.nan
    np.testing.assert_allclose(centred_mean(values, stretch, window), expected, rtol=1e-12, atol=1e-9)


def test_of_an_even_window_the_outer_two_count_half() -> None:
    """The textbook's 2 x 10 moving average: the mean of the two windows of ten that lie around a row, by pandas."""
    values = np.random.default_rng(4).integers(0, 500, 200).astype(float)
    tens = pd.Series(values).rolling(10).mean()
    expected = ((tens.shift(-4) + tens.shift(-5)) / 2).to_numpy()[5:-5]
    np.testing.assert_allclose(centred_mean(values, np.zeros(200, np.int32), 10)[5:-5], expected, rtol=1e-12)


def test_trailing_mean_is_the_full_window_rolling_mean_of_pandas() -> None:
    values = np.random.default_rng(2).integers(0, 500, 2000).astype(float)
    expected = pd.Series(values).rolling(600).mean().dropna()
    np.testing.assert_allclose(trailing_mean(values, 600), expected, rtol=1e-12)
    assert len(trailing_mean(values[:599], 600)) == 0


@given(st.lists(st.integers(0, 20), min_size=1, max_size=60), st.integers(1, 40))
@settings(max_examples=100, deadline=None)
def test_rolling_minimum_is_that_of_pandas(values: list[int], window: int) -> None:
    series = np.array(values, float)
    expected = pd.Series(series).rolling(window).min().dropna()
    np.testing.assert_array_equal(rolling_minimum(series, window), expected)


def test_a_missing_second_stays_missing_and_does_not_pull_the_mean_down() -> None:
    values = np.array([100.0, np.nan, 200.0])
    # by hand: the window of the first row holds 100 alone, that of the last 200 alone (the middle one is missing)
    np.testing.assert_array_equal(centred_mean(values, np.zeros(3, np.int32), 3), [100.0, np.nan, 200.0])


def test_no_mean_runs_across_the_border_of_a_stretch() -> None:
    values = np.array([100.0, 100.0, 300.0, 300.0])
    np.testing.assert_array_equal(centred_mean(values, np.array([0, 0, 1, 1], np.int32), 31), values)


def test_runs_by_hand() -> None:
    mask = np.array([1, 1, 0, 1, 1, 1, 0, 1], bool)
    starts, ends = runs(mask)
    assert (starts.tolist(), ends.tolist()) == ([0, 3, 7], [2, 6, 8])
    starts, ends = runs(mask, np.array([0, 0, 0, 0, 1, 1, 1, 1], np.int32))
    assert (starts.tolist(), ends.tolist()) == ([0, 3, 4, 7], [2, 4, 6, 8])
    assert [len(part) for part in runs(np.zeros(0, bool))] == [0, 0]
