"""Meter offsets that athlete.toml names: the watts of one device turned into those of the meter the test was done on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

from steadyband.athlete.model import NamedOffset
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown
from steadyband.ground.said import Said
from steadyband.recording.model import Rows
from steadyband.steptest.meters import MeterOffset, apply_offset
from steadyband.steptest.model import ZoneSet

OFFSET_KEYS = ("device", "test_meter", "intercept_w", "slope")
INTERCEPTS_W, SLOPES = (-100.0, 100.0), (0.5, 2.0)
"""Offsets outside these are taken for a slip of the pen (design choice)."""


def parse_offset(table: Mapping[str, Any], file: str, where: str) -> NamedOffset:
    """One [[meter_offset]] of athlete.toml; raises AthleteFileError naming key, expected and found."""
    device, meter = (_name(table.get(key), file, f"{where}{key}") for key in OFFSET_KEYS[:2])
    intercept = _number(table.get("intercept_w"), INTERCEPTS_W, file, f"{where}intercept_w")
    return NamedOffset(
        device, meter, MeterOffset(intercept, _number(table.get("slope"), SLOPES, file, f"{where}slope"))
    )


def _name(value: object, file: str, place: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise AthleteFileError(f"expected a name, found {shown(value)}.", file=file, place=place)
    return value.strip().casefold()


def _number(value: object, limits: tuple[float, float], file: str, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not limits[0] <= value <= limits[1]:
        raise AthleteFileError(
            f"expected a number from {limits[0]:g} to {limits[1]:g}, found {shown(value)}.",
            file=file,
            place=place,
            hint="`steadyband compare-meters` prints it.",
        )
    return float(value)


def to_test_meter(
    rows: Rows, device: str | None, zone_set: ZoneSet | None, offsets: Sequence[NamedOffset]
) -> tuple[Rows, Said | None]:
    """The rows with power as the test's meter would have read it, and the note on it; None where nothing applies."""
    meter = zone_set.test.meter.strip().casefold() if zone_set else ""
    found = next(
        (item for item in offsets if item.test_meter == meter and item.device in (device or "").casefold()), None
    )
    if found is None or not rows.has("power_w"):
        return rows, None
    channels = dict(rows.channels) | {"power_w": apply_offset(rows.channels["power_w"], found.offset)}
    numbers = {"device": device, "test_meter": found.test_meter, **asdict(found.offset)}
    return replace(rows, channels=channels), Said("meter_offset", numbers)
