"""False signals of the block drift charts for a steady athlete, and how often a creep is found (METHOD 6).

    python benchmarks/block_drift.py [--series 1000] [--lag1 0.3]

Invented sessions: mean load over target top is 0.95 plus normal scatter of the given SD from session to session,
independent, or with the given correlation from one to the next. Two charts go over the same series through the code
the review uses: the chart as METHOD 6 first words it (k 0.5, h 5 on both sides, reference the first 8 sessions) and
the one with the settings of the package. Printed are, by SD:

- false: signals, up and down, over 100 sessions of a steady athlete;
- found: share of series in which the level rises by 0.04 after session 8, 20 or 40 and the rising sum signals within
  the next 10 sessions;
- trend: times that a new rise is raised, over 100 steady sessions at four a week, by the trend of the last 28 days
  looked at every Sunday; and the share of blocks of four weeks in which a rise of 1 % a week is raised.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import dataclasses

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.drift import theil_sen
from steadyband.ground.settings import BlockSettings
from steadyband.review.chart import Signal, lagged_reference, tabular_cusum

FloatArray = NDArray[np.float64]
LEVEL, CREEP, WITHIN, SEED = 0.95, 0.04, 10, 20260420
SDS = (0.01, 0.02, 0.03, 0.04, 0.05)
STARTS = (8, 20, 40)
SESSIONS = 100
A_WEEK = (0, 2, 4, 6)  # days of the week with a session
CHOSEN = BlockSettings()
CHARTS = {
    "as first worded": dataclasses.replace(CHOSEN, creep_sds=5.0, fall_sds=5.0, reference_lag=10**6),
    "chosen": CHOSEN,
}


def scatter(rng: np.random.Generator, count: int, sd: float, lag1: float) -> FloatArray:
    """`count` values of SD `sd`, each correlated with the one before by `lag1`."""
    values = rng.normal(size=count)
    for i in range(1, count):
        values[i] = lag1 * values[i - 1] + np.sqrt(1 - lag1**2) * values[i]
    return sd * values


def signals(values: FloatArray, limits: BlockSettings) -> tuple[int, tuple[Signal, ...]]:
    """The first charted session and the chart's signals, counted from it."""
    first = limits.reference_sessions
    mean, sd = lagged_reference(values, first, limits.reference_lag)
    spread = np.maximum(sd, limits.sd_floor)[first:]
    high, low = limits.creep_sds * spread, limits.fall_sds * spread
    return first, tabular_cusum(values[first:], mean[first:], limits.allowance_sds * spread, (high, low))[1]


def false_signals(rng: np.random.Generator, sd: float, lag1: float, limits: BlockSettings, series: int) -> float:
    """Signals over 100 sessions of a steady athlete, the mean of many."""
    counts = [len(signals(LEVEL + scatter(rng, SESSIONS, sd, lag1), limits)[1]) for _ in range(series)]
    return float(np.mean(counts))


def found(rng: np.random.Generator, sd: float, lag1: float, limits: BlockSettings, start: int, series: int) -> float:
    """Share of series whose rise after `start` sessions is signalled within 10."""
    hits = 0
    for _ in range(series):
        values = LEVEL + scatter(rng, start + WITHIN, sd, lag1)
        values[start:] += CREEP
        first, raised = signals(values, limits)
        hits += any(item.side == "up" and first + item.at >= start for item in raised)
    return hits / series


def raised(days: FloatArray, values: FloatArray, limits: BlockSettings) -> bool:
    """Whether the trend of one block is raised, by the rule of the review."""
    if len(values) < limits.trend_sessions:
        return False
    slope, low, _ = theil_sen(days / 7, values)
    return bool(low > 0 and slope * (days[-1] - days[0]) / 7 >= limits.trend_rise)


def false_raises(rng: np.random.Generator, sd: float, lag1: float, limits: BlockSettings, series: int) -> float:
    """Raises that were not there the Sunday before, over 100 steady sessions at four a week."""
    weeks = SESSIONS // len(A_WEEK)
    days = np.array([7.0 * week + day for week in range(weeks) for day in A_WEEK])
    count = 0
    for _ in range(series):
        values, before = LEVEL + scatter(rng, len(days), sd, lag1), False
        for week in range(1, weeks + 1):
            inside = (days < 7 * week) & (days >= 7 * week - limits.trend_days)
            now = raised(days[inside], values[inside], limits)
            count += now and not before
            before = now
    return count / series


def power(rng: np.random.Generator, sd: float, lag1: float, limits: BlockSettings, series: int) -> float:
    """Share of four-week blocks in which a rise of 1 % a week is raised."""
    days = np.array([7.0 * week + day for week in range(4) for day in A_WEEK])
    hits = [raised(days, LEVEL + 0.01 * days / 7 + scatter(rng, 16, sd, lag1), limits) for _ in range(series)]
    return float(np.mean(hits))


def main() -> None:
    """Prints one line a chart and SD, then one a SD for the trend."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--series", type=int, default=1000, help="series behind each number")
    parser.add_argument("--lag1", type=float, default=0.0, help="correlation of one session with the next")
    given = parser.parse_args()
    print(f"{'chart':16} {'SD':>4} {'false/100':>9}  found after 8, 20, 40 sessions")
    for name, limits in CHARTS.items():
        for sd in SDS:
            rng = np.random.default_rng(SEED)
            false = false_signals(rng, sd, given.lag1, limits, given.series)
            shares = [found(rng, sd, given.lag1, limits, start, given.series) for start in STARTS]
            print(f"{name:16} {sd:4.0%} {false:9.2f}  " + " ".join(f"{share:4.0%}" for share in shares), flush=True)
    for sd in SDS[:3]:
        rng = np.random.default_rng(SEED)
        false = false_raises(rng, sd, given.lag1, CHOSEN, max(20, given.series // 4))
        hit = power(rng, sd, given.lag1, CHOSEN, given.series)
        print(f"{'trend':16} {sd:4.0%} {false:9.2f}  1 % a week raised in {hit:4.0%}", flush=True)


if __name__ == "__main__":
    main()
