"""Units: SI inside; pace, miles, feet and times of day only at the face, as the reader chose (`steadyband.ground.reader`)."""

from __future__ import annotations

import math
from datetime import date, datetime, time

from steadyband.ground.convert import EARTH_RADIUS_M as EARTH_RADIUS_M
from steadyband.ground.convert import FIT_EPOCH_UNIX_S as FIT_EPOCH_UNIX_S
from steadyband.ground.convert import LOAD_UNITS as LOAD_UNITS
from steadyband.ground.convert import METRES_PER_FOOT as METRES_PER_FOOT
from steadyband.ground.convert import METRES_PER_MILE as METRES_PER_MILE
from steadyband.ground.convert import LoadUnit as LoadUnit
from steadyband.ground.convert import ShownUnit as ShownUnit
from steadyband.ground.convert import is_speed as is_speed
from steadyband.ground.convert import load_from_si as load_from_si
from steadyband.ground.convert import load_to_si as load_to_si
from steadyband.ground.convert import parse_load as parse_load
from steadyband.ground.reader import reader


def pace_text(minutes: float) -> str:
    """Decimal minutes -> "m:ss"."""
    if not math.isfinite(minutes):
        return "–"
    seconds = round(minutes * 60)
    return f"{seconds // 60}:{seconds % 60:02d}"


def shown_unit(unit: LoadUnit) -> ShownUnit:
    """The unit a load is shown in: the test's own, or its counterpart in miles where the reader chose miles."""
    if reader().units == "metric":
        return unit
    in_miles: dict[LoadUnit, ShownUnit] = {"km/h": "mph", "min/km": "min/mile"}
    return in_miles.get(unit, unit)


def load_text(value_si: float | None, unit: LoadUnit) -> str:
    """A load for people: "145 W", "9.2 km/h" or "6:31 min/km", in miles where the reader chose them; a dash for none."""
    return _load_text(value_si, shown_unit(unit))


def typed_load_text(value_si: float | None, unit: LoadUnit) -> str:
    """A load in the unit it was or will be typed in, whatever the reader chose: for test files, the plan, the dialogue."""
    return _load_text(value_si, unit)


def _load_text(value_si: float | None, unit: ShownUnit) -> str:
    if value_si is None or not math.isfinite(value_si):
        return "–"
    value = load_from_si(value_si, unit)
    if unit == "W":
        return f"{value:.0f} W"
    if unit in ("km/h", "mph"):
        return f"{value:.1f} {unit}"
    return f"{pace_text(value)} {unit}"


def pace_unit() -> LoadUnit:
    """The unit of a pace for this reader."""
    return "min/mile" if reader().units == "miles" else "min/km"


def speed_unit() -> ShownUnit:
    """The unit of a speed for this reader."""
    return "mph" if reader().units == "miles" else "km/h"


def speed_text(mps: float | None) -> str:
    """A speed [m/s] for people: "27.4 km/h" or "17.0 mph"."""
    return _load_text(mps, speed_unit())


def distance_unit() -> tuple[str, float]:
    """The unit of a distance for this reader and its metres: ("km", 1000) or ("mi", 1609.344)."""
    return ("mi", METRES_PER_MILE) if reader().units == "miles" else ("km", 1000.0)


def height_unit() -> tuple[str, float]:
    """The unit of a height or a short length for this reader and its metres: ("m", 1) or ("ft", 0.3048)."""
    return ("ft", METRES_PER_FOOT) if reader().units == "miles" else ("m", 1.0)


def distance_text(metres: float | None, digits: int = 1) -> str:
    """A distance along the way: "12.7 km" or "7.9 mi"."""
    name, size = distance_unit()
    return _number(metres, size, name, digits)


def height_text(metres: float | None, digits: int = 0) -> str:
    """A height or a short length: "120 m" or "394 ft"."""
    name, size = height_unit()
    return _number(metres, size, name, digits)


def length_text(metres: float | None, digits: int = 1) -> str:
    """The length of a climb or a stretch: "420 m", "1.3 km" or "380 ft", "0.8 mi" (miles from a fifth of one on)."""
    limit = METRES_PER_MILE / 5 if reader().units == "miles" else 1000.0
    return height_text(metres) if metres is None or metres < limit else distance_text(metres, digits)


def place_text(metres: float, digits: int = 1) -> str:
    """A place along the way: "km 12.7" or "mile 7.9"."""
    name, size = distance_unit()
    return f"{'mile' if name == 'mi' else name} {metres / size:.{digits}f}"


def temperature_text(celsius: float | None) -> str:
    """A temperature: "28 °C" or "82 °F"."""
    if reader().units == "miles":
        return _number(None if celsius is None else celsius * 9 / 5 + 32, 1.0, "°F", 0)
    return _number(celsius, 1.0, "°C", 0)


def _number(value: float | None, size: float, unit: str, digits: int) -> str:
    return "–" if value is None or not math.isfinite(value) else f"{value / size:,.{digits}f} {unit}"


def time_of_day(moment: datetime | time, seconds: bool = False) -> str:
    """A local time of day: "08:31", "8:31 am", or with seconds "20:31:04", "8:31:04 pm"."""
    rest = f":{moment.minute:02d}" + (f":{moment.second:02d}" if seconds else "")
    if reader().clock == "24h":
        return f"{moment.hour:02d}{rest}"
    return f"{moment.hour % 12 or 12}{rest} {'am' if moment.hour < 12 else 'pm'}"


def duration_text(seconds: float) -> str:
    """Seconds -> "2 h 05", "47 min" or "38 s"."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    minutes = round(whole / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d}"


def brief_text(seconds: float) -> str:
    """Seconds of a part of a session, such as its time above the ceiling -> "0", "68 s", "2:49 min", from ten minutes on "25 min".

    >>> brief_text(0), brief_text(68), brief_text(169), brief_text(1500)
    ('0', '68 s', '2:49 min', '25 min')
    """
    whole = round(seconds)
    if whole < 120:
        return f"{whole} s" if whole else "0"
    return f"{whole // 60}:{whole % 60:02d} min" if whole < 600 and whole % 60 else duration_text(whole)


def clock_text(seconds: float) -> str:
    """Elapsed seconds -> "h:mm:ss"."""
    whole = int(seconds)
    return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"


def age_text(days: int) -> str:
    """How old something is, in whole days, weeks or years that have passed.

    >>> age_text(-9), age_text(0), age_text(12), age_text(27), age_text(6600)
    ('made 9 days later', 'made the same day', '12 days old', '3 weeks old', '18 years old')
    """
    if days < 0:
        return f"made {counted(-days, 'day')} later"
    if days == 0:
        return "made the same day"
    if days < 21:
        return f"{counted(days, 'day')} old"
    return f"{days // 7} weeks old" if days < 730 else f"{int(days / 365.25)} years old"


def counted(count: int, noun: str, plural: str = "") -> str:
    """A number and its noun.

    >>> counted(1, "surge"), counted(1204, "record"), counted(0, "fish", "fish")
    ('1 surge', '1,204 records', '0 fish')
    """
    return f"{count:,} {noun if count == 1 else plural or noun + 's'}"


def day_words(day: date) -> str:
    """ "Tuesday 28 April"."""
    return f"{day:%A %-d %B}"
