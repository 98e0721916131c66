"""Checked access to what an athlete typed: every fault names file, place, expected, found and what to try."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from steadyband.ground.dates import read_day
from steadyband.ground.errors import TestFileError
from steadyband.ground.plain import shown

Trail = tuple[str | int, ...]
Place = Callable[[Trail, str], str]


@dataclass(frozen=True, slots=True)
class Fields:
    """One table of a test (the test itself, a step or a sample) with the place it stands at in its file."""

    values: Mapping[str, Any]
    file: str
    path: Trail
    place: Place

    def fault(self, key: str, message: str, hint: str = "") -> TestFileError:
        """The error to raise about `key`."""
        return TestFileError(message, file=self.file, place=self.place(self.path, key), hint=hint)

    def inner(self, key: str, number: int, values: object) -> Fields:
        """The table `number` (from 1) of the list `key`."""
        path = (*self.path, key, number)
        if not isinstance(values, Mapping):
            raise TestFileError(
                f"expected a table, found {shown(values)}.",
                file=self.file,
                place=self.place(path, ""),
                hint=_TABLE_HINT,
            )
        return Fields(values, self.file, path, self.place)

    def check_keys(self, known: Collection[str]) -> None:
        """Raises for the first key that is not known, naming the nearest known one."""
        for key in self.values:
            if key not in known:
                raise self.fault(key, f"there is no key {shown(key)} here.", nearest(str(key), known))

    def has(self, key: str) -> bool:
        """True where the key is there."""
        return self.values.get(key) is not None

    def need(self, key: str, expected: str, hint: str = "") -> Any:
        """The value of a key that must be there."""
        if not self.has(key):
            raise self.fault(key, f"expected {expected}, found nothing.", hint or f"Add {key}.")
        return self.values[key]

    def number(self, key: str, low: float, high: float, unit: str) -> float:
        """A required number from `low` to `high`."""
        return self.checked_number(key, self.need(key, f"a number in {unit}"), low, high, unit)

    def maybe_number(self, key: str, low: float, high: float, unit: str) -> float | None:
        """A number from `low` to `high`, None where the key is not there."""
        return self.number(key, low, high, unit) if self.has(key) else None

    def checked_number(self, key: str, value: object, low: float, high: float, unit: str) -> float:
        """`value` as a finite float from `low` to `high`; anything else raises."""
        number = _real(value)
        if number is None:
            raise self.fault(
                key, f"expected a number in {unit}, found {shown(value, 40)}.", "Type it as a plain number."
            )
        if not low <= number <= high:
            hint = "Correct or leave out this value."
            raise self.fault(key, f"expected {low:g} to {high:g} {unit}, found {number:g}.", hint)
        return number

    def text(self, key: str) -> str:
        """A text, empty where the key is not there."""
        value = self.values.get(key)
        if value is None:
            return ""
        if not isinstance(value, str):
            raise self.fault(key, f"expected a text, found {shown(value)}.", "Put it in quotes.")
        return value.strip()

    def word(self, key: str, allowed: Iterable[str], default: str | None = None, listed: Iterable[str] = ()) -> str:
        """One of the allowed words; `default` where the key is not there, required without one. An error names those `listed`, else all."""
        words = tuple(allowed)
        expected = " or ".join(f'"{item}"' for item in (tuple(listed) or words))
        if default is not None and not self.has(key):
            return default
        value = self.need(key, expected)
        if not isinstance(value, str) or value.strip() not in words:
            raise self.fault(
                key,
                f"expected {expected}, found {shown(value)}.",
                nearest(value if isinstance(value, str) else "", words),
            )
        return value.strip()

    def date(self, key: str) -> date:
        """A date: TOML's own, or text as YYYY-MM-DD or in another form that can be read in one way only (`ground.dates`)."""
        value = self.need(key, "a date as YYYY-MM-DD", "Add the day of the test, e.g. date = 2026-04-20.")
        if isinstance(value, datetime):
            return value.date()
        if isinstance(value, date):
            return value
        try:
            return read_day(value) if isinstance(value, str) else _no_date()
        except ValueError:
            hint = "Write year, month and day, e.g. 2026-04-20."
            raise self.fault(key, f"expected a date as YYYY-MM-DD, found {shown(value)}.", hint) from None

    def clock(self, key: str, unit_s: float) -> float | None:
        """A number, or text as m:ss or h:mm:ss where a number counts units of `unit_s` seconds; in those units."""
        value = self.values.get(key)
        if not isinstance(value, str):
            return self.maybe_number(key, 0, 86400, "min" if unit_s == 60 else "s")
        parts = value.strip().split(":")
        if len(parts) not in (2, 3) or not all(_is_short_number(part) for part in parts) or int(parts[-1]) >= 60:
            raise self.fault(
                key, f"expected a number or m:ss, found {shown(value)}.", 'Write for example 6.5 or "6:30".'
            )
        seconds = 0
        for part in parts:
            seconds = seconds * 60 + int(part)
        return seconds / unit_s


_TABLE_HINT = "Each step starts with [[step]]; each sample looks like {minute = 5, lactate = 1.0}."


def _real(value: object) -> float | None:
    """A finite number as float; None for anything else, also for whole numbers past the range of floats."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def _is_short_number(text: str) -> bool:
    return text.isdecimal() and len(text) <= 6


def _no_date() -> date:
    raise ValueError("not a date")


def nearest(word: str, known: Collection[str]) -> str:
    """A hint that names the known word nearest to `word`, and all of them."""
    near = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.5)
    listed = ", ".join(known)
    return f'Did you mean "{near[0]}"? Known: {listed}.' if near else f"Known: {listed}."
