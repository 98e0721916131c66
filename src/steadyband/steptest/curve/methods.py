"""Other published readings of the same curve, shown beside the default and never mixed into it (METHOD 1.2).

Each takes loads [n + 1] (the baseline at 0, then the steps, W or m/s), raw and fitted lactate [n + 1] in mmol/L, and
returns a load, or None where the reading is not reached, was passed already at the baseline, or has too few points.
"""

from __future__ import annotations

import numpy as np

from steadyband.steptest.curve.monotone import TINY, crossing
from steadyband.steptest.model import FloatArray, MethodReading

MIN_LOG_LOG_STEPS = 5
"""Steps a breakpoint needs: two lines have four parameters, and the fifth point is the first that can contradict."""


def baseline_plus_half(loads: FloatArray, raw: FloatArray, fitted: FloatArray) -> float | None:
    """Load where the monotone curve is 0.5 mmol/L above the baseline sample. Source: SOURCES S2 (Pallares 2016)."""
    return _reach(loads, fitted, raw[0] + 0.5)


def baseline_plus_one(loads: FloatArray, raw: FloatArray, fitted: FloatArray) -> float | None:
    """Load where the monotone curve is 1.0 mmol/L above the baseline sample. Source: SOURCES S2 (Heuberger 2018)."""
    return _reach(loads, fitted, raw[0] + 1.0)


def fixed_two(loads: FloatArray, fitted: FloatArray) -> float | None:
    """Load where the monotone curve reaches 2.0 mmol/L. Source: common practice, no single source (METHOD 1.2)."""
    return _reach(loads, fitted, 2.0)


def log_log_breakpoint(loads: FloatArray, lactate: FloatArray) -> float | None:
    """Load where two straight lines in log lactate against log load meet, the second the steeper.

    Every split of the steps into two runs of two or more is tried, a least-squares line fitted to each run, and of the
    splits whose lines meet between the runs the one with the smallest sum of squares taken. The baseline has no
    logarithm of its load and stays out. Args: loads [n] > 0 rising; lactate [n] > 0.
    Source: SOURCES S3 (Beaver, Wasserman and Whipp 1985).
    """
    if len(loads) < MIN_LOG_LOG_STEPS:
        return None
    x, y = np.log(loads), np.log(lactate)
    fits = [fit for split in range(2, len(x) - 1) if (fit := _two_lines(x, y, split))]
    return float(np.exp(min(fits)[1])) if fits else None


def other_readings(loads: FloatArray, raw: FloatArray, fitted: FloatArray) -> tuple[MethodReading, ...]:
    """All other published readings of one test, in the order shown."""
    return (
        MethodReading("baseline + 0.5 mmol/L", baseline_plus_half(loads, raw, fitted), "S2"),
        MethodReading("baseline + 1.0 mmol/L", baseline_plus_one(loads, raw, fitted), "S2"),
        MethodReading("log-log breakpoint", log_log_breakpoint(loads[1:], raw[1:]), "S3"),
        MethodReading("fixed 2.0 mmol/L", fixed_two(loads, fitted), "common practice"),
    )


def _reach(loads: FloatArray, fitted: FloatArray, level: float) -> float | None:
    if fitted[0] >= level - TINY:
        return None
    load = crossing(loads, fitted[None, :], np.array([level]))[0]
    return float(load) if np.isfinite(load) else None


def _two_lines(x: FloatArray, y: FloatArray, split: int) -> tuple[float, float] | None:
    """(sum of squares, log load of the meeting point) of the lines through x[:split] and x[split:]."""
    left, right = np.polyfit(x[:split], y[:split], 1), np.polyfit(x[split:], y[split:], 1)
    if right[0] - left[0] <= TINY:
        return None
    meet = (left[1] - right[1]) / (right[0] - left[0])
    if not x[split - 1] - TINY <= meet <= x[split] + TINY:
        return None
    misfit = np.sum((y[:split] - np.polyval(left, x[:split])) ** 2) + np.sum(
        (y[split:] - np.polyval(right, x[split:])) ** 2
    )
    return float(misfit), float(meet)
