"""Surges: planted by hand, and against regions labelled by scipy.

Reference library: scipy 1.17.1, `scipy.ndimage.label(surge_load >= release)` and
`scipy.ndimage.sum_labels(surge_load >= ceiling, labels, index)`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from audit_builders import SETTINGS, make_arrays, make_rows, make_zone_set, power_rows, sets_of, wavy_ride
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from steadyband.audit.measure.surges import carry_over, find_surges, length_histogram, surge_runs
from steadyband.audit.model import Surges
from steadyband.steptest.model import HrLimits


def surges_of(power: np.ndarray, **more: object) -> Surges:
    zone_set = make_zone_set()
    edges = sets_of(zone_set).one(0)
    found = find_surges(make_arrays(power_rows(power, **more), zone_set), edges, SETTINGS.surges)
    assert found is not None
    return found


def planted(*surges: tuple[int, int, float], length: int = 3600, base: float = 150.0) -> np.ndarray:
    """`base` watts throughout, but (start, seconds, watts)."""
    power = np.full(length, base)
    for start, seconds, watts in surges:
        power[start : start + seconds] = watts
    return power


def test_one_planted_surge_by_hand() -> None:
    found = surges_of(planted((1000, 7, 300.0)))
    # By hand, base 150 W, seven seconds at 300 W, release 200 W, ceiling 212 W. The 3-s mean is
    # (150 + 150 + 300) / 3 = 200 one second before and after, (150 + 300 + 300) / 3 = 250 on the first and last
    # second, 300 on the five between: at or above 200 for 9 s, at or above 212 for 7 s.
    (surge,) = found.events
    assert (surge.start_s, surge.length_s, surge.seconds_above) == (999, 9, 7)
    assert surge.highest == 300.0
    assert surge.mean == pytest.approx((2 * 200 + 2 * 250 + 5 * 300) / 9)
    assert surge.work_above_j == 7 * (300 - 212)
    assert surge.gap_before_s is None
    assert surge.micro
    assert (found.count, found.micro, found.sustained) == (1, 1, 0)
    assert found.seconds_above == 7
    assert found.share_above == 7 / 3600
    assert found.work_above_kj == pytest.approx(7 * 88 / 1000)
    assert found.per_hour == 1.0


@pytest.mark.parametrize(("seconds", "count"), [(4, 0), (5, 1)])
def test_five_seconds_above_make_a_surge(seconds: int, count: int) -> None:
    assert surges_of(planted((1000, seconds, 300.0))).count == count


@pytest.mark.parametrize(("seconds", "micro"), [(60, 1), (61, 0)])
def test_sixty_seconds_above_are_the_longest_micro_surge(seconds: int, micro: int) -> None:
    found = surges_of(planted((1000, seconds, 300.0)))
    assert (found.micro, found.sustained) == (micro, 1 - micro)


def test_between_release_and_ceiling_a_surge_goes_on() -> None:
    # By hand: 6 s at 300 W, 20 s at 205 W (3-s mean never under 200), 6 s at 300 W: one surge. At 195 W: two.
    one = planted((1000, 6, 300.0), (1006, 20, 205.0), (1026, 6, 300.0))
    two = planted((1000, 6, 300.0), (1006, 20, 195.0), (1026, 6, 300.0))
    assert surges_of(one).count == 1
    # the 3-s mean at row 1006 is (300 + 205 + 205) / 3 = 236.7, so one second after the first peak and one before the
    # second still lie above: 6 + 1 + 1 + 6, and one at the far end each does not ((150 + 150 + 300) / 3 = 200)
    assert surges_of(one).events[0].seconds_above == 14
    assert surges_of(two).count == 2


def test_gap_before_is_counted_from_the_end_of_the_surge_before() -> None:
    found = surges_of(planted((1000, 7, 300.0), (1100, 7, 300.0)))
    # by hand: rows 999..1007 and 1099..1107 are at or above the release; 1099 - 1008 = 91
    assert [event.gap_before_s for event in found.events] == [None, 91]


def test_the_pieces_above_may_be_split_within_a_run() -> None:
    # by hand: 3 + 3 s at 260 W with 3 s at 200 W between (the 3-s mean stays at or above the release)
    power = planted((1000, 3, 260.0), (1003, 3, 200.0), (1006, 3, 260.0), base=200.0)
    # seconds at or above 212 (3-s mean): 999 (220), 1000, 1001, 1002, 1003 (220), 1005 (220), ..., 1009 (220): 10
    (event,) = surges_of(power).events
    assert event.seconds_above == 10
    assert event.length_s == 3600


def test_a_pause_ends_a_surge() -> None:
    pause = np.zeros(3600, bool)
    pause[1010:1040] = True
    found = surges_of(planted((1000, 50, 300.0)), pause=pause)
    assert [(event.start_s, event.seconds_above) for event in found.events] == [(999, 10), (1040, 10)]


def test_a_new_track_segment_ends_a_surge_without_a_gap() -> None:
    found = surges_of(planted((1000, 20, 300.0)), breaks=(1010,))
    assert [event.start_s for event in found.events] == [999, 1010]


def test_a_missing_second_ends_a_surge() -> None:
    power = planted((1000, 21, 300.0))
    power[1010] = np.nan
    assert [event.start_s for event in surges_of(power).events] == [999, 1011]


def test_regions_are_those_that_scipy_labels() -> None:
    rng = np.random.default_rng(4)
    load = pd.Series(rng.normal(195, 25, 20000)).rolling(5, min_periods=1).mean().to_numpy()
    labels, count = ndimage.label(load >= 200)
    index = np.arange(1, count + 1)
    above = ndimage.sum_labels(load >= 212, labels, index).astype(int)
    places = ndimage.find_objects(labels)
    expected = [(places[k][0].start, places[k][0].stop, above[k]) for k in range(count) if above[k] >= 5]
    found = surge_runs(load, np.zeros(len(load), np.int32), 200, 212, 5)
    assert len(expected) > 50
    assert list(zip(*(part.tolist() for part in found), strict=True)) == expected


def test_speed_has_no_work_and_an_open_ceiling_or_heart_rate_no_surges() -> None:
    speed = np.full(3600, 2.5)
    speed[1000:1010] = 4.0
    by_speed = make_zone_set(sport="running", unit="min/km", floor=2.4, target_top=2.8, ceiling=3.0)
    arrays = make_arrays(make_rows({"speed_mps": speed}), by_speed, "running")
    found = find_surges(arrays, sets_of(by_speed).one(0), SETTINGS.surges)
    assert found is not None
    assert found.count == 1
    assert found.work_above_kj is None
    assert found.events[0].work_above_j is None
    opened = make_zone_set(ceiling=None)
    arrays = make_arrays(power_rows(planted((1000, 60, 300.0))), opened)
    assert find_surges(arrays, sets_of(opened).one(0), SETTINGS.surges) is None
    by_hr = make_zone_set(hr=HrLimits(115.0, 120.0, 122.0))
    arrays = make_arrays(make_rows({"heart_rate_bpm": np.full(3600, 130.0)}), by_hr)
    assert find_surges(arrays, sets_of(by_hr, "heart_rate").one(0), SETTINGS.surges) is None


def test_histogram_edges_are_inclusive() -> None:
    assert length_histogram(np.array([5, 10, 11, 60, 61, 301])) == (
        (10, 2),
        (20, 1),
        (30, 0),
        (60, 1),
        (120, 1),
        (300, 0),
        (None, 1),
    )


def test_carry_over_by_hand() -> None:
    # By hand: 100 W above for tau = 900 s gives 100 x 900 x (1 - 1/e); 900 s later 1/e of that is left.
    load = np.full(3600, 100.0)
    load[100:1000] = 312.0
    found = carry_over(load, 212.0, 900.0)
    full = 100 * 900 * (1 - np.exp(-1))
    assert found[99] == 0
    assert found[999] == pytest.approx(full)
    assert found[1899] == pytest.approx(full / np.e)


def test_carry_over_of_a_steady_excess_ends_at_excess_times_tau() -> None:
    # by hand: x' = 0 where x = excess x tau = 10 x 900; a day of it is long enough, and long enough to overflow exp()
    found = carry_over(np.full(86400, 222.0), 212.0, 900.0)
    assert found[-1] == pytest.approx(9000.0)
    assert np.all(np.diff(found) >= -1e-9)


def test_carry_over_takes_missing_seconds_for_none() -> None:
    assert np.all(carry_over(np.full(10, np.nan), 212.0, 900.0) == 0)
    assert len(carry_over(np.empty(0), 212.0, 900.0)) == 0


@given(st.integers(0, 10_000), st.integers(1, 5))
@settings(max_examples=25, deadline=None)
def test_seconds_and_counts_hang_together(seed: int, minutes: int) -> None:
    rows = wavy_ride(60 * minutes + 200, seed)
    zone_set = make_zone_set()
    found = find_surges(make_arrays(rows, zone_set), sets_of(zone_set).one(0), SETTINGS.surges)
    assert found is not None
    assert found.micro + found.sustained == found.count == len(found.events) == sum(found.by_cause.values())
    assert sum(count for _, count in found.lengths) == found.count
    assert all(5 <= event.seconds_above <= event.length_s for event in found.events)
    assert all((event.gap_before_s or 1) >= 1 for event in found.events)
    assert all(event.highest >= 212 and event.mean >= 200 for event in found.events)
