"""Fewer points for drawing, with every extreme kept."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def thinned(values: FloatArray, pieces: int) -> tuple[NDArray[np.int64], FloatArray]:
    """(index, value) of the lowest and the highest value of each of `pieces` pieces, in their order.

    `values` [n] may hold NaN; a piece without a value gives one NaN, which breaks the drawn line. Where n is at most
    2 x `pieces` the whole array is returned.
    """
    n = len(values)
    if n <= 2 * pieces:
        return np.arange(n), values
    edges = np.linspace(0, n, pieces + 1).astype(np.int64)
    index = np.unique(np.concatenate([_extremes(values, a, b) for a, b in itertools.pairwise(edges)]))
    return index, values[index]


def _extremes(values: FloatArray, start: int, stop: int) -> NDArray[np.int64]:
    piece = values[start:stop]
    if np.isnan(piece).all():
        return np.array([start], dtype=np.int64)
    return start + np.array(sorted((int(np.nanargmin(piece)), int(np.nanargmax(piece)))), dtype=np.int64)
