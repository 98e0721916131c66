"""Drift within a session, by hand and against references.

Reference libraries: scipy 1.17.1 `scipy.stats.theilslopes(y, x, 0.95)`; pandas 3.1.1 `Series.rolling(600).mean()`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from audit_builders import SETTINGS, make_arrays, make_rows, make_zone_set, power_rows, sets_of, wavy_ride
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage, stats

from steadyband.audit.measure.drift import (
    drift_of,
    heart_rate_drift,
    load_drift,
    load_trend,
    theil_sen,
)
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.model import Drift

DRIFT = SETTINGS.drift


def arrays_of(power: np.ndarray, heart: np.ndarray | None = None, **more: object) -> SessionArrays:
    return make_arrays(power_rows(power, heart, **more), make_zone_set())


def drift(power: np.ndarray, heart: np.ndarray | None = None, hr_ceiling: float | None = 122.0) -> Drift:
    return drift_of(arrays_of(power, heart), sets_of(make_zone_set()).one(0), hr_ceiling, DRIFT)


@given(st.lists(st.integers(0, 30), min_size=3, max_size=60))
@settings(max_examples=150, deadline=None)
def test_theil_sen_is_that_of_scipy(values: list[int]) -> None:
    y = np.array(values, float)
    x = np.arange(len(y)) / 12
    expected = stats.theilslopes(y, x, 0.95)
    found = theil_sen(x, y)
    np.testing.assert_allclose(found, (expected.slope, expected.low_slope, expected.high_slope), rtol=1e-9, atol=1e-9)


def test_theil_sen_on_uneven_places_is_that_of_scipy() -> None:
    rng = np.random.default_rng(8)
    x = np.cumsum(rng.uniform(0.1, 2.0, 40))
    y = 3 * x + rng.normal(0, 5, 40)
    expected = stats.theilslopes(y, x, 0.95)
    np.testing.assert_allclose(theil_sen(x, y), (expected.slope, expected.low_slope, expected.high_slope), rtol=1e-9)


def test_trend_of_a_creeping_load_by_hand() -> None:
    # By hand: 0.005 W more each second is 18 W an hour, in every pair of 5-min means
    slope, low, high = load_trend(150 + 0.005 * np.arange(5400), DRIFT) or (0, 0, 0)
    assert (slope, low, high) == pytest.approx((18.0, 18.0, 18.0))


@pytest.mark.parametrize(("seconds", "known"), [(600 + 899, False), (600 + 900, True)])
def test_a_trend_needs_three_full_means_after_the_warm_up(seconds: int, known: bool) -> None:
    assert (load_trend(np.full(seconds, 190.0), DRIFT) is not None) is known


def test_trend_leaves_out_the_warm_up_and_the_last_part_of_a_mean() -> None:
    load = np.concatenate((np.full(600, 50.0), np.full(900, 190.0), np.full(299, 900.0)))
    assert load_trend(load, DRIFT) == (0.0, 0.0, 0.0)


def test_load_drift_by_hand() -> None:
    # By hand: 2000 s at 150 W, then 900 s at 220 W, ceiling 212 W, no scatter. A 600-s mean of n seconds at 220 W reaches 212 W
    # where 70 n >= 62 x 600, n = 532: the first such window ends at row 2531 and begins at 1932; all to the end is covered.
    found = drift(np.concatenate((np.full(2000, 150.0), np.full(900, 220.0))))
    assert (found.load_drifted_s, found.load_longest_s, found.load_longest_start_s) == (968, 968, 1932)


def test_drifted_seconds_outside_the_longest_run_are_counted_too() -> None:
    # by hand: the first 700 s and the 68 after them, then 968 as above
    found = drift(np.concatenate((np.full(700, 220.0), np.full(2000, 150.0), np.full(900, 220.0))))
    assert (found.load_drifted_s, found.load_longest_s) == (768 + 968, 968)


def test_the_top_of_the_band_is_a_remark_and_no_drift() -> None:
    # by hand: target top 200 W, ceiling 212 W
    found = drift(np.full(1200, 205.0))
    assert (found.load_drifted_s, found.top_of_band_s) == (0, 1200)
    assert drift(np.full(1200, 199.0)).top_of_band_s == 0


def test_pauses_are_taken_out_before_the_trailing_mean() -> None:
    pause = np.zeros(1200, bool)
    pause[300:500] = True
    assert load_drift(arrays_of(np.full(1200, 220.0), pause=pause), 212.0, np.inf, DRIFT) == (1000, 1000, 0)


def test_a_session_shorter_than_the_window_has_no_drift() -> None:
    assert load_drift(arrays_of(np.full(599, 300.0)), 212.0, np.inf, DRIFT) == (0, 0, None)


def test_by_heart_rate_a_constant_load_with_ordinary_drift_is_no_zone_3_drift() -> None:
    """Ceiling 122 bpm; 118 bpm and 4 bpm an hour more (common practice, no source) pass it after an hour, unjudged by then."""
    beats = 118 + 4 * np.arange(7200) / 3600
    arrays = make_arrays(make_rows({"heart_rate_bpm": beats}), make_zone_set())
    edges = sets_of(make_zone_set(), "heart_rate").one(0)
    assert beats.max() > edges.ceiling
    assert drift_of(arrays, edges, 122.0, DRIFT).load_drifted_s == 0
    early = make_arrays(make_rows({"heart_rate_bpm": beats + 5}), make_zone_set())
    assert drift_of(early, edges, 122.0, DRIFT).load_drifted_s > 600


def test_drifted_runs_are_those_of_pandas_and_scipy() -> None:
    arrays = make_arrays(wavy_ride(9000), make_zone_set())
    means = pd.Series(arrays.load[arrays.measured]).rolling(600).mean().to_numpy()
    target = float(np.nanquantile(means, 0.9))
    reached = pd.Series(means >= target)[::-1].rolling(600, min_periods=1).max()[::-1].to_numpy().astype(bool)
    labels, count = ndimage.label(reached)
    lengths = ndimage.sum_labels(np.ones(len(means)), labels, np.arange(1, count + 1))
    found = load_drift(arrays, target, np.inf, DRIFT)
    assert count > 1
    assert found[0] == lengths.sum()
    assert found[1] == lengths.max()


def test_heart_rate_drift_by_hand() -> None:
    # By hand: 600 s of warm-up, then 1500 s at 120 bpm and 1500 s at 132 bpm on the same load: 132 / 120 - 1 = 10 %
    heart = np.concatenate((np.full(600, 100.0), np.full(1500, 120.0), np.full(1500, 132.0)))
    assert drift(np.full(3600, 190.0), heart).hr_drift_percent == pytest.approx(10.0)


def test_heart_rate_drift_counts_heart_rate_against_load() -> None:
    # By hand: heart rate up by 10 %, load up by 5 %: 1.10 / 1.05 - 1 = 4.76 %
    heart = np.concatenate((np.full(600, 100.0), np.full(1500, 120.0), np.full(1500, 132.0)))
    load = np.concatenate((np.full(2100, 180.0), np.full(1500, 189.0)))
    assert drift(load, heart).hr_drift_percent == pytest.approx(100 * (1.10 / 1.05 - 1))


@pytest.mark.parametrize(("seconds", "known"), [(600 + 2399, False), (600 + 2400, True)])
def test_heart_rate_drift_needs_forty_minutes_after_the_warm_up(seconds: int, known: bool) -> None:
    found = drift(np.full(seconds, 190.0), np.full(seconds, 120.0))
    assert (found.hr_drift_percent is not None) is known


@pytest.mark.parametrize(("second_half", "known"), [(199.9, False), (200.1, True), (244.0, False)])
def test_heart_rate_drift_needs_like_loads(second_half: float, known: bool) -> None:
    # by hand: within 10 % of 222.2 W lies 200.0 W and above, up to 244.4 W; the first half is 222.2 W
    load = np.concatenate((np.full(600 + 1500, 222.2), np.full(1500, second_half)))
    found = drift(load, np.full(len(load), 120.0)).hr_drift_percent
    assert (found is not None) is (known or second_half == 244.0)


def test_heart_rate_as_the_load_has_no_drift_against_itself() -> None:
    arrays = make_arrays(make_rows({"heart_rate_bpm": np.full(4000, 120.0)}), make_zone_set())
    assert heart_rate_drift(arrays, DRIFT) is None
    found = drift_of(arrays, sets_of(make_zone_set(), "heart_rate").one(0), 122.0, DRIFT)
    assert found.hr_above_test_s is None


def test_heart_rate_above_the_test_by_hand() -> None:
    # By hand, limit 122 bpm, ceiling 212 W: 100 s above at 190 W count, 100 s above at 250 W do not, but for the
    # 31-s mean: at row 2100 the window holds 15 s at 190 W and 16 s at 250 W, 190 + 60 x 16 / 31 = 221 W. It is under
    # 212 W while it holds 11 s or fewer at 250 W, so up to row 2095 (11 s from 2100 on): 96 s are left below.
    heart = np.full(4000, 122.0)
    heart[2000:2200] = 123.0
    power = np.full(4000, 190.0)
    power[2100:2200] = 250.0
    assert drift(power, heart).hr_above_test_s == 96


def test_heart_rate_above_is_unknown_without_heart_rate_or_limit() -> None:
    assert drift(np.full(2000, 190.0)).hr_above_test_s is None
    assert drift(np.full(2000, 190.0), np.full(2000, 150.0), None).hr_above_test_s is None
