"""Two meters: planted lag, offset and slope; scipy as the reference."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from steadyband.ground.errors import UsageError
from steadyband.steptest.meters import (
    MeterOffset,
    MeterSeries,
    apply_offset,
    best_lag,
    compare_meters,
    offset_to_test_meter,
)


def ride(seconds: int = 5400, seed: int = 4) -> np.ndarray:
    """An hour and a half of invented power in blocks of a minute, 80 to 260 W."""
    rng = np.random.default_rng(seed)
    return np.repeat(rng.uniform(80, 260, seconds // 60), 60) + rng.normal(0, 10, seconds)


def pair(lag: int = 0, offset: float = 4.0, slope: float = 1.02, noise: float = 2.0) -> tuple[MeterSeries, MeterSeries]:
    """Meter B = offset + slope x A, its clock `lag` seconds behind A's."""
    base, rng = ride(), np.random.default_rng(9)
    other = offset + slope * base + rng.normal(0, noise, len(base))
    return MeterSeries("trainer", 1000, base), MeterSeries("pedals", 1000 - lag, other)


@pytest.mark.parametrize("lag", [-60, -17, 0, 3, 60])
def test_the_planted_lag_is_found(lag: int) -> None:
    assert best_lag(*pair(lag))[0] == lag


@pytest.mark.parametrize(("offset", "slope"), [(0.0, 1.0), (4.0, 1.02), (-8.0, 1.05), (12.0, 0.93)])
def test_planted_offset_and_slope_lie_in_their_intervals(offset: float, slope: float) -> None:
    found = compare_meters(*pair(11, offset, slope))
    assert found.slope_range[0] <= slope <= found.slope_range[1]
    assert found.intercept_range[0] <= offset <= found.intercept_range[1]
    assert found.slope == pytest.approx(slope, abs=0.01)
    assert found.difference_range[0] < found.difference_w < found.difference_range[1]
    assert not found.narrow


def test_the_line_is_scipys() -> None:
    """Reference library: scipy 1.17 stats.theilslopes on half-minute means taken here by hand, without a lag."""
    a, b = pair()
    means = [series.power_w.reshape(-1, 30).mean(axis=1) for series in (a, b)]
    expected = stats.theilslopes(means[1], means[0], 0.95)
    found = compare_meters(a, b)
    assert (found.slope, *found.slope_range) == pytest.approx((expected.slope, expected.low_slope, expected.high_slope))
    assert found.difference_w == pytest.approx(np.median(means[1] - means[0]))
    assert len(found.means_a) == 180


def test_half_minutes_at_or_under_50_w_and_holes_are_left_out() -> None:
    """By hand: 10 minutes at 40 W are 20 half minutes; one missing second spoils its half minute."""
    a, b = pair()
    low, hole = a.power_w.copy(), b.power_w.copy()
    low[600:1200] = 40
    hole[3000] = np.nan
    found = compare_meters(MeterSeries("a", 1000, low), MeterSeries("b", 1000, hole))
    assert len(found.means_a) == 180 - 20 - 1
    assert found.means_a.min() > 50


def test_meters_that_agree_show_no_difference() -> None:
    found = compare_meters(*pair(0, 0.0, 1.0))
    assert found.difference_range[0] < 0 < found.difference_range[1]


def test_a_steady_session_says_that_its_slope_is_worth_little() -> None:
    rng = np.random.default_rng(2)
    base = 180 + rng.normal(0, 5, 3600)
    found = compare_meters(MeterSeries("a", 0, base), MeterSeries("b", 0, base + 5))
    assert found.narrow
    assert found.difference_w == pytest.approx(5)


def test_the_offset_goes_either_way() -> None:
    """By hand: B = 4 + 1.02 A, so 200 W on A are 208 on B, and 208 on B are 200 on A; coasting stays coasting."""
    found = compare_meters(*pair(0, 4.0, 1.02, 0.0))
    to_b = offset_to_test_meter(found, "pedals")
    to_a = offset_to_test_meter(found, "trainer")
    assert apply_offset(np.array([200.0, 0.0]), to_b) == pytest.approx([208, 0])
    assert apply_offset(np.array([208.0, 0.0, np.nan]), to_a)[:2] == pytest.approx([200, 0])
    assert np.isnan(apply_offset(np.array([np.nan]), to_a)[0])
    with pytest.raises(UsageError, match="trainer"):
        offset_to_test_meter(found, "watch")


def test_an_offset_never_makes_power_negative() -> None:
    assert apply_offset(np.array([3.0]), MeterOffset(-10, 1.0)).tolist() == [0.0]


def test_other_sessions_and_short_ones_are_refused() -> None:
    a, b = pair()
    other = MeterSeries("other", 1000, ride(seed=77))
    with pytest.raises(UsageError, match="correlates by only"):
        compare_meters(a, other)
    with pytest.raises(UsageError, match="no ten minutes"):
        compare_meters(a, MeterSeries("later", 90_000, b.power_w))
    weak = MeterSeries("weak", 1000, b.power_w / 6)
    with pytest.raises(UsageError, match="half minutes above 50 W"):
        compare_meters(a, weak)
