"""A zone set as an open FIT workout file: warm-up, steady, cool-down (SOURCES S9)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from steadyband.ground.errors import UsageError
from steadyband.ground.units import load_text
from steadyband.steptest.model import ZoneSet

if TYPE_CHECKING:
    from fit_tool.profile.messages.workout_step_message import WorkoutStepMessage

WARM_UP_MIN, COOL_DOWN_MIN = 10, 5
"""Minutes of easy before and after the steady part (common practice, no source)."""
MINUTES_LOW, MINUTES_HIGH = 30, 600
EASY_FROM = 0.5
"""Lower end of the easy target as a share of the floor (design choice: devices want two ends)."""
AIM = 0.75
"""Share of the target, from below, to aim at (design choice: its top is where too high begins)."""
POWER_OFFSET, HR_OFFSET = 1000, 100
"""FIT profile: custom power targets carry watts + 1000, custom heart-rate targets bpm + 100 (from memory; tested with
fitdecode and garmin-fit-sdk)."""

Kind = Literal["power", "speed", "heart_rate"]


@dataclass(frozen=True, slots=True)
class WorkoutPart:
    """One part: `low` and `high` in W, m/s or bpm by `kind`; both None where there is no target."""

    name: str
    intensity: Literal["warmup", "active", "cooldown"]
    seconds: int
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Workout:
    """A session for a bike computer or watch."""

    name: str
    sport: str
    kind: Kind
    parts: tuple[WorkoutPart, ...]
    notes: tuple[str, ...] = ()


def steady_workout(zone_set: ZoneSet, minutes: int, *, by_heart_rate: bool = False) -> Workout:
    """A session of `minutes` in all: 10 easy, the rest steady from floor to target top, 5 easy (METHOD 1.2).

    Raises UsageError where the zone set is not usable, has no floor or (by heart rate) no limits, or minutes are
    outside 30 to 600.
    """
    if not MINUTES_LOW <= minutes <= MINUTES_HIGH:
        raise UsageError(f"expected a session of {MINUTES_LOW} to {MINUTES_HIGH} minutes, found {minutes}.")
    kind: Kind = "heart_rate" if by_heart_rate else _load_kind(zone_set)
    low, high, notes = _target(zone_set, kind)
    steady_s = 60 * (minutes - WARM_UP_MIN - COOL_DOWN_MIN)
    easy = _easy_target(zone_set, kind, low)
    word = "walk" if zone_set.edges.easy_empty and zone_set.test.sport == "running" else "easy"
    parts = (
        WorkoutPart(f"warm up, {word}", "warmup", 60 * WARM_UP_MIN, *easy),
        WorkoutPart("steady", "active", steady_s, low, high),
        WorkoutPart(f"cool down, {word}", "cooldown", 60 * COOL_DOWN_MIN, *easy),
    )
    return Workout(f"steady {minutes} min", zone_set.test.sport, kind, parts, notes)


def workout_fit(workout: Workout, created: datetime) -> bytes:
    """The workout as the bytes of a FIT file; `created` (with its time zone) is written into it."""
    from fit_tool.fit_file_builder import FitFileBuilder
    from fit_tool.profile.messages.file_id_message import FileIdMessage
    from fit_tool.profile.messages.workout_message import WorkoutMessage
    from fit_tool.profile.profile_type import FileType, Manufacturer, Sport

    head = FileIdMessage()
    head.type = FileType.WORKOUT
    head.manufacturer = Manufacturer.DEVELOPMENT.value
    head.product = 0
    head.serial_number = int(created.timestamp()) & 0x7FFFFFFF
    head.time_created = round(created.timestamp() * 1000)
    plan = WorkoutMessage()
    plan.workout_name = workout.name
    plan.sport = {"cycling": Sport.CYCLING, "running": Sport.RUNNING}.get(workout.sport, Sport.GENERIC)
    plan.num_valid_steps = len(workout.parts)
    builder = FitFileBuilder(auto_define=True, min_string_size=24)
    builder.add_all([head, plan, *(_message(number, part, workout.kind) for number, part in enumerate(workout.parts))])
    return bytes(builder.build_bytes())


def _load_kind(zone_set: ZoneSet) -> Kind:
    return "power" if zone_set.test.load_unit == "W" else "speed"


def _target(zone_set: ZoneSet, kind: Kind) -> tuple[float, float, tuple[str, ...]]:
    if not zone_set.usable:
        raise UsageError(
            f"expected a usable test, found one that failed a check ({zone_set.test.file}).",
            hint="See `steadyband zones`.",
        )
    source = zone_set.hr if kind == "heart_rate" else zone_set.edges
    low, high = source.floor, source.target_top
    if low is None or high is None:
        missing = "heart-rate limits" if kind == "heart_rate" else "a floor"
        raise UsageError(f"expected {missing} in the test, found none ({zone_set.test.file}).", hint=_hint(kind))
    if high <= low:
        raise UsageError(
            f"expected a band with some width in the test, found none ({zone_set.test.file}).", hint=_hint(kind)
        )
    return low, high, (_aim(zone_set, kind, low, high),)


def _hint(kind: Kind) -> str:
    if kind == "heart_rate":
        return "Leave --by-heart-rate out, or note the highest heart rate of each step in the next test."
    return "Test again and go further."


def _aim(zone_set: ZoneSet, kind: Kind, low: float, high: float) -> str:
    ends = (low, low + AIM * (high - low))
    unit = zone_set.test.load_unit
    texts = [f"{value:.0f} bpm" if kind == "heart_rate" else load_text(value, unit) for value in ends]
    return f"Aim at the lower three quarters of the target, {texts[0]} to {texts[1]}: the mean of a session stays under its top."


def _easy_target(zone_set: ZoneSet, kind: Kind, floor: float) -> tuple[float | None, float | None]:
    if zone_set.edges.easy_empty or kind == "heart_rate":
        return None, None
    return EASY_FROM * floor, floor


def _message(number: int, part: WorkoutPart, kind: Kind) -> WorkoutStepMessage:
    from fit_tool.profile.messages.workout_step_message import WorkoutStepMessage
    from fit_tool.profile.profile_type import Intensity, WorkoutStepDuration

    message = WorkoutStepMessage()
    message.message_index = number
    message.workout_step_name = part.name
    message.intensity = Intensity[part.intensity.upper()]
    message.duration_type = WorkoutStepDuration.TIME
    message.duration_time = float(part.seconds)
    _set_target(message, part, kind)
    return message


def _set_target(message: WorkoutStepMessage, part: WorkoutPart, kind: Kind) -> None:
    from fit_tool.profile.profile_type import WorkoutStepTarget

    if part.low is None or part.high is None:
        message.target_type = WorkoutStepTarget.OPEN
        message.target_value = 0
        return
    message.target_type = WorkoutStepTarget[kind.upper()]
    message.target_value = 0
    if kind == "power":
        message.custom_target_power_low = round(part.low) + POWER_OFFSET
        message.custom_target_power_high = round(part.high) + POWER_OFFSET
    elif kind == "speed":
        message.custom_target_speed_low = round(part.low, 3)
        message.custom_target_speed_high = round(part.high, 3)
    else:
        message.custom_target_heart_rate_low = round(part.low) + HR_OFFSET
        message.custom_target_heart_rate_high = round(part.high) + HR_OFFSET
