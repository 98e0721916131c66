"""The athlete's own data as a form: each value with its help and its limits, written into athlete.toml where it stands."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from steadyband.athlete.athlete import SIZE_MAX
from steadyband.athlete.edit import set_values
from steadyband.athlete.rider import RANGES, TEETH
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.opening import small_text
from steadyband.ground.reader import CLOCKS, UNITS

Kind = Literal["text", "choice", "number", "teeth"]


@dataclass(frozen=True, slots=True)
class Field:
    """One value of athlete.toml: its keys, what it is called, a line of help, how it is written, what it may be."""

    keys: tuple[str, ...]
    label: str
    help: str
    kind: Kind = "text"
    choices: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Its name in the form and in messages."""
        return ".".join(self.keys)


def _limits(place: str) -> str:
    low, high, unit = RANGES[place]
    return f"{low:g} to {high:g} {unit}".rstrip()


FIELDS = (
    Field(("name",), "Name", "Shown at the top of the pages; leave it empty to show none."),
    Field(
        ("time_zone",), "Time zone", "Days and weeks are counted in it. This browser’s is proposed where it differs."
    ),
    Field(("units",), "Units", "Miles brings feet, mph and minutes a mile as well; watts stay watts.", "choice", UNITS),
    Field(("clock",), "Clock", "Times of day on every page.", "choice", CLOCKS),
    Field(
        ("body", "mass_kg"),
        "Body mass, kg",
        f"{_limits('body.mass_kg')}. For step heights, climbs and gears.",
        "number",
    ),
    Field(
        ("bike", "mass_kg"),
        "Bike, kg",
        f"{_limits('bike.mass_kg')}. With both masses, hills that force a surge are told.",
        "number",
    ),
    Field(("bike", "chainrings"), "Chainrings, teeth", f"Such as 46, 30; {TEETH[0]} to {TEETH[1]} each.", "teeth"),
    Field(("bike", "cassette"), "Cassette, teeth", "Such as 11, 13, 15, 17, 19, 22, 25, 28, 32, 36.", "teeth"),
    Field(("bike", "wheel_circumference_m"), "Wheel, m around", f"{_limits('bike.wheel_circumference_m')}.", "number"),
    Field(("bike", "cadence_floor"), "Slowest smooth cadence uphill", f"{_limits('bike.cadence_floor')}.", "number"),
    Field(
        ("privacy_m",),
        "Hidden ends of a track, m",
        "0 to 100000. Positions this near to start and end are never drawn.",
        "number",
    ),
)
ALWAYS = ("time_zone", "units", "clock")
"""Values that are never taken out; an empty field leaves them as they are."""


def values(path: Path) -> dict[str, str]:
    """What athlete.toml holds for each field, as it is typed."""
    table = tomllib.loads(small_text(path, SIZE_MAX))
    return {field.name: _text(_found(table, field.keys)) for field in FIELDS}


def _found(table: Mapping[str, Any], keys: tuple[str, ...]) -> object:
    value: object = table
    for key in keys:
        value = value.get(key) if isinstance(value, Mapping) else None
    return value


def _text(value: object) -> str:
    if value is None:
        return ""
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def save(path: Path, given: Mapping[str, str]) -> int:
    """Writes the fields that changed; how many did. Raises AthleteFileError naming the field; nothing is then written."""
    before = values(path)
    changed = {
        field.keys: _read(field, given[field.name].strip())
        for field in FIELDS
        if field.name in given and given[field.name].strip() != before[field.name]
        if given[field.name].strip() or field.name not in ALWAYS
    }
    if changed:
        set_values(path, changed)
    return len(changed)


def _read(field: Field, text: str) -> str | float | list[int] | None:
    if not text and field.name != "name":
        return None
    if field.kind == "number":
        return _number(field, text)
    if field.kind == "teeth":
        parts = re.split(r"[\s,;/-]+", text)
        if not all(part.isdecimal() and len(part) < 4 for part in parts):
            raise AthleteFileError(f"expected numbers of teeth such as 46, 30; found {text[:60]!r}.", place=field.label)
        return [int(part) for part in parts]
    return text


def _number(field: Field, text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise AthleteFileError(f"expected a number, found {text[:60]!r}.", place=field.label) from None
    return int(value) if value == int(value) and abs(value) < 1e9 else value
