"""Means and runs on one-second rows, never across the border of a stretch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


def _borders(stretch: NDArray[np.int32]) -> tuple[IntArray, IntArray]:
    """First and last row [n] of the piece of equal stretch number that each row lies in."""
    starts = np.flatnonzero(np.diff(stretch, prepend=stretch[:1] - 1))
    ends = np.append(starts[1:], len(stretch)) - 1
    lengths = ends - starts + 1
    return np.repeat(starts, lengths), np.repeat(ends, lengths)


def _prefix(values: NDArray[np.generic]) -> FloatArray:
    return np.concatenate(([0.0], np.cumsum(values, dtype=np.float64)))


def centred_mean(values: FloatArray, stretch: NDArray[np.int32], window_s: int) -> FloatArray:
    """Centred mean over `window_s` rows, cut at the ends of a stretch; of an even number the outer two count half (METHOD 3 and 4).

    `values` [n] any unit, NaN where missing; `stretch` [n] numbers, -1 outside. Missing seconds inside the window are
    left out of the mean. Returns [n] in the same unit: NaN outside a stretch and where the second itself is missing.
    """
    if not len(values):
        return values.copy()
    valid = ~np.isnan(values) & (stretch >= 0)
    totals, counts = _prefix(np.where(valid, values, 0.0)), _prefix(valid)
    first, last = _borders(stretch)
    row = np.arange(len(values))
    inner, outer = (window_s - 1) // 2, window_s // 2
    total, count = np.zeros(len(values)), np.zeros(len(values))
    for before, after in {(inner, outer), (outer, inner)}:
        low, high = np.maximum(row - before, first), np.minimum(row + after, last) + 1
        total += totals[high] - totals[low]
        count += counts[high] - counts[low]
    return np.where(valid, total / np.maximum(count, 1), np.nan)


def trailing_mean(values: FloatArray, window_s: int) -> FloatArray:
    """Trailing mean over full windows only: [n - window_s + 1], empty where the series is shorter; no NaN allowed."""
    if len(values) < window_s:
        return np.empty(0)
    totals = _prefix(values)
    return (totals[window_s:] - totals[:-window_s]) / window_s


def rolling_minimum(values: FloatArray, window: int) -> FloatArray:
    """Smallest value of each full window: [n - window + 1], empty where the series is shorter."""
    if len(values) < window:
        return np.empty(0)
    smallest, width = values, 1
    while width < window:
        step = min(width, window - width)
        smallest = np.minimum(smallest[:-step], smallest[step:])
        width += step
    return smallest


def runs(mask: BoolArray, stretch: NDArray[np.int32] | None = None) -> tuple[IntArray, IntArray]:
    """Maximal runs of True rows: first rows and ends (exclusive), broken where the stretch changes, if given."""
    if not len(mask):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    breaks = np.zeros(len(mask) - 1, bool) if stretch is None else stretch[1:] != stretch[:-1]
    opens = mask & np.concatenate(([True], ~mask[:-1] | breaks))
    closes = mask & np.concatenate((~mask[1:] | breaks, [True]))
    return np.flatnonzero(opens), np.flatnonzero(closes) + 1
