"""Robust lines against scipy and against worked values."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from steadyband.ground.robust import median_interval, theil_sen


@pytest.mark.parametrize("seed", range(6))
def test_theil_sen_is_scipys(seed: int) -> None:
    """Reference library: scipy 1.17 stats.theilslopes(y, x, 0.95), with ties in x and in y."""
    rng = np.random.default_rng(seed)
    x = np.round(rng.uniform(100, 250, 60), 0 if seed % 2 else 2)
    y = np.round(5 + 1.02 * x + rng.normal(0, 4, 60), 0 if seed % 3 else 3)
    expected = stats.theilslopes(y, x, 0.95)
    assert theil_sen(x, y) == pytest.approx((expected.slope, expected.low_slope, expected.high_slope), rel=1e-12)


def test_theil_sen_of_one_x_is_refused() -> None:
    with pytest.raises(ValueError, match="two different"):
        theil_sen(np.array([3.0, 3.0]), np.array([1.0, 2.0]))


def test_median_interval_by_hand() -> None:
    """By hand: n = 25, 12.5 - 1.96 x 5 / 2 = 7.6, so the 8th and the 18th value of 1..25 (0-based 7 and 17)."""
    assert median_interval(np.arange(25.0, 0.0, -1)) == (13.0, 8.0, 18.0)


def test_median_interval_covers() -> None:
    """Common practice: a 95 % interval holds the truth in about 95 % of 2,000 samples; 93.5-97.5 leaves three sd of the count."""
    rng = np.random.default_rng(7)
    found = [median_interval(rng.normal(3.0, 2.0, 40)) for _ in range(2000)]
    assert 0.935 <= np.mean([low <= 3.0 <= high for _, low, high in found]) <= 0.975
