"""How unevenly a session was pedalled or run, and what that alone would put above a ceiling.

Even steady riding crosses a ceiling now and then, since every load scatters. What its calm minutes show of that scatter says how
much work above the ceiling it explains; only work beyond it says that somebody surged.

>>> import numpy as np
>>> rng = np.random.default_rng(3)
>>> mean = 160 * (1 + 0.10 * np.convolve(rng.standard_normal(3600), np.ones(10) / 10**0.5, "same"))
>>> calm = calm_scatter(mean)
>>> round(calm, 2)
0.11
>>> explained_above(mean, calm, np.array([176.0, 200.0])).round(1).tolist()
[37.1, 1.5]
>>> (np.maximum(mean - 176, 0).sum() / 176).round(1)  # what really lay above 176
np.float64(32.7)
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

BLOCK_S = 60
"""Scatter is told minute by minute, so that hills and changes of pace stay out of it [s] (design choice)."""

AROUND = 5
"""The level of a minute is the median of so many minutes around it, so that a surge is no level (design choice)."""

SCATTER_MOST = 0.20
"""Most that a 11-s mean scatters by pedalling alone (calm minutes of two real rides: 0.08 and 0.10; simulated riding with
25 % from second to second, recorded at random moments: 0.17)."""

QUARTILE = 1.3
"""Scatter over the lower quartile of its minutes, where it is the same throughout (simulated: 1.2 to 1.4)."""

POINTS = 64
"""Ceilings for which the explained part is worked out; between them it is a smooth curve."""


def calm_scatter(mean: FloatArray) -> float:
    """Relative scatter of the 11-s mean around the level of its minute, as the calmest quarter of the minutes shows it.

    The root mean square of each minute without coasting, its lower quartile over the session, times `QUARTILE`: surges and hills
    in most of the minutes hardly move it. Args: `mean` [T] of `surge_mean`, any unit, NaN where unmeasured. At most
    `SCATTER_MOST`; 0 where no minute is whole.
    """
    known, level = _minutes(mean)
    whole = (known > 0).all(axis=1)
    if not whole.any():
        return 0.0
    apart = known[whole] / level[whole, None] - 1
    return min(QUARTILE * float(np.quantile(np.sqrt(np.mean(apart**2, axis=1)), 0.25)), SCATTER_MOST)


def _minutes(mean: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The minutes with measured seconds [k, 60], and the level of each [k]: the median over the five minutes around it."""
    whole = len(mean) // BLOCK_S
    blocks = mean[: whole * BLOCK_S].reshape(whole, BLOCK_S)
    known = blocks[(~np.isnan(blocks)).any(axis=1)]
    if not len(known):
        return known, np.empty(0)
    padded = np.pad(median_of_each(known), AROUND // 2, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, AROUND)
    return known, np.asarray(np.median(around, axis=1), dtype=np.float64)


def median_of_each(rows: FloatArray) -> FloatArray:
    """The median of each row [k], NaN left out; no row is all NaN. Equal to `np.nanmedian`, in an eighth of its time (measured)."""
    ordered, known = np.sort(rows, axis=1), np.count_nonzero(~np.isnan(rows), axis=1)
    low, high = (np.take_along_axis(ordered, at[:, None], axis=1)[:, 0] for at in ((known - 1) // 2, known // 2))
    return np.asarray((low + high) / 2, dtype=np.float64)


def explained_above(mean: FloatArray, scatter: float, ceilings: FloatArray) -> FloatArray:
    """What scatter alone would put above each ceiling, in seconds' worth of it [N] (METHOD 4).

    Every measured second is taken to scatter normally, by `scatter` of its level, around its level; a level above the ceiling counts as
    at the ceiling, so that a hill ridden hard explains nothing. The mean excess of a normal variable over a limit u
    standard deviations above its mean is sd (phi(u) - u (1 - Phi(u))): the textbook loss integral.
    """
    level, seconds = _minutes(mean)[1], int(np.count_nonzero(~np.isnan(mean)))
    finite = ceilings[np.isfinite(ceilings)]
    out = np.zeros(len(ceilings))
    if not len(level) or not len(finite) or scatter <= 0:
        return out
    share = np.linspace(0.3, 1.0, 141)
    excess = np.array([_excess(one, scatter) for one in share])
    at = np.linspace(finite.min(), finite.max(), POINTS)
    told = np.interp(np.minimum(level / at[:, None], 1.0), share, excess, left=0.0).mean(axis=1)
    out[np.isfinite(ceilings)] = seconds * np.interp(finite, at, told)
    return out


def _excess(share: float, scatter: float) -> float:
    """Mean excess over 1 of a normal variable with mean `share` and standard deviation `share` x `scatter`."""
    sd = share * scatter
    u = (1 - share) / sd
    return sd * (math.exp(-u * u / 2) / math.sqrt(2 * math.pi) - u * math.erfc(u / math.sqrt(2)) / 2)
