"""Two power meters on the same session: how far apart they read (METHOD 1.7)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyband.ground.errors import UsageError
from steadyband.ground.robust import median_interval, theil_sen
from steadyband.steptest.model import FloatArray

LAG_MAX_S = 60
"""Longest difference of the two clocks that is searched (METHOD 1.7)."""
MEAN_S = 30
"""Length of the means that are compared (METHOD 1.7)."""
POWER_MIN_W = 50.0
"""Means up to this power on either meter are left out (METHOD 1.7)."""
MEANS_MIN = 20
"""Fewest means behind an interval: ten minutes above 50 W (design choice)."""
CORRELATION_MIN = 0.5
"""Correlation of 1-s power under which the two are not taken for the same session (design choice)."""
SPREAD_MIN_W = 20.0
"""Range of load (10th to 90th percentile) under which a slope says little (design choice)."""


@dataclass(frozen=True, slots=True)
class MeterSeries:
    """One-second power of one recording: row i is the Unix second `start_s + i`; NaN where missing."""

    name: str
    start_s: int
    power_w: FloatArray


@dataclass(frozen=True, slots=True)
class MeterOffset:
    """The line that turns one meter's watts into another's: other = intercept + slope x this."""

    intercept_w: float
    slope: float


@dataclass(frozen=True, slots=True)
class MeterComparison:
    """Meter B against meter A: ranges are 95 % intervals.

    `lag_s` is added to B's clock to meet A's. `difference_w` is the median of B - A; `slope` and `intercept_w` are the
    Theil-Sen line B = intercept + slope x A. `means_a` and `means_b` [n] are the 30-s means in W, in order of time.
    """

    name_a: str
    name_b: str
    lag_s: int
    correlation: float
    means_a: FloatArray
    means_b: FloatArray
    difference_w: float
    difference_range: tuple[float, float]
    slope: float
    slope_range: tuple[float, float]
    intercept_w: float
    intercept_range: tuple[float, float]
    narrow: bool


def compare_meters(a: MeterSeries, b: MeterSeries) -> MeterComparison:
    """B against A over the seconds that both measured (METHOD 1.7).

    Both are laid on one clock, B moved by the lag within 60 s at which 1-s power correlates best; 30-s means in which
    both stand above 50 W are compared. The interval of the intercept is that of the slope carried through the median.
    The intervals take the means as independent, which neighbouring half minutes are not quite: they are a little narrow.

    Raises UsageError where the two do not overlap, do not look like one session, or share too little above 50 W.
    """
    lag_s, correlation = best_lag(a, b)
    means_a, means_b = _paired_means(a, b, lag_s)
    if len(means_a) < MEANS_MIN:
        raise UsageError(
            f"expected at least {MEANS_MIN} half minutes above {POWER_MIN_W:.0f} W on both, found {len(means_a)} "
            f"({a.name}, {b.name}).",
            hint="Record both meters over a longer session.",
        )
    return _compared(a.name, b.name, lag_s, correlation, (means_a, means_b))


def offset_to_test_meter(comparison: MeterComparison, test_meter: str) -> MeterOffset:
    """The offset that turns watts of the other meter into watts of the one the test was done on.

    `test_meter` is `name_a` or `name_b` of the comparison; raises UsageError for any other name, or a flat line.
    """
    if test_meter == comparison.name_b:
        return MeterOffset(comparison.intercept_w, comparison.slope)
    if test_meter != comparison.name_a:
        raise UsageError(
            f"expected the test's meter to be {comparison.name_a!r} or {comparison.name_b!r}, found {test_meter!r}."
        )
    if comparison.slope <= 0:
        raise UsageError(f"the line between the two meters does not rise (slope {comparison.slope:.2f}).")
    return MeterOffset(-comparison.intercept_w / comparison.slope, 1 / comparison.slope)


def apply_offset(power_w: FloatArray, offset: MeterOffset) -> FloatArray:
    """Power [any shape, W] as the other meter would have read it. Zero stays zero: coasting is coasting on both."""
    moved = np.maximum(offset.intercept_w + offset.slope * power_w, 0.0)
    result: FloatArray = np.where(power_w == 0, 0.0, moved)
    return result


def best_lag(a: MeterSeries, b: MeterSeries) -> tuple[int, float]:
    """(lag [s] added to B's clock, Pearson correlation there) of 1-s power, best within +-60 s (METHOD 1.7).

    Raises UsageError where the two never overlap by ten minutes or never correlate by 0.5.
    """
    found = [(_correlation(*_overlap(a, b, lag)), -abs(lag), lag) for lag in range(-LAG_MAX_S, LAG_MAX_S + 1)]
    correlation, _, lag = max(found)
    if correlation == -np.inf:
        raise UsageError(
            f"expected two recordings of the same session, found no ten minutes that {a.name} and {b.name} share.",
            hint="Check the dates and clocks of the two devices.",
        )
    if correlation < CORRELATION_MIN:
        raise UsageError(
            f"expected two recordings of the same session; power of {a.name} and {b.name} correlates by only "
            f"{correlation:.2f} at best within {LAG_MAX_S} s of each other.",
            hint="Check that both were recorded in the same session and that their clocks agree within a minute.",
        )
    return lag, correlation


def _compared(
    name_a: str, name_b: str, lag_s: int, correlation: float, means: tuple[FloatArray, FloatArray]
) -> MeterComparison:
    means_a, means_b = means
    slope, *slope_range = theil_sen(means_a, means_b)
    difference, *difference_range = median_interval(means_b - means_a)
    ends = [float(np.median(means_b - limit * means_a)) for limit in slope_range]
    low, high = np.quantile(means_a, [0.1, 0.9])
    return MeterComparison(
        name_a=name_a,
        name_b=name_b,
        lag_s=lag_s,
        correlation=correlation,
        means_a=means_a,
        means_b=means_b,
        difference_w=difference,
        difference_range=(difference_range[0], difference_range[1]),
        slope=slope,
        slope_range=(slope_range[0], slope_range[1]),
        intercept_w=float(np.median(means_b - slope * means_a)),
        intercept_range=(min(ends), max(ends)),
        narrow=bool(high - low < SPREAD_MIN_W),
    )


def _overlap(a: MeterSeries, b: MeterSeries, lag_s: int) -> tuple[FloatArray, FloatArray]:
    shift = b.start_s + lag_s - a.start_s
    first = max(shift, 0)
    last = max(min(len(a.power_w), len(b.power_w) + shift), first)
    return a.power_w[first:last], b.power_w[first - shift : last - shift]


def _correlation(x: FloatArray, y: FloatArray) -> float:
    both = np.isfinite(x) & np.isfinite(y)
    if np.count_nonzero(both) < MEANS_MIN * MEAN_S:
        return -np.inf
    x, y = x[both] - x[both].mean(), y[both] - y[both].mean()
    scale = float(np.sqrt(np.sum(x**2) * np.sum(y**2)))
    return float(np.sum(x * y)) / scale if scale > 0 else -1.0


def _paired_means(a: MeterSeries, b: MeterSeries, lag_s: int) -> tuple[FloatArray, FloatArray]:
    x, y = _overlap(a, b, lag_s)
    bins = len(x) // MEAN_S
    blocks = [values[: bins * MEAN_S].reshape(bins, MEAN_S).mean(axis=1) for values in (x, y)]
    kept = (blocks[0] > POWER_MIN_W) & (blocks[1] > POWER_MIN_W)
    return blocks[0][kept], blocks[1][kept]
