"""The same hill again: smoother or rougher only where the difference is more than the scatter of the efforts.

>>> import numpy as np
>>> rng = np.random.default_rng(1)
>>> one, two = (165 * (1 + 0.03 * rng.standard_normal(600)) for _ in range(2))
>>> surged = two.copy()
>>> surged[100:130] = surged[300:330] = surged[500:520] = 240.0
>>> efforts = [effort_above(load, 176.0, scatter=0.03) for load in (one, two, surged)]
>>> [(round(effort.above_s, 1), round(effort.scatter_s, 1)) for effort in efforts]
[(0.1, 0.2), (0.1, 0.2), (29.2, 1.7)]
>>> compared(efforts[1], efforts[:1]), compared(efforts[2], efforts[:2]), compared(efforts[1], efforts[2:])
('as_before', 'rougher', 'smoother')
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

PIECE_S = 60
"""Pieces of an effort whose median is its level [s] (design choice: longer than most surges)."""

TOGETHER_S = 15.0
"""How long the 11-s mean hangs together [s]: the mean over T seconds scatters by its SD x sqrt(15 / T) (simulated: 13 to 15)."""

DAY_TO_DAY = 0.015
"""How far the same effort reads apart on two days, as a share of the load: the meter, and how well one can ride alike (design choice;
makers of power meters state 1 to 2 %, from memory)."""

LEAST_S = 2.0
"""Work above the ceiling, in its seconds, that is never worth a word on a hill (design choice: little more than one surge's)."""

BEYOND = 2.0
"""Standard deviations by which efforts must differ (design choice, set by benchmarks/verdict_sessions.py)."""

Compared = Literal["smoother", "rougher", "as_before"]


@dataclass(frozen=True, slots=True)
class Effort:
    """Work above the ceiling on one climb, and its standard deviation by scatter alone, in seconds' worth of the ceiling."""

    above_s: float
    scatter_s: float


def effort_above(mean: FloatArray, ceiling: float, scatter: float, day_to_day: float = DAY_TO_DAY) -> Effort:
    """One effort up a climb (METHOD 4.4).

    Args: `mean` [k] is the 11-s mean of the load over the climb's seconds, NaN where unmeasured; `ceiling` in its unit; `scatter`
    is `calm_scatter` of the session, as a share; `day_to_day` the share by which the whole climb may read apart on another
    day. The scatter of the sum is that of independent pieces of `TOGETHER_S` which scatter normally around the level of
    their minute, together with what a load that reads `day_to_day` higher adds in the seconds above.
    """
    load = mean[~np.isnan(mean)]
    above = np.maximum(load - ceiling, 0.0) / ceiling
    pieces = np.array_split(load, max(round(len(load) / PIECE_S), 1)) if len(load) else []
    variance = sum(len(piece) * _excess_variance(float(np.median(piece)) / ceiling, scatter) for piece in pieces)
    other_day = day_to_day * np.count_nonzero(above)
    return Effort(float(above.sum()), math.hypot(math.sqrt(TOGETHER_S * variance), other_day))


def _excess_variance(share: float, scatter: float) -> float:
    """Variance of the excess over 1 of a normal variable with mean `share` and standard deviation `share` x `scatter`."""
    sd = share * scatter
    if sd <= 0:
        return 0.0
    u = (1 - share) / sd
    density, tail = math.exp(-u * u / 2) / math.sqrt(2 * math.pi), math.erfc(u / math.sqrt(2)) / 2
    return sd * sd * max((1 + u * u) * tail - u * density - (density - u * tail) ** 2, 0.0)


def compared(latest: Effort, before: Sequence[Effort]) -> Compared:
    """The latest effort against the median of those before (one or more) on the same hill (METHOD 4.4).

    The median of n values scatters by 1.25 / sqrt(n) of one value from three on; of one or two, which is their mean, by
    1 / sqrt(n).
    """
    usual = float(np.median([effort.above_s for effort in before]))
    typical = math.sqrt(float(np.mean([effort.scatter_s**2 for effort in before])))
    share = (1.25 if len(before) > 2 else 1.0) / math.sqrt(len(before))
    limit = max(BEYOND * math.hypot(latest.scatter_s, typical * share), LEAST_S)
    if abs(latest.above_s - usual) <= limit:
        return "as_before"
    return "smoother" if latest.above_s < usual else "rougher"
