"""Fewer points for drawing, with every extreme kept."""

from __future__ import annotations

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
    piece = np.repeat(np.arange(pieces), np.diff(edges))
    low, high = (extreme.reduceat(values, edges[:-1]) for extreme in (np.fmin, np.fmax))
    found = (edges[:-1][np.isnan(low)], _first(values, low, piece), _first(values, high, piece))
    index = np.unique(np.concatenate(found))
    return index, values[index]


def _first(values: FloatArray, wanted: FloatArray, piece: NDArray[np.int64]) -> NDArray[np.int64]:
    """Where the wanted value of each piece stands first; `piece` [n] is the piece of each value."""
    places = np.flatnonzero(values == wanted[piece])
    return places[np.unique(piece[places], return_index=True)[1]]
