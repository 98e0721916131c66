"""Robust straight lines: shared by the rooms that must not see each other."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

Z_DEFAULT = 0.95
"""Confidence of every interval that METHOD names (design choice of METHOD 1.7 and 6)."""


def theil_sen(x: FloatArray, y: FloatArray, confidence: float = Z_DEFAULT) -> tuple[float, float, float]:
    """Median of all pairwise slopes, and its interval from Kendall's S by ranks (ties in x and y allowed for).

    Args: x [n] and y [n], finite; pairs of equal x have no slope and are left out; confidence in 0..1.
    Returns slope, lower and upper limit, in units of y per unit of x.
    Raises ValueError where fewer than two different x are given.
    Source: Sen PK (1968) J Am Stat Assoc 63:1379-1389, equation 2.6 (from memory); tested against
    scipy.stats.theilslopes. The interval takes the points as independent.
    """
    first, second = np.triu_indices(len(x), 1)
    run = x[second] - x[first]
    kept = run != 0
    slopes = np.sort((y[second] - y[first])[kept] / run[kept])
    if not len(slopes):
        raise ValueError("a slope needs at least two different values of x")
    spread = _pair_variance(np.array([len(x)])) - _ties(x) - _ties(y)  # equation 2.6
    half = NormalDist().inv_cdf(0.5 + confidence / 2) * float(np.sqrt(max(spread[0], 0.0)))
    low = max(round((len(slopes) - half) / 2) - 1, 0)
    high = min(round((len(slopes) + half) / 2), len(slopes) - 1)
    return float(np.median(slopes)), float(slopes[low]), float(slopes[high])


def median_interval(values: FloatArray, confidence: float = Z_DEFAULT) -> tuple[float, float, float]:
    """Median of values [n] with its distribution-free interval: two order statistics by the sign test.

    Returns median, lower and upper limit, in the unit of the values; the normal approximation of the binomial
    distribution sets the ranks, so n should be 20 or more. The interval takes the values as independent.
    Source: Hollander M, Wolfe DA, Nonparametric Statistical Methods, section 3.6 (from memory).
    """
    ordered = np.sort(values)
    size = len(ordered)
    rank = size / 2 - NormalDist().inv_cdf(0.5 + confidence / 2) * np.sqrt(size) / 2
    low = max(int(np.floor(rank)), 0)
    return float(np.median(ordered)), float(ordered[low]), float(ordered[size - 1 - low])


def _ties(values: FloatArray) -> float:
    counts = np.unique(values, return_counts=True)[1]
    return float(np.sum(_pair_variance(counts[counts > 1])))


def _pair_variance(count: NDArray[np.int64]) -> FloatArray:
    return count * (count - 1) * (2 * count + 5) / 18
