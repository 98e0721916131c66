"""Sessions whose clock cannot be right: long before there were such devices, or in a time that has not come."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

OLDEST = date(1990, 1, 1)
"""No device recorded training in files before: FIT counts from the last day of 1989."""
FAR_DAYS = 60
"""A session in the future counts as astray only so far from every session that is not: a computer's own clock can be behind (design choice)."""


def astray(days: Sequence[date], today: date) -> frozenset[int]:
    """Which sessions, by number, lie on a day that cannot be.

    None where all do: then the clock of this computer is the more likely to be wrong.

    >>> sorted(astray([date(2026, 5, 1), date(2031, 1, 1), date(1901, 1, 1)], date(2026, 5, 20)))
    [1, 2]
    >>> sorted(astray([date(2026, 5, 1), date(2026, 5, 3)], date(2020, 1, 1)))
    []
    """
    late = today + timedelta(days=1)
    sound = [day for day in days if OLDEST <= day <= late]
    if not sound:
        return frozenset()
    return frozenset(
        number
        for number, day in enumerate(days)
        if day < OLDEST or (day > late and min(abs((day - other).days) for other in sound) > FAR_DAYS)
    )
