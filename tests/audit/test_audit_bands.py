"""Time in band: by hand, against plain counting, and what must hold for any session."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from audit_builders import SETTINGS, make_arrays, make_rows, make_zone_set, power_rows, sets_of, wavy_ride
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.audit.edges import LoadEdges
from steadyband.audit.measure.bands import band_times, classify, counts_over_sets, ribbon
from steadyband.audit.model import GAP, PAUSE, RESTING, UNMEASURED, BandTime
from steadyband.ground.settings import BandSettings
from steadyband.recording.model import Rows
from steadyband.steptest.model import HrLimits, ZoneSet

PLAIN = dataclasses.replace(SETTINGS, bands=BandSettings(window_s=1))


def bands_of(
    rows: Rows, zone_set: ZoneSet, threshold: float | None = None, sport: str = "cycling", plain: bool = False
) -> dict[str, BandTime]:
    arrays = make_arrays(rows, zone_set, sport, PLAIN if plain else SETTINGS)
    sets = sets_of(zone_set, arrays.channel, threshold)
    return dict(band_times(arrays, sets, 0.8))


def seconds_of(bands: dict[str, BandTime]) -> list[int]:
    return [band.seconds for band in bands.values()]


def test_every_edge_belongs_to_the_band_above_it() -> None:
    # METHOD 3: easy < floor <= steady < ceiling <= heavy < threshold <= severe
    load = np.array([179.9, 180.0, 211.9, 212.0, 259.9, 260.0, np.nan])
    edges = LoadEdges(180.0, 200.0, 212.0, 260.0, False)
    assert classify(load, edges, np.zeros(7, bool)).tolist() == [0, 1, 1, 2, 2, 3, UNMEASURED]


def test_open_edges_lie_above_everything() -> None:
    load = np.array([100.0, 500.0])
    never = np.zeros(2, bool)
    assert classify(load, LoadEdges(math.inf, 220.0, math.inf, math.inf, False), never).tolist() == [0, 0]
    assert classify(load, LoadEdges(180.0, 220.0, math.inf, math.inf, False), never).tolist() == [0, 1]
    assert classify(load, LoadEdges(180.0, 220.0, math.inf, 300.0, False), never).tolist() == [0, 3]


def test_a_threshold_below_the_ceiling_begins_at_the_ceiling() -> None:
    edges = LoadEdges(180.0, 200.0, 212.0, 190.0, False)
    assert classify(np.array([195.0, 212.0]), edges, np.zeros(2, bool)).tolist() == [1, 3]


def test_a_step_in_power_by_hand() -> None:
    # By hand: 100 s at 150 W, then 100 s at 243 W. j seconds after the step (j = 0 .. 14) the 31-s mean holds
    # 16 + j seconds at 243 W: 150 + 93 (16 + j) / 31 = 198 + 3 j; before it 15 - j' of them, 150 + 3 (15 - j').
    # At or above 180 from the second with 10 of them (6 s before the step), at or above 212 from j = 5 on.
    power = np.concatenate((np.full(100, 150.0), np.full(100, 243.0)))
    bands = bands_of(power_rows(power), make_zone_set())
    assert seconds_of(bands) == [94, 11, 95, 0]
    assert [band.seconds_1s for band in bands.values()] == [100, 0, 100, 0]
    assert bands["easy"].mean_load == 150.0
    assert bands["steady"].mean_load == pytest.approx((6 * 150 + 5 * 243) / 11)
    assert bands["severe"].mean_load is None
    assert bands["heavy"].share == 95 / 200


def test_mean_heart_rate_leaves_missing_beats_out() -> None:
    heart = np.full(200, 120.0)
    heart[:50] = np.nan
    bands = bands_of(power_rows(np.full(200, 190.0), heart), make_zone_set())
    assert bands["steady"].mean_hr == 120.0
    assert bands["easy"].mean_hr is None


def test_only_active_measured_seconds_count() -> None:
    power = np.full(400, 190.0)
    power[100:150] = np.nan  # unmeasured
    pause = np.zeros(400, bool)
    pause[200:250] = True
    rows = power_rows(power, pause=pause, active=~pause & (np.arange(400) >= 20))
    assert seconds_of(bands_of(rows, make_zone_set())) == [0, 400 - 50 - 50 - 20, 0, 0]


def test_without_an_easy_band_only_walking_is_easy_on_foot() -> None:
    speed = np.repeat([1.5, 2.5, 4.0], 100)
    zones = {"floor": 2.4, "target_top": 2.8, "ceiling": 3.0, "easy_empty": True}
    running = make_zone_set(sport="running", unit="km/h", **zones)
    rows = make_rows({"speed_mps": speed})
    assert seconds_of(bands_of(rows, running, sport="running", plain=True)) == [100, 100, 100, 0]
    cycling = make_zone_set(easy_empty=True)
    assert seconds_of(bands_of(power_rows(np.repeat([0.0, 150.0, 250.0], 100)), cycling, plain=True)) == [
        0,
        200,
        100,
        0,
    ]


def test_heart_rate_bands_use_the_heart_rate_limits() -> None:
    heart = np.repeat([110.0, 116.0, 123.0], 100)
    rows = make_rows({"heart_rate_bpm": heart, "speed_mps": np.full(300, 8.0)})
    zone_set = make_zone_set(hr=HrLimits(115.0, 120.0, 122.0))
    assert seconds_of(bands_of(rows, zone_set, threshold=260.0, plain=True)) == [100, 100, 100, 0]


def test_share_ranges_are_quantiles_over_the_curves() -> None:
    # By hand: the load climbs evenly from 150 to 249 W, one second each; with the floor of draw d at 150 + d
    # (d = 0 .. 100) the easy share is d / 100: its 10 % and 90 % quantiles are 0.10 and 0.90.
    count = 101
    base = make_zone_set(draws=count)
    floors = 150.0 + np.arange(count)
    flat = np.full(count, 1000.0)
    sets = np.vstack((base.draws.edges[:1], np.column_stack((floors, flat, flat))))
    draws = dataclasses.replace(base.draws, edges=sets)
    zone_set = dataclasses.replace(base, draws=draws)
    bands = bands_of(power_rows(150.0 + np.arange(100)), zone_set, plain=True)
    assert bands["easy"].share_range == pytest.approx((0.10, 0.90))
    assert bands["steady"].share_range == pytest.approx((0.10, 0.90))
    assert bands["heavy"].share_range == (0.0, 0.0)


@pytest.mark.parametrize("easy_empty", [False, True])
@pytest.mark.parametrize("threshold", [None, 230.0])
def test_counts_over_sets_are_those_of_classifying_each_draw(easy_empty: bool, threshold: float | None) -> None:
    speed = np.random.default_rng(5).uniform(1.0, 4.0, 900)
    zones = {"floor": 2.4, "target_top": 2.8, "ceiling": 3.0, "easy_empty": easy_empty}
    zone_set = make_zone_set(sport="running", unit="km/h", draws=40, spread=0.05, **zones)
    arrays = make_arrays(make_rows({"speed_mps": speed}), zone_set, "running")
    sets = sets_of(zone_set, arrays.channel, threshold and 3.2)
    fast = counts_over_sets(arrays, sets, arrays.measured)
    for number in range(len(sets)):
        codes = classify(arrays.band_load, sets.one(number), arrays.walked)[arrays.measured]
        assert fast[:, number].tolist() == np.bincount(codes, minlength=4).tolist()


def test_ribbon_codes() -> None:
    length = 70
    power = np.full(length, 190.0)
    power[10:20] = np.nan
    pause, gap = np.zeros(length, bool), np.zeros(length, bool)
    pause[30:40], gap[40:50] = True, True
    active = ~pause & ~gap
    active[50:60] = False
    rows = power_rows(power, pause=pause, gap=gap, active=active)
    zone_set = make_zone_set()
    arrays = make_arrays(rows, zone_set)
    codes = ribbon(rows, arrays, sets_of(zone_set).one(0))
    expected = np.repeat([1, UNMEASURED, 1, PAUSE, GAP, RESTING, 1], [10, 10, 10, 10, 10, 10, 10])
    assert codes.tolist() == expected.tolist()
    assert set(ribbon(rows, None, None)[active].tolist()) == {UNMEASURED}


@given(st.integers(0, 10_000), st.integers(1, 900))
@settings(max_examples=30, deadline=None)
def test_bands_sum_to_active_measured_seconds(seed: int, length: int) -> None:
    rows = wavy_ride(length, seed)
    arrays = make_arrays(rows, make_zone_set())
    if not arrays.measured.any():
        return
    bands = bands_of(rows, make_zone_set(draws=20, spread=0.1), threshold=250.0)
    assert sum(seconds_of(bands)) == np.count_nonzero(arrays.measured)
    assert sum(band.seconds_1s for band in bands.values()) == np.count_nonzero(arrays.measured)
    assert sum(band.share for band in bands.values()) == pytest.approx(1.0)
    assert all(0 <= band.share_range[0] <= band.share_range[1] <= 1 for band in bands.values())


@given(st.integers(0, 10_000), st.integers(-6, 6))
@settings(max_examples=25, deadline=None)
def test_scaling_load_and_edges_together_changes_no_share(seed: int, power_of_two: int) -> None:
    # a change of unit: powers of two, so that no rounding can move a load across an edge
    factor = 2.0**power_of_two
    rows = wavy_ride(600, seed)
    channels = {**rows.channels, "power_w": rows.channels["power_w"] * factor}
    scaled_rows = dataclasses.replace(rows, channels=channels)
    scaled = make_zone_set(floor=180 * factor, target_top=200 * factor, ceiling=212 * factor)
    before = bands_of(rows, make_zone_set())
    after = bands_of(scaled_rows, scaled)
    assert seconds_of(after) == seconds_of(before)
    assert [band.share for band in after.values()] == [band.share for band in before.values()]


@given(st.integers(0, 10_000), st.integers(50, 550))
@settings(max_examples=25, deadline=None)
def test_a_pause_splits_a_session_as_two_files_would(seed: int, cut: int) -> None:
    power = wavy_ride(600, seed).channels["power_w"]
    pause = np.zeros(660, bool)
    pause[cut : cut + 60] = True
    joined = power_rows(np.insert(power, [cut] * 60, np.nan), pause=pause)
    whole = seconds_of(bands_of(joined, make_zone_set()))
    first = seconds_of(bands_of(power_rows(power[:cut]), make_zone_set()))
    second = seconds_of(bands_of(power_rows(power[cut:]), make_zone_set()))
    assert whole == [a + b for a, b in zip(first, second, strict=True)]


@given(st.integers(0, 10_000), st.floats(1.0, 2.0))
@settings(max_examples=25, deadline=None)
def test_more_load_never_means_less_heavy_time(seed: int, factor: float) -> None:
    rows = wavy_ride(600, seed)
    harder = dataclasses.replace(rows, channels={**rows.channels, "power_w": rows.channels["power_w"] * factor})
    before, after = bands_of(rows, make_zone_set()), bands_of(harder, make_zone_set())
    assert after["heavy"].seconds >= before["heavy"].seconds
    assert after["easy"].seconds <= before["easy"].seconds
