"""[body] and [bike] of athlete.toml: who rides what."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from steadyband.audit.model import Rider
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown

BODY_KEYS = ("mass_kg",)
BIKE_KEYS = ("mass_kg", "chainrings", "cassette", "wheel_circumference_m", "cadence_floor", "crr", "cda")

RANGES: Mapping[str, tuple[float, float, str]] = {
    "body.mass_kg": (20, 300, "kg"),
    "bike.mass_kg": (4, 60, "kg"),
    "bike.wheel_circumference_m": (0.8, 3.0, "m"),
    "bike.cadence_floor": (20, 120, "turns a minute"),
    "bike.crr": (0.001, 0.05, ""),
    "bike.cda": (0.1, 1.5, "m²"),
}
"""What is taken for a slip of the pen outside (design choice)."""

TEETH = (8, 70)
COGS_MAX = 30


def parse_rider(body: Mapping[str, Any], bike: Mapping[str, Any], file: str) -> Rider:
    """Rider and bike from the two tables, whose keys were checked.

    Raises AthleteFileError naming the key, what was expected and what was found.
    """
    return Rider(
        body_kg=_number(body, "body.mass_kg", file),
        bike_kg=_number(bike, "bike.mass_kg", file),
        chainrings=_teeth(bike, "bike.chainrings", file),
        cassette=_teeth(bike, "bike.cassette", file),
        wheel_m=_number(bike, "bike.wheel_circumference_m", file),
        cadence_floor=_number(bike, "bike.cadence_floor", file),
        crr=_number(bike, "bike.crr", file),
        cda_m2=_number(bike, "bike.cda", file),
    )


def parse_privacy(value: object, file: str) -> float:
    """`privacy_m`: metres of track left out at both ends; 0 for none."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 100_000:
        raise AthleteFileError(
            f"expected metres from 0 to 100000, found {shown(value)}.",
            file=file,
            place="privacy_m",
            hint="300 leaves out the track within 300 m of its start and its end.",
        )
    return float(value)


def parse_positions(value: object, file: str) -> bool:
    """`positions`: false drops every position."""
    if not isinstance(value, bool):
        raise AthleteFileError(f"expected true or false, found {shown(value)}.", file=file, place="positions")
    return value


def _number(table: Mapping[str, Any], place: str, file: str) -> float | None:
    value = table.get(place.partition(".")[2])
    if value is None:
        return None
    low, high, unit = RANGES[place]
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise AthleteFileError(
            f"expected {low:g} to {high:g} {unit}".rstrip() + f", found {shown(value)}.", file=file, place=place
        )
    return float(value)


def _teeth(table: Mapping[str, Any], place: str, file: str) -> tuple[int, ...]:
    value = table.get(place.partition(".")[2], [])
    teeth = value if isinstance(value, list) else [value]
    if len(teeth) > COGS_MAX:
        raise AthleteFileError(
            f"expected numbers of teeth of at most {COGS_MAX} sprockets, found {len(teeth)}.", file=file, place=place
        )
    for tooth in teeth:
        if isinstance(tooth, bool) or not isinstance(tooth, int) or not TEETH[0] <= tooth <= TEETH[1]:
            raise AthleteFileError(
                f"expected numbers of teeth from {TEETH[0]} to {TEETH[1]}, such as [50, 34]; found {shown(value)}.",
                file=file,
                place=place,
            )
    return tuple(teeth)
