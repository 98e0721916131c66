"""One-second rows (METHOD 2): every expected number here is worked by hand from the rule quoted beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.ground.errors import NoTimedTrackError, RecordingError
from steadyband.ground.settings import GridSettings
from steadyband.recording import CHANNELS, Rows, SessionRecords, to_rows

NAN = float("nan")


def session(
    times: Sequence[float],
    channels: Mapping[str, Sequence[float]] | None = None,
    pauses: Sequence[tuple[float, float]] = (),
    breaks: Sequence[float] = (),
    origin: float = NAN,
    dropped: int = 0,
) -> SessionRecords:
    given_channels = channels if channels is not None else {"power_w": [100.0] * len(times)}
    arrays = {name: np.array(values, dtype=np.float64) for name, values in given_channels.items()}
    time_s = np.array(times, dtype=np.float64)
    return SessionRecords(
        "cycling", None, None, time_s, arrays, tuple(pauses), tuple(breaks), dropped=dropped, origin_s=origin
    )


def where(flags: np.ndarray) -> list[int]:
    return np.flatnonzero(flags).tolist()


def repairs(rows: Rows) -> dict[tuple[str, str | None], int]:
    return {(repair.what, repair.channel): repair.count for repair in rows.repairs}


def test_plain_seconds() -> None:
    rows = to_rows(session([100, 101, 102], {"power_w": [1, 2, 3]}))
    assert rows.start_s == 100
    assert len(rows) == 3
    assert rows.channels["power_w"].tolist() == [1, 2, 3]
    assert rows.recorded.all()
    assert rows.stretch.tolist() == [0, 0, 0]
    assert (rows.records, rows.dropped, rows.held_s, rows.repairs) == (3, 0, 0, ())
    assert set(rows.channels) == set(CHANNELS)


def test_ten_seconds_apart_are_bridged_and_eleven_are_a_gap() -> None:
    # "Between two records at most 10 s apart the seconds take the earlier one; a longer distance is a gap, from the
    # second after the earlier record to the second before the later one."
    bridged = to_rows(session([0, 10], {"power_w": [100, 300]}))
    assert bridged.channels["power_w"].tolist() == [100] * 10 + [300]
    assert bridged.held_s == 9
    assert repairs(bridged) == {("held", "power_w"): 9}
    gap = to_rows(session([0, 11], {"power_w": [100, 300]}))
    assert where(gap.gap) == list(range(1, 11))
    assert where(gap.recorded) == [0, 11]
    assert gap.stretch.tolist() == [0] + [-1] * 10 + [1]
    assert np.isnan(gap.channels["power_w"][1:11]).all()
    assert gap.held_s == 0


def test_pause_is_strictly_between_stop_and_start_and_wins_over_a_gap() -> None:
    # Stop at 2, start at 20: seconds 3..19 are a pause; 21 records would be 3 to 20 apart, so 1..19 would be a gap.
    rows = to_rows(session([0, 20, 21], pauses=[(2, 20)]))
    assert where(rows.pause) == list(range(3, 20))
    assert where(rows.gap) == [1, 2]
    assert where(rows.recorded) == [0, 20, 21]


def test_records_inside_a_pause_do_not_make_it_recorded() -> None:
    rows = to_rows(session([0, 1, 2, 3, 4, 5], pauses=[(1, 4)]))
    assert where(rows.pause) == [2, 3]
    assert where(rows.recorded) == [0, 1, 4, 5]
    assert np.isnan(rows.channels["power_w"][2:4]).all()
    assert rows.stretch.tolist() == [0, 0, -1, -1, 1, 1]
    assert rows.records == 6


def test_pause_reaching_outside_the_records_is_cut() -> None:
    rows = to_rows(session([100, 101, 102], pauses=[(50, 101), (101.5, 500), (700, 800)]))
    assert where(rows.pause) == [0, 2]


def test_fractions_of_seconds_belong_to_their_whole_second() -> None:
    rows = to_rows(session([10.6, 11.2, 11.9, 12.0], {"power_w": [1, 2, 3, 4]}))
    assert rows.start_s == 10
    assert rows.channels["power_w"].tolist() == [1, 3, 4]


def test_last_non_missing_value_of_a_second_wins() -> None:
    # METHOD 2.1 says: "Two records of one second: last non-missing value of each channel wins."
    rows = to_rows(session([5, 5, 5], {"power_w": [10, 20, NAN], "speed_mps": [1, NAN, NAN]}))
    assert rows.channels["power_w"].tolist() == [20]
    assert rows.channels["speed_mps"].tolist() == [1]


def test_hole_of_a_channel_between_valid_values() -> None:
    # "A hole between two valid values at most 10 s apart holds the earlier; a longer hole is unmeasured throughout."
    times = list(range(30))
    power = [100.0] * 30
    power[5:14] = [NAN] * 9  # valid at 4 and 14: 10 s apart, held
    power[15:25] = [NAN] * 10  # valid at 14 and 25: 11 s apart, unmeasured
    rows = to_rows(session(times, {"power_w": power, "heart_rate_bpm": [120.0] * 30}))
    assert where(np.isnan(rows.channels["power_w"])) == list(range(15, 25))
    assert repairs(rows) == {("held", "power_w"): 9}
    assert rows.held_s == 0
    assert rows.recorded.all()


def test_nothing_is_held_before_the_first_or_after_the_last_valid_value() -> None:
    rows = to_rows(session(range(6), {"power_w": [NAN, NAN, 50, 60, NAN, NAN]}))
    assert where(np.isfinite(rows.channels["power_w"])) == [2, 3]


def test_out_of_range_is_missing_and_counted() -> None:
    # "Power over 2,500 W, heart rate outside 25-230 are missing and counted": 2,500, 25 and 230 themselves stay.
    channels = {"power_w": [2500, 2501, 100, 100], "heart_rate_bpm": [24, 25, 230, 231]}
    rows = to_rows(session(range(4), channels))
    assert repairs(rows) == {
        ("out of range", "power_w"): 1,
        ("held", "power_w"): 1,
        ("out of range", "heart_rate_bpm"): 2,
    }
    assert rows.channels["power_w"].tolist() == [2500, 2500, 100, 100]
    assert where(np.isfinite(rows.channels["heart_rate_bpm"])) == [1, 2]


def test_zero_throughout_is_absent() -> None:
    channels = {"power_w": [0, 0, 0], "heart_rate_bpm": [0, 0, 0], "speed_mps": [0, 0, 1], "altitude_m": [NAN] * 3}
    rows = to_rows(session(range(3), channels))
    assert {"power_w", "heart_rate_bpm", "altitude_m", "cadence_rpm"} <= rows.absent
    assert rows.has("speed_mps")
    assert np.isnan(rows.channels["power_w"]).all()
    assert rows.repairs == ()


def test_active() -> None:
    # METHOD 2.4: recorded, and at least 0.5 m/s or more than 0 W; where neither channel exists, recorded is enough.
    channels = {"power_w": [0, 0, 10, NAN, NAN], "speed_mps": [0.5, 0.49, 0, 3, NAN]}
    assert where(to_rows(session(range(5), channels)).active) == [0, 2, 3]
    assert where(to_rows(session(range(3), {"heart_rate_bpm": [90, 91, 92]})).active) == [0, 1, 2]
    only_power = {"power_w": [0, 5, 0], "speed_mps": [0, 0, 0]}
    assert where(to_rows(session(range(3), only_power)).active) == [1]
    paused = to_rows(session(range(5), {"heart_rate_bpm": [90] * 5}, pauses=[(1, 3)]))
    assert where(paused.active) == [0, 1, 3, 4]


def test_breaks_start_new_stretches_without_a_gap() -> None:
    rows = to_rows(session(range(6), breaks=[2, 4.7, 0, 99, -5]))
    assert rows.stretch.tolist() == [0, 0, 1, 1, 2, 2]
    assert rows.recorded.all()


def test_records_far_from_the_own_start_are_dropped_and_counted() -> None:
    # "What a break of more than a day parts from the file's own start is dropped and counted": 86,400 s stay, 86,401 go.
    start = 1_700_000_000
    times = [0.0, start, start + 1, start + 2, start + 86402, start + 2 * 86400 + 3]
    rows = to_rows(session(times, origin=start, dropped=3))
    assert rows.start_s == start
    assert rows.dropped == 3 + 2
    assert rows.records == 4
    assert len(rows) == 86403


def test_a_broken_clock_in_the_header_or_first_record_does_not_decide() -> None:
    times = [631065600.0, 1.7e9, 1.7e9 + 1, 1.7e9 + 2, 4e9]
    for origin in (NAN, 631065600.0, 1.7e9 + 1, 9e9):
        rows = to_rows(session(times, origin=origin))
        assert rows.start_s == 1_700_000_000
        assert len(rows) == 3
        assert rows.dropped == 2


def test_endless_or_untimed_sessions_are_refused_in_a_sentence() -> None:
    wide = GridSettings(max_day_shift_s=1e9)
    with pytest.raises(RecordingError, match="more than the 14"):
        to_rows(session([0, 15 * 86400], origin=0), wide)
    with pytest.raises(NoTimedTrackError):
        to_rows(session([]))
    with pytest.raises(NoTimedTrackError):
        to_rows(session([NAN]))


def test_settings_are_used() -> None:
    rows = to_rows(session([0, 4], {"power_w": [700, 800]}), GridSettings(hold_s=3, power_max_w=750))
    assert where(rows.gap) == [1, 2, 3]
    assert repairs(rows) == {("out of range", "power_w"): 1}


@st.composite
def sessions(draw: st.DrawFn) -> SessionRecords:
    steps = draw(st.lists(st.integers(0, 14), min_size=1, max_size=60))
    times = np.cumsum(steps).astype(float) + 1_700_000_000
    span = int(times[-1] - times[0])
    value = st.one_of(st.just(NAN), st.integers(0, 3000))
    columns = {
        name: draw(st.lists(value, min_size=len(times), max_size=len(times)))
        for name in draw(st.sets(st.sampled_from(["power_w", "heart_rate_bpm", "speed_mps"])))
    }
    offsets = st.integers(-5, span + 5)
    pauses = [(times[0] + min(p), times[0] + max(p)) for p in draw(st.lists(st.tuples(offsets, offsets), max_size=3))]
    breaks = [times[0] + b for b in draw(st.lists(offsets, max_size=3))]
    return session(times.tolist(), columns, pauses, breaks)


@settings(max_examples=150, deadline=None)
@given(sessions())
def test_rows_are_partitioned(records: SessionRecords) -> None:
    rows = to_rows(records)
    total = rows.recorded.astype(int) + rows.pause + rows.gap
    assert np.all(total == 1)
    assert len(rows) == int(records.time_s[-1] - records.time_s[0]) + 1
    assert not np.any(rows.active & ~rows.recorded)
    assert np.array_equal(rows.stretch >= 0, rows.recorded)
    numbers = rows.stretch[rows.recorded]
    if len(numbers):
        assert numbers[0] == 0
        assert set(np.diff(numbers)) <= {0, 1}
    for name, values in rows.channels.items():
        assert np.isnan(values[~rows.recorded]).all()
        assert rows.has(name) or np.isnan(values).all()
    own = np.zeros(len(rows), dtype=bool)
    own[(records.time_s - rows.start_s).astype(int)] = True
    assert rows.held_s == int(np.sum(rows.recorded & ~own))


@settings(max_examples=100, deadline=None)
@given(sessions(), st.integers(-(10**6), 10**6))
def test_shifting_the_clock_changes_nothing_but_the_start(records: SessionRecords, shift: int) -> None:
    moved = session(
        (records.time_s + shift).tolist(),
        {name: values.tolist() for name, values in records.channels.items()},
        [(a + shift, b + shift) for a, b in records.pauses],
        [b + shift for b in records.breaks],
    )
    here, there = to_rows(records), to_rows(moved)
    assert there.start_s == here.start_s + shift
    assert np.array_equal(here.stretch, there.stretch)
    assert np.array_equal(here.active, there.active)
    for name in CHANNELS:
        assert np.array_equal(here.channels[name], there.channels[name], equal_nan=True)


@settings(max_examples=100, deadline=None)
@given(sessions(), st.data())
def test_splitting_at_a_record_changes_no_second(records: SessionRecords, data: st.DataObject) -> None:
    # Both parts share the record at the cut; power is nowhere zero throughout, so no channel is absent in one part.
    cut = data.draw(st.integers(0, len(records.time_s) - 1))
    at = records.time_s[cut]
    full = {"altitude_m": np.arange(1.0, len(records.time_s) + 1).tolist()}
    first, last = records.time_s <= at, records.time_s >= at
    whole = to_rows(session(records.time_s.tolist(), full, records.pauses))
    parts = [
        to_rows(
            session(
                records.time_s[keep].tolist(),
                {"altitude_m": np.array(full["altitude_m"])[keep].tolist()},
                records.pauses,
            )
        )
        for keep in (first, last)
    ]
    for name in ("recorded", "pause", "gap"):
        joined = np.concatenate([getattr(parts[0], name), getattr(parts[1], name)[1:]])
        assert np.array_equal(joined, getattr(whole, name))
    joined = np.concatenate([parts[0].channels["altitude_m"], parts[1].channels["altitude_m"][1:]])
    assert np.array_equal(joined, whole.channels["altitude_m"], equal_nan=True)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.one_of(st.just(NAN), st.integers(1, 2000)), min_size=1, max_size=80))
def test_holding_against_pandas(power: list[float]) -> None:
    # Reference library pandas 3.0: Series.ffill and bfill of the row numbers say which valid rows enclose a hole.
    power = [float(p) for p in power]
    rows = to_rows(session(range(len(power)), {"power_w": power}))
    series = pd.Series(power)
    at = pd.Series(np.where(series.notna(), np.arange(len(power)), np.nan))
    enclosed = at.bfill() - at.ffill() <= 10
    expected = series.ffill().where(enclosed)
    assert np.array_equal(rows.channels["power_w"], expected.to_numpy(), equal_nan=True)


def test_long_ride_is_quick() -> None:
    # No value of the outside: a ceiling far above the 5 ms measured, so that a loop over rows would fail it.
    import time

    times = np.arange(23_400)
    records = session(
        times.tolist(), {name: np.random.default_rng(2).uniform(1, 200, 23_400).tolist() for name in CHANNELS}
    )
    begin = time.perf_counter()
    to_rows(records)
    assert time.perf_counter() - begin < 0.25


def test_without_speed_zeros_between_pedalling_are_coasting() -> None:
    """A trainer: legs at rest for 60 s count, for 61 s they do not, nor before the first and after the last stroke."""
    power = [0.0] * 5 + [200.0] * 10 + [0.0] * 60 + [200.0] * 10 + [0.0] * 61 + [200.0] * 10 + [0.0] * 7
    rows = to_rows(session(range(len(power)), {"power_w": power}))
    assert where(rows.active) == [*range(5, 85), *range(146, 156)]


def test_a_recording_of_three_days_loses_nothing() -> None:
    """67 h in all, a record every five minutes (as trackers write): it began 9 h late, by the median of its times."""
    times = [1_700_000_000 + 300 * i for i in range(67 * 12)]
    rows = to_rows(session(times, origin=float(times[0])))
    assert (rows.start_s, rows.records, rows.dropped, len(rows)) == (times[0], 804, 0, 300 * 803 + 1)


def test_with_speed_zeros_at_a_standstill_are_none() -> None:
    power = [200.0] * 10 + [0.0] * 20 + [200.0] * 10
    rows = to_rows(session(range(40), {"power_w": power, "speed_mps": [8.0] * 10 + [0.0] * 20 + [8.0] * 10}))
    assert where(rows.active) == [*range(10), *range(30, 40)]


def test_seconds_of_which_nothing_is_known_are_active_between_active_ones() -> None:
    """The meter was away for 100 s: unmeasured, not a rest. Across a pause nothing is filled in."""
    power = [200.0] * 10 + [NAN] * 100 + [200.0] * 10
    assert to_rows(session(range(120), {"power_w": power})).active.all()
    paused = to_rows(session(range(120), {"power_w": power}, pauses=[(50, 60)]))
    assert where(paused.active) == [*range(10), *range(110, 120)]


def test_power_below_zero_is_missing_and_counted() -> None:
    rows = to_rows(session(range(30), {"power_w": [200.0] * 10 + [-5.0] * 2 + [200.0] * 18}))
    assert repairs(rows) == {("out of range", "power_w"): 2, ("held", "power_w"): 2}
    assert rows.channels["power_w"].min() == 200
