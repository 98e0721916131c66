"""The tabular CUSUM chart against three handbooks, and the block chart's error rates by simulation."""

from __future__ import annotations

import numpy as np
import pytest

from steadyband.ground.settings import BlockSettings
from steadyband.review.chart import lagged_reference, tabular_cusum

LIMITS = BlockSettings()

# Published: Montgomery & Runger, Applied Statistics and Probability for Engineers, Table 16-8 (SOURCES S6, read).
CONCENTRATION = (
    102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4,
    97.2, 101.0,
)  # fmt: skip
UPPER = (2, 0, 0, 0, 2, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0)
LOWER = (0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0)
# Published: Montgomery, Introduction to Statistical Quality Control, Example 9.1 (SOURCES S6, corroborated).
EXAMPLE_9_1 = (
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08, 9.37, 10.62, 10.31,
    8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52,
)  # fmt: skip
# Published: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 (SOURCES S6, corroborated).
NIST = (
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150, 328.325,
    327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
)  # fmt: skip


def test_table_16_8() -> None:
    sums, signals = tabular_cusum(np.array(CONCENTRATION), 99.0, 1.0, (10.0, 10.0))
    assert sums.upper == pytest.approx(UPPER, abs=0.05)
    assert sums.lower == pytest.approx(LOWER, abs=0.05)
    assert signals == ()


def test_example_9_1() -> None:
    _, signals = tabular_cusum(np.array(EXAMPLE_9_1), 10.0, 0.5, (5.0, 5.0))
    first = signals[0]
    assert (first.side, first.at + 1) == ("up", 29)
    assert first.total == pytest.approx(5.28, abs=0.02)
    assert first.at - first.began + 1 == 7  # published: 7 periods, so the shift began after sample 22
    assert first.began + 1 == 23


def test_nist_example() -> None:
    _, signals = tabular_cusum(np.array(NIST), 325.0, 0.3175, (4.1959, 4.1959))
    first = signals[0]
    assert (first.side, first.at + 1) == ("up", 14)
    assert first.total == pytest.approx(4.94, abs=0.02)


def test_the_sums_are_symmetric_and_do_not_depend_on_the_level() -> None:
    values = np.array(EXAMPLE_9_1)
    sums, _ = tabular_cusum(values, 10.0, 0.5)
    turned, _ = tabular_cusum(20.0 - values, 10.0, 0.5)
    moved, _ = tabular_cusum(values + 300, 310.0, 0.5)
    assert turned.upper == pytest.approx(sums.lower)
    assert moved.upper == pytest.approx(sums.upper)


def test_a_signal_sets_the_sums_back() -> None:
    _, signals = tabular_cusum(np.full(6, 2.0), 0.0, 0.5, (4.0, 4.0))
    # By hand: each value adds 1.5; 1.5, 3.0, 4.5 > 4 at the third, then again from 0.
    assert [(item.at, item.began, item.total) for item in signals] == [(2, 0, 4.5), (5, 3, 4.5)]


def test_nothing_in_nothing_out() -> None:
    sums, signals = tabular_cusum(np.empty(0), 0.0, 1.0)
    assert (len(sums.upper), signals) == (0, ())


def test_the_reference_leaves_the_latest_values_out() -> None:
    mean, sd = lagged_reference(np.arange(20.0), 4, 6)
    # By hand: the first four are 0..3 (mean 1.5, SD sqrt(5 / 3)); value 12 is held against 0..5 (mean 2.5).
    assert np.isnan(mean[:4]).all()
    assert (mean[4], mean[9], mean[12]) == (1.5, 1.5, 2.5)
    assert sd[4] == pytest.approx((5 / 3) ** 0.5)


def signals_over(values: np.ndarray) -> list[tuple[str, int]]:
    """The block chart over one series: (side, session) of each signal."""
    first = LIMITS.reference_sessions
    mean, sd = lagged_reference(values, first, LIMITS.reference_lag)
    spread = np.maximum(sd, LIMITS.sd_floor)[first:]
    limits = (LIMITS.creep_sds * spread, LIMITS.fall_sds * spread)
    _, found = tabular_cusum(values[first:], mean[first:], LIMITS.allowance_sds * spread, limits)
    return [(item.side, item.at + first) for item in found]


@pytest.mark.parametrize("sd", [0.01, 0.02, 0.03])
def test_a_steady_athlete_raises_fewer_than_one_false_signal_in_100_sessions(sd: float) -> None:
    """Simulation, seeded: independent sessions about 0.95 of the target top; both sides counted."""
    rng = np.random.default_rng(6)
    counts = [len(signals_over(0.95 + sd * rng.normal(size=100))) for _ in range(250)]
    assert np.mean(counts) < 1


@pytest.mark.parametrize("sd", [0.01, 0.02, 0.03])
def test_a_creep_of_4_percent_is_found_within_10_sessions_in_80_percent(sd: float) -> None:
    """Simulation, seeded: 20 steady sessions, then the level is 0.04 higher."""
    rng = np.random.default_rng(7)
    found = 0
    for _ in range(250):
        values = 0.95 + sd * rng.normal(size=30)
        values[20:] += 0.04
        found += any(side == "up" and at >= 20 for side, at in signals_over(values))
    assert found / 250 >= 0.8
