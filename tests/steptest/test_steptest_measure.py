"""Steps found in invented recordings with planted starts, loads and heart rates."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import fitdecode
import numpy as np
import pytest
from field_data import FOOT, T0, rows_of, step_test

from conftest import DEMO
from steadyband.recording import read, to_rows
from steadyband.recording.model import Lap
from steadyband.steptest import StepTest, load_tests
from steadyband.steptest.measure import measure_steps, measured_test

LOADS = (120, 140, 160, 180, 200, 220)
HEARTS = (107, 113, 119, 125, 131, 137)


def ridden(
    warm_up: int = 0, pause: int = 0, noise: float = 4.0, scale: float = 1.0, last: int = 600, seed: int = 1
) -> tuple[np.ndarray, np.ndarray, list[int]]:
    """(power, heart rate, starts): a warm-up at 110 W, six steps, a cool-down at 90 W; `pause` seconds of 0 W between steps."""
    rng = np.random.default_rng(seed)
    load, heart, starts = [np.full(warm_up, 110.0)], [np.full(warm_up, 98.0)], []
    for number, (watts, beats) in enumerate(zip(LOADS, HEARTS, strict=True)):
        length = last if number == 5 else 600
        starts.append(sum(map(len, load)))
        load.append(np.full(length, watts * scale))
        heart.append(beats - 8 * np.exp(-np.arange(length) / 60))
        load.append(np.zeros(pause))
        heart.append(np.full(pause, beats - 15.0))
    load.append(np.full(240, 90.0))
    heart.append(np.full(240, 110.0))
    power = np.concatenate(load)
    return (
        np.maximum(power + rng.normal(0, noise, len(power)) * (power > 0), 0),
        np.round(np.concatenate(heart)),
        starts,
    )


def laps_at(starts: list[int], length: int = 600) -> tuple[Lap, ...]:
    return tuple(Lap(T0 + start, T0 + start + length) for start in starts)


@pytest.mark.parametrize("warm_up", [0, 300, 720])
@pytest.mark.parametrize("pause", [0, 45])
@pytest.mark.parametrize("noise", [4.0, 25.0])
def test_starts_are_found_in_the_load_itself(warm_up: int, pause: int, noise: float) -> None:
    """Planted starts and loads: within 15 s and 1 W; under 25 W of noise, more than a step, within 60 s and 4 W."""
    power, heart, starts = ridden(warm_up, pause, noise)
    steps = measure_steps(rows_of(power, heart), (), step_test())
    assert np.abs(np.array([step.start for step in steps]) - starts).max() <= (15 if noise < 10 else 60)
    assert [step.load for step in steps] == pytest.approx(LOADS, abs=1 if noise < 10 else 4)
    assert [step.hr_max_bpm for step in steps] == list(HEARTS)


@pytest.mark.parametrize("scale", [0.9, 1.0, 1.1])
def test_a_meter_that_reads_off_is_measured_not_bent_to_the_typed_loads(scale: float) -> None:
    power, heart, _ = ridden(300, scale=scale)
    steps = measure_steps(rows_of(power, heart), (), step_test())
    assert [step.load for step in steps] == pytest.approx([scale * load for load in LOADS], abs=1)


def test_laps_name_the_steps() -> None:
    """Laps of warm-up, steps, pauses and cool-down: the six that fit the typed loads are taken, at their own starts."""
    power, heart, starts = ridden(700, 40)
    laps = (Lap(T0, T0 + 700), *laps_at(starts), *laps_at([start + 600 for start in starts], 40))
    ordered = tuple(sorted(laps, key=lambda lap: lap.start_s))
    steps = measure_steps(rows_of(power, heart), ordered, step_test())
    assert [step.start for step in steps] == starts


def test_laps_by_distance_are_not_taken_for_steps() -> None:
    power, heart, starts = ridden(300)
    short = tuple(Lap(T0 + at, T0 + at + 180) for at in range(0, len(power) - 180, 180))
    steps = measure_steps(rows_of(power, heart), short, step_test())
    assert np.abs(np.array([step.start for step in steps]) - starts).max() <= 15


def test_typed_starts_come_first() -> None:
    power, heart, starts = ridden(300)
    steps = tuple(replace(step, start_s=at + 20.0) for step, at in zip(step_test().steps, starts, strict=True))
    found = measure_steps(rows_of(power, heart), (), replace(step_test(), steps=steps))
    assert [step.start for step in found] == [at + 20 for at in starts]


def test_a_last_step_cut_short_counts() -> None:
    power, heart, starts = ridden(0, last=400)
    steps = measure_steps(rows_of(power, heart), (), step_test())
    assert steps[-1].load == pytest.approx(220, abs=2)
    assert abs(steps[-1].start - starts[-1]) <= 15


def test_differences_over_3_percent_and_3_bpm_are_reported() -> None:
    """Planted: everything 5 % lower than typed (over 3 %), heart rate typed 4 and 3 bpm off (over 3 and not)."""
    power, heart, starts = ridden(scale=0.95)
    typed = step_test()
    hearts = [111, 116, *HEARTS[2:]]
    typed = replace(typed, steps=tuple(replace(s, hr_max_bpm=h) for s, h in zip(typed.steps, hearts, strict=True)))
    test, checks = measured_test(typed, rows_of(power, heart), laps_at(starts))
    assert [(check.code, check.step) for check in checks if check.code == "recording_load"] == [
        ("recording_load", number) for number in range(1, 7)
    ]
    assert [check.step for check in checks if check.code == "recording_hr"] == [1]
    assert [step.load for step in test.steps] == [114, 133, 152, 171, 190, 209]
    assert [step.hr_max_bpm for step in test.steps] == list(HEARTS)
    assert [step.samples for step in test.steps] == [step.samples for step in typed.steps]


def test_differences_within_the_limits_are_silent() -> None:
    power, heart, starts = ridden(scale=0.98)
    _, checks = measured_test(step_test(), rows_of(power, heart), laps_at(starts))
    assert checks == ()


def test_a_single_spike_is_no_highest_heart_rate() -> None:
    power, heart, starts = ridden()
    heart[starts[2] + 300] = 201
    steps = measure_steps(rows_of(power, heart), laps_at(starts), step_test())
    assert steps[2].hr_max_bpm == 119


def test_typed_heart_rate_stays_where_the_recording_has_none() -> None:
    power, _, starts = ridden()
    test, checks = measured_test(step_test(), rows_of(power), laps_at(starts))
    assert [step.hr_max_bpm for step in test.steps] == list(HEARTS)
    assert checks == ()


def test_a_treadmill_run_with_stops_to_sample() -> None:
    speeds, gaits = [load / 3.6 for load, _, _ in FOOT], ["walk", *["run"] * 5]
    parts = [part for speed in speeds for part in (np.full(600, speed), np.zeros(50))]
    rows = rows_of(np.concatenate(parts), channel="speed_mps")
    test, checks = measured_test(step_test(FOOT, "km/h", gaits), rows, ())
    assert [step.load for step in test.steps] == pytest.approx([load for load, _, _ in FOOT], abs=1e-9)
    assert checks == ()


def test_an_incline_keeps_its_worth() -> None:
    """The flat-equivalent load moves with the measured speed: 5 % slower belt, 5 % less load."""
    base = step_test(FOOT, "km/h")
    test = replace(
        base, steps=tuple(replace(step, load_si=1.1 * step.load_si, incline_percent=1.0) for step in base.steps)
    )
    belt = np.concatenate([np.full(600, 0.95 * load / 3.6) for load, _, _ in FOOT])
    measured, _ = measured_test(test, rows_of(belt, channel="speed_mps"), ())
    ratios = [new.load_si / old.load_si for new, old in zip(measured.steps, test.steps, strict=True)]
    assert ratios == pytest.approx([0.95] * 6, abs=0.005)


@pytest.mark.parametrize("kind", ["steady", "short", "other"])
def test_a_recording_of_something_else_leaves_the_test_as_typed(kind: str) -> None:
    rng = np.random.default_rng(3)
    load = {
        "steady": np.full(4000, 170.0) + rng.normal(0, 5, 4000),
        "short": np.full(900, 120.0),
        "other": np.repeat(rng.permutation([300.0, 90.0, 250.0, 110.0, 280.0, 100.0, 90.0]), 600),
    }[kind]
    test, checks = measured_test(step_test(recording="ride.fit"), rows_of(load), ())
    assert test == step_test(recording="ride.fit")
    assert [check.code for check in checks] == ["recording_no_steps"]
    assert "ride.fit" in checks[0].text


def test_a_recording_without_power_says_so() -> None:
    test, checks = measured_test(step_test(), rows_of(np.full(3600, 3.0), channel="speed_mps"), ())
    assert [check.code for check in checks] == ["recording_no_load"]
    assert test == step_test()


def _demo_tests() -> list[StepTest]:
    return [test for test in load_tests(DEMO / "tests") if test.recording] if (DEMO / "tests").is_dir() else []


def _plain_records(path: Path) -> list[dict[str, float]]:
    """Records of the file by the reference library fitdecode 0.11, without any reader of this project."""
    with fitdecode.FitReader(path) as frames:
        data = [frame for frame in frames if isinstance(frame, fitdecode.FitDataMessage) and frame.name == "record"]
    found = []
    for frame in data:
        time = frame.get_value("timestamp")
        assert isinstance(time, datetime)
        keys = ("power", "enhanced_speed", "speed", "heart_rate")
        found.append({"t": time.timestamp(), **{key: frame.get_value(key, fallback=np.nan) for key in keys}})
    return found


@pytest.mark.parametrize("test", _demo_tests(), ids=lambda test: test.sport)
@pytest.mark.parametrize("with_laps", [True, False])
def test_the_demos_own_test_recordings(test: StepTest, with_laps: bool) -> None:
    """Reference: plain means of fitdecode 0.11's records over each step's seconds 60 to its end, planted from the first record on."""
    path = DEMO / "tests" / str(test.recording)
    session = read(path).sessions[0]
    steps = measure_steps(to_rows(session), session.laps if with_laps else (), test)
    records = _plain_records(path)
    channel = "power" if test.sport == "cycling" else "enhanced_speed"
    start = records[0]["t"]
    length = 60 * test.step_minutes
    for number, step in enumerate(steps):
        inside = [r for r in records if length * number + 60 <= r["t"] - start < length * (number + 1)]
        values = [r[channel] if not np.isnan(r[channel]) else r["speed"] for r in inside]
        assert step.load == pytest.approx(np.nanmean(values), rel=0.005)
        assert step.hr_max_bpm == max(r["heart_rate"] for r in inside)
    assert len(steps) == len(test.steps)
    _, checks = measured_test(test, to_rows(session), session.laps)
    assert checks == ()
