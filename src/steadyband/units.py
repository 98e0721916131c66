"""Units: SI inside; pace, miles and clock texts only at the face."""

from __future__ import annotations

import math
from typing import Literal

LoadUnit = Literal["W", "km/h", "min/km", "min/mile"]
LOAD_UNITS: tuple[LoadUnit, ...] = ("W", "km/h", "min/km", "min/mile")

METRES_PER_MILE = 1609.344
"""International mile in metres (exact by definition, 1959 agreement)."""

FIT_EPOCH_UNIX_S = 631065600
"""1989-12-31T00:00:00Z in Unix seconds (FIT protocol, SOURCES S9)."""

EARTH_RADIUS_M = 6371008.8
"""Mean Earth radius R1 in metres (IUGG; from memory)."""


def load_to_si(value: float, unit: LoadUnit) -> float:
    """Load in W, km/h, min/km or min/mile -> W or m/s.

    Raises ZeroDivisionError for a pace of 0 (callers check that pace is positive first).
    """
    if unit == "km/h":
        return value / 3.6
    if unit == "min/km":
        return 1000.0 / (60.0 * value)
    if unit == "min/mile":
        return METRES_PER_MILE / (60.0 * value)
    return value


def load_from_si(value: float, unit: LoadUnit) -> float:
    """Load in W or m/s -> the unit asked for; a speed of 0 is an infinite pace."""
    if unit == "km/h":
        return value * 3.6
    if unit == "min/km":
        return 1000.0 / (60.0 * value) if value > 0 else math.inf
    if unit == "min/mile":
        return METRES_PER_MILE / (60.0 * value) if value > 0 else math.inf
    return value


def parse_load(typed: float | str, unit: LoadUnit) -> float | None:
    """A load as typed, 180 or "5:30" (pace units only), in decimal `unit`; None where it is not one."""
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


def pace_text(minutes: float) -> str:
    """Decimal minutes -> "m:ss"."""
    if not math.isfinite(minutes):
        return "–"
    seconds = round(minutes * 60)
    return f"{seconds // 60}:{seconds % 60:02d}"


def load_text(value_si: float | None, unit: LoadUnit) -> str:
    """A load for people: "180 W", "10.4 km/h" or "5:46 min/km"; a dash where there is none."""
    if value_si is None or not math.isfinite(value_si):
        return "–"
    value = load_from_si(value_si, unit)
    if unit == "W":
        return f"{value:.0f} W"
    if unit == "km/h":
        return f"{value:.1f} km/h"
    return f"{pace_text(value)} {unit}"


def duration_text(seconds: float) -> str:
    """Seconds -> "2 h 05", "47 min" or "38 s"."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    minutes = round(whole / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d}"


def clock_text(seconds: float) -> str:
    """Elapsed seconds -> "h:mm:ss"."""
    whole = int(seconds)
    return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"
