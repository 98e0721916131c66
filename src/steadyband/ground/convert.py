"""Units to SI and back, and constants of nature: what numbers are made with. How they are written stands in `units`."""

from __future__ import annotations

import math
from typing import Literal

LoadUnit = Literal["W", "km/h", "min/km", "min/mile"]
LOAD_UNITS: tuple[LoadUnit, ...] = ("W", "km/h", "min/km", "min/mile")
ShownUnit = Literal["W", "km/h", "min/km", "min/mile", "mph"]

METRES_PER_MILE = 1609.344
"""International mile in metres (exact by definition, 1959 agreement)."""

METRES_PER_FOOT = 0.3048
"""International foot in metres (exact by definition, 1959 agreement)."""

FIT_EPOCH_UNIX_S = 631065600
"""1989-12-31T00:00:00Z in Unix seconds (FIT protocol, SOURCES S9)."""

EARTH_RADIUS_M = 6371008.8
"""Mean Earth radius R1 in metres (IUGG; from memory)."""


def load_to_si(value: float, unit: ShownUnit) -> float:
    """Load in W, km/h, mph, min/km or min/mile -> W or m/s.

    Raises ZeroDivisionError for a pace of 0 (callers check that pace is positive first).
    """
    if unit == "km/h":
        return value / 3.6
    if unit == "mph":
        return value * METRES_PER_MILE / 3600.0
    if unit == "min/km":
        return 1000.0 / (60.0 * value)
    if unit == "min/mile":
        return METRES_PER_MILE / (60.0 * value)
    return value


def load_from_si(value: float, unit: ShownUnit) -> float:
    """Load in W or m/s -> the unit asked for; a speed of 0 is an infinite pace."""
    if unit == "km/h":
        return value * 3.6
    if unit == "mph":
        return value * 3600.0 / METRES_PER_MILE
    if unit == "min/km":
        return 1000.0 / (60.0 * value) if value > 0 else math.inf
    if unit == "min/mile":
        return METRES_PER_MILE / (60.0 * value) if value > 0 else math.inf
    return value


def parse_load(typed: float | str, unit: LoadUnit) -> float | None:
    """A load as typed, 145 or "5:30" (pace units only), in decimal `unit`; None where it is not one."""
    if not isinstance(typed, str):
        return float(typed)
    minutes, colon, seconds = typed.strip().partition(":")
    paced = colon and unit in ("min/km", "min/mile") and minutes.isdecimal() and seconds.isdecimal()
    if not paced or len(seconds) != 2 or int(seconds) >= 60:
        return None
    return int(minutes) + int(seconds) / 60


def is_speed(unit: LoadUnit) -> bool:
    """True where the load is a speed (m/s inside), False for watts."""
    return unit != "W"
