"""FIT workouts read back by two independent decoders: fitdecode 0.11 and garmin-fit-sdk 21 (reference libraries)."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import Any

import fitdecode
import pytest
from field_data import BIKE, foot_zones, no_easy_zones, step_test, zones
from garmin_fit_sdk import Decoder, Stream

from steadyband.ground.errors import UsageError
from steadyband.steptest import make_zones
from steadyband.steptest.workout import Workout, steady_workout, workout_fit

CREATED = datetime(2026, 4, 20, tzinfo=UTC)


def by_sdk(data: bytes) -> dict[str, Any]:
    decoder = Decoder(Stream.from_byte_array(bytearray(data)))
    assert decoder.is_fit()
    assert decoder.check_integrity()
    messages, errors = Decoder(Stream.from_byte_array(bytearray(data))).read()
    assert errors == []
    found: dict[str, Any] = messages
    return found


def by_fitdecode(data: bytes) -> list[dict[str, Any]]:
    with fitdecode.FitReader(io.BytesIO(data), check_crc=fitdecode.CrcCheck.RAISE) as frames:
        data_frames = [frame for frame in frames if isinstance(frame, fitdecode.FitDataMessage)]
    return [{"name": frame.name, **{item.name: item.value for item in frame.fields}} for frame in data_frames]


def steps_of(workout: Workout) -> list[dict[str, Any]]:
    data = workout_fit(workout, CREATED)
    steps: list[dict[str, Any]] = by_sdk(data)["workout_step_mesgs"]
    plain = [item for item in by_fitdecode(data) if item["name"] == "workout_step"]
    for one, other in zip(steps, plain, strict=True):
        for key in (
            "duration_time",
            "custom_target_power_low",
            "custom_target_speed_high",
            "custom_target_heart_rate_low",
            "intensity",
        ):
            assert one.get(key) == other.get(key)
    return steps


def test_power_targets_are_floor_to_target_top() -> None:
    """FIT carries watts + 1000 (profile, from memory). By hand: 90 min = 10 + 75 + 5; easy from half the floor to the floor."""
    edges = zones().edges
    floor, top = round(edges.floor or 0), round(edges.target_top)
    steps = steps_of(steady_workout(zones(), 90))
    assert [step["duration_time"] for step in steps] == [600, 4500, 300]
    assert [step["intensity"] for step in steps] == ["warmup", "active", "cooldown"]
    assert [step["target_type"] for step in steps] == ["power"] * 3
    assert (steps[1]["custom_target_power_low"], steps[1]["custom_target_power_high"]) == (1000 + floor, 1000 + top)
    assert all(step["custom_target_power_high"] == 1000 + floor for step in (steps[0], steps[2]))


def test_head_of_the_file() -> None:
    messages = by_sdk(workout_fit(steady_workout(zones(), 60), CREATED))
    assert messages["file_id_mesgs"][0]["type"] == "workout"
    assert messages["file_id_mesgs"][0]["time_created"] == CREATED
    plan = messages["workout_mesgs"][0]
    assert (plan["sport"], plan["num_valid_steps"], plan["wkt_name"]) == ("cycling", 3, "steady 60 min")


def test_speed_targets_by_foot() -> None:
    """In metres a second, to the millimetre (FIT profile)."""
    zone_set = foot_zones()
    workout = steady_workout(zone_set, 60)
    steps = steps_of(workout)
    assert workout.sport == "running"
    assert steps[1]["target_type"] == "speed"
    assert steps[1]["custom_target_speed_low"] == pytest.approx(zone_set.edges.floor, abs=0.001)
    assert steps[1]["custom_target_speed_high"] == pytest.approx(zone_set.edges.target_top, abs=0.001)


def test_heart_rate_targets() -> None:
    """FIT carries bpm + 100 (profile, from memory)."""
    zone_set = zones()
    steps = steps_of(steady_workout(zone_set, 60, by_heart_rate=True))
    assert steps[1]["target_type"] == "heart_rate"
    ends = (steps[1]["custom_target_heart_rate_low"] - 100, steps[1]["custom_target_heart_rate_high"] - 100)
    assert ends == (round(zone_set.hr.floor or 0), round(zone_set.hr.target_top or 0))
    assert steps[0]["target_type"] == "open"


def test_without_an_easy_band_of_running_warm_up_is_a_walk() -> None:
    steps = steps_of(steady_workout(no_easy_zones(), 45))
    assert [step["wkt_step_name"] for step in steps] == ["warm up, walk", "steady", "cool down, walk"]
    assert [step["target_type"] for step in steps] == ["open", "speed", "open"]


def test_the_note_says_to_aim_at_the_lower_three_quarters() -> None:
    workout = steady_workout(zones(), 60)
    low, high = workout.parts[1].low or 0, workout.parts[1].high or 0
    assert f"{low:.0f} W to {low + 0.75 * (high - low):.0f} W" in workout.notes[0]


def test_an_open_ceiling_and_the_same_bytes_twice() -> None:
    open_top = steady_workout(zones(BIKE[:4]), 60)
    assert open_top.parts[1].high == 180
    assert workout_fit(open_top, CREATED) == workout_fit(open_top, CREATED)


@pytest.mark.parametrize("minutes", [0, 29, 601])
def test_minutes_out_of_reach_are_refused(minutes: int) -> None:
    with pytest.raises(UsageError, match="30 to 600"):
        steady_workout(zones(), minutes)


def test_tests_that_carry_no_target_are_refused() -> None:
    with pytest.raises(UsageError, match="failed a check"):
        steady_workout(make_zones(step_test(baseline=(1.9,))), 60)
    with pytest.raises(UsageError, match="floor"):
        steady_workout(zones([(120, 1.0, None), (140, 1.0, None), (160, 1.1, None)]), 60)
    with pytest.raises(UsageError, match="heart-rate limits"):
        steady_workout(zones([(load, value, None) for load, value, _ in BIKE]), 60, by_heart_rate=True)
