"""Surges: planted by hand, and against regions labelled by scipy.

Reference library: scipy 1.17.1, `scipy.ndimage.label(mean >= release)` and `scipy.ndimage.sum_labels(..., labels, index)`;
pandas 2.3, `Series.rolling(11, center=True).mean()`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from audit_builders import SETTINGS, make_arrays, make_rows, make_zone_set, power_rows, sets_of, wavy_ride
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from steadyband.audit.measure.surges import find_surges, gathered_above, length_histogram
from steadyband.audit.model import Surges
from steadyband.steptest.model import HrLimits


def surges_of(power: np.ndarray, **more: object) -> Surges:
    zone_set = make_zone_set()
    edges = sets_of(zone_set).one(0)
    found = find_surges(make_arrays(power_rows(power, **more), zone_set), edges, SETTINGS)
    assert found is not None
    return found


def planted(*surges: tuple[int, int, float], length: int = 3600, base: float = 150.0) -> np.ndarray:
    """`base` watts throughout, but (start, seconds, watts)."""
    power = np.full(length, base)
    for start, seconds, watts in surges:
        power[start : start + seconds] = watts
    return power


def test_one_planted_surge_by_hand() -> None:
    found = surges_of(planted((1000, 11, 310.0), base=145.0))
    # By hand, base 145 W, eleven seconds at 310 W, release 200 W, ceiling 212 W. The mean of the 11 s around a second climbs by
    # 165 / 11 = 15 W a second from 145 W at row 994 to 310 W at row 1005 and falls again. At or above 200 W from 205 W, k = 4, to
    # 205 W: 2 x 7 + 1 = 15 rows from 998. At or above 212 W from 220 W, k = 5: 13 rows. Above the ceiling stand
    # 2 x (8 + 23 + 38 + 53 + 68 + 83) + 98 = 644 J.
    (surge,) = found.events
    assert (surge.start_s, surge.length_s, surge.seconds_above) == (998, 15, 13)
    assert surge.highest == pytest.approx(310.0)
    assert surge.mean == pytest.approx((2 * (205 + 220 + 235 + 250 + 265 + 280 + 295) + 310) / 15)
    assert surge.work_above_j == pytest.approx(644)
    assert surge.dose_s == pytest.approx(644 / 212)
    assert surge.gap_before_s is None
    assert surge.micro
    assert (found.count, found.micro, found.sustained) == (1, 1, 0)
    assert found.seconds_above == 13
    assert found.share_above == 13 / 3600
    assert found.work_above_kj == pytest.approx(0.644)
    assert found.per_hour == 1.0
    assert found.above_per_hour_s == pytest.approx(644 / 212)
    assert found.explained_per_hour_s == 0.0  # its calm minutes do not scatter at all


@pytest.mark.parametrize(("watts", "count"), [(254.9, 0), (256.0, 1)])
def test_a_second_and_a_half_of_the_ceiling_makes_a_surge(watts: float, count: int) -> None:
    # by hand: 1.5 s of 212 W are 318 J. From 190 W the 11-s mean climbs by 6 W a second to 256 W; above 212 W stand
    # 2 x (2 + 8 + 14 + 20 + 26 + 32 + 38) + 44 = 324 J. By 5.9 W to 254.9 W:
    # 2 x (1.6 + 7.5 + 13.4 + 19.3 + 25.2 + 31.1 + 37) + 42.9 = 313.1 J.
    assert surges_of(planted((1000, 11, watts), base=190.0)).count == count


@pytest.mark.parametrize(("seconds", "micro"), [(60, 1), (61, 0)])
def test_sixty_seconds_above_are_the_longest_micro_surge(seconds: int, micro: int) -> None:
    # by hand: from 150 W to 274 W the 11-s mean reaches 212 W with six of eleven seconds (217.6 W; with five 206.4 W), so
    # that it stands at or above the ceiling for just as long as the block
    found = surges_of(planted((1000, seconds, 274.0)))
    assert [event.seconds_above for event in found.events] == [seconds]
    assert (found.micro, found.sustained) == (micro, 1 - micro)


def test_between_release_and_ceiling_a_surge_goes_on() -> None:
    # by hand: two blocks of 20 s at 300 W with 30 s between them at 205 W (the mean never falls under 200 W) or at 195 W
    one = planted((1000, 20, 300.0), (1020, 30, 205.0), (1050, 20, 300.0))
    two = planted((1000, 20, 300.0), (1020, 30, 195.0), (1050, 20, 300.0))
    assert surges_of(one).count == 1
    assert surges_of(two).count == 2


def test_gap_before_is_counted_from_the_end_of_the_surge_before() -> None:
    found = surges_of(planted((1000, 11, 310.0), (1100, 11, 310.0), base=145.0))
    # by hand, see above: rows 998..1012 and 1098..1112 are at or above the release; 1098 - 1013 = 85
    assert [event.gap_before_s for event in found.events] == [None, 85]


def test_a_pause_ends_a_surge() -> None:
    pause = np.zeros(3600, bool)
    pause[1010:1040] = True
    found = surges_of(planted((1000, 50, 300.0)), pause=pause)
    # by hand: five seconds before the block one of six or more is at 300 W; (k x 300 + (11 - k) x 150) / 11 >= 200 from k = 4 on, 998
    assert [(event.start_s, event.start_s + event.length_s) for event in found.events] == [(998, 1010), (1040, 1052)]


def test_a_new_track_segment_ends_a_surge_without_a_gap() -> None:
    found = surges_of(planted((1000, 20, 300.0)), breaks=(1010,))
    assert [event.start_s for event in found.events] == [998, 1010]


def test_a_missing_second_ends_a_surge() -> None:
    power = planted((1000, 21, 300.0))
    power[1010] = np.nan
    assert [event.start_s for event in surges_of(power).events] == [998, 1011]


def test_standing_still_is_never_above() -> None:
    # the rider stands, by the reader's own count, while the meter still tells 300 W
    active = np.ones(3600, bool)
    active[1000:1030] = False
    found = surges_of(planted((1000, 30, 300.0)), active=active)
    assert (found.count, found.seconds_above) == (0, 0)


def test_regions_are_those_that_scipy_labels() -> None:
    rng = np.random.default_rng(4)
    power = np.maximum(pd.Series(rng.normal(196, 62, 90000)).rolling(5, min_periods=1).mean().to_numpy(), 1.0)
    load = pd.Series(power).rolling(11, center=True, min_periods=1).mean().to_numpy()
    labels, count = ndimage.label(load >= 200)
    index = np.arange(1, count + 1)
    above = ndimage.sum_labels(load >= 212, labels, index).astype(int)
    work = ndimage.sum_labels(np.maximum(load - 212, 0), labels, index)
    places = ndimage.find_objects(labels)
    expected = [(places[k][0].start, places[k][0].stop, above[k]) for k in range(count) if work[k] >= 1.5 * 212]
    found = surges_of(power).events
    assert len(expected) > 50
    assert [(one.start_s, one.start_s + one.length_s, one.seconds_above) for one in found] == expected


def test_speed_has_no_work_and_an_open_ceiling_or_heart_rate_no_surges() -> None:
    speed = np.full(3600, 2.5)
    speed[1000:1010] = 4.0
    by_speed = make_zone_set(sport="running", unit="min/km", floor=2.4, target_top=2.8, ceiling=3.0)
    arrays = make_arrays(make_rows({"speed_mps": speed}), by_speed, "running")
    found = find_surges(arrays, sets_of(by_speed).one(0), SETTINGS)
    assert found is not None
    assert found.count == 1
    assert found.work_above_kj is None
    assert found.events[0].work_above_j is None
    opened = make_zone_set(ceiling=None)
    arrays = make_arrays(power_rows(planted((1000, 60, 300.0))), opened)
    assert find_surges(arrays, sets_of(opened).one(0), SETTINGS) is None
    by_hr = make_zone_set(hr=HrLimits(115.0, 120.0, 122.0))
    arrays = make_arrays(make_rows({"heart_rate_bpm": np.full(3600, 130.0)}), by_hr)
    assert find_surges(arrays, sets_of(by_hr, "heart_rate").one(0), SETTINGS) is None


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


def test_what_gathers_above_the_ceiling_by_hand() -> None:
    # by hand, see the planted surge: nothing before row 999, 8 J in it, 644 J from row 1011 on, and through the pause
    pause = np.zeros(3600, bool)
    pause[2000:2100] = True
    zone_set = make_zone_set()
    arrays = make_arrays(power_rows(planted((1000, 11, 310.0), base=145.0), pause=pause), zone_set)
    found = gathered_above(arrays, 212.0)
    assert (found[998], found[999]) == (0.0, pytest.approx(8.0))
    assert found[1011] == found[2050] == found[-1] == pytest.approx(644.0)


@given(st.integers(0, 10_000), st.integers(1, 5))
@settings(max_examples=25, deadline=None)
def test_seconds_and_counts_hang_together(seed: int, minutes: int) -> None:
    rows = wavy_ride(60 * minutes + 200, seed)
    zone_set = make_zone_set()
    found = find_surges(make_arrays(rows, zone_set), sets_of(zone_set).one(0), SETTINGS)
    assert found is not None
    assert found.micro + found.sustained == found.count == len(found.events) == sum(found.by_cause.values())
    assert sum(count for _, count in found.lengths) == found.count
    assert all(1 <= event.seconds_above <= event.length_s for event in found.events)
    assert all(event.dose_s >= 1.5 for event in found.events)
    assert all((event.gap_before_s or 1) >= 1 for event in found.events)
    assert all(event.highest >= 212 and event.mean >= 200 for event in found.events)
