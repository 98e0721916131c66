"""The tabular CUSUM chart: pure formulas over arrays (SOURCES S6)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Side = Literal["up", "down"]


@dataclass(frozen=True, slots=True)
class Cusum:
    """Both sums after every value [n], in units of the values, and how many values each run above zero has lasted."""

    upper: FloatArray
    lower: FloatArray
    upper_run: IntArray
    lower_run: IntArray


@dataclass(frozen=True, slots=True)
class Signal:
    """A sum beyond its limit: at which value (0-based), and at which value its run above zero began."""

    side: Side
    at: int
    began: int
    total: float


def tabular_cusum(
    values: FloatArray,
    target: FloatArray | float,
    allowance: FloatArray | float,
    limits: tuple[FloatArray | float, FloatArray | float] = (np.inf, np.inf),
) -> tuple[Cusum, tuple[Signal, ...]]:
    """Tabular CUSUM (Montgomery & Runger, Applied Statistics and Probability for Engineers, 16-10; SOURCES S6).

    C+_i = max(0, x_i - (target + K) + C+_(i-1)) and C-_i = max(0, (target - K) - x_i + C-_(i-1)), both from 0.
    `values` x [n], `target` and `allowance` K [scalar or n], `limits` (H up, H down) [scalar or n], all in one unit. A
    sum beyond its limit is a signal; both sums then start again from 0 after that value. Returns the sums, before they
    are set back, and the signals in order.
    """
    x = np.asarray(values, dtype=np.float64)
    count = len(x)
    mean, slack, high, low = (np.broadcast_to(item, count) for item in (target, allowance, *limits))
    sums, runs = np.zeros((2, count)), np.zeros((2, count), dtype=np.int64)
    signals: list[Signal] = []
    last, length = np.zeros(2), np.zeros(2, dtype=np.int64)
    for i in range(count):
        step = np.array([x[i] - (mean[i] + slack[i]), (mean[i] - slack[i]) - x[i]])
        last = np.maximum(0.0, last + step)  # Montgomery & Runger, equations 16-20 and 16-21 (numbers from memory)
        length = np.where(last > 0, length + 1, 0)
        sums[:, i], runs[:, i] = last, length
        found = _signal(i, last, length, (float(high[i]), float(low[i])))
        if found:
            signals.append(found)
            last, length = np.zeros(2), np.zeros(2, dtype=np.int64)
    return Cusum(sums[0], sums[1], runs[0], runs[1]), tuple(signals)


def _signal(at: int, sums: FloatArray, runs: IntArray, limits: tuple[float, float]) -> Signal | None:
    for side, total, run, limit in zip(("up", "down"), sums, runs, limits, strict=True):
        if total > limit:
            return Signal("up" if side == "up" else "down", at, at - int(run) + 1, float(total))
    return None


def lagged_reference(values: FloatArray, first: int, lag: int) -> tuple[FloatArray, FloatArray]:
    """Mean and SD (n - 1) that each value is held against [n], NaN for the first `first` values.

    Value i is held against the values before the latest `lag` ones, but never fewer than the first `first`: a creep of
    up to `lag` values cannot move its own reference, and a steady series gets a better one with time.
    Source: METHOD 10, SOURCES S6.
    """
    x = np.asarray(values, dtype=np.float64)
    mean, sd = np.full(len(x), np.nan), np.full(len(x), np.nan)
    for i in range(first, len(x)):
        known = x[: max(first, i - lag)]
        mean[i], sd[i] = known.mean(), known.std(ddof=1)
    return mean, sd
