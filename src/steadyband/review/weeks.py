"""A week as people name it."""

from __future__ import annotations

import re
from datetime import date, timedelta

from steadyband.ground.dates import DayError, read_day
from steadyband.ground.errors import UsageError

EXPECTED = "a week such as 2026-W20, last, this, or a date of it such as 2026-05-17"


def day_of_week(text: str, today: date) -> date:
    """A day of the week meant by 2026-W20, last (the week before this one), this, or a date in any unmistakable form.

    Raises UsageError where it names no week.

    >>> str(day_of_week("2026-W20", date(2026, 6, 1))), str(day_of_week("last", date(2026, 6, 1)))
    ('2026-05-17', '2026-05-25')
    """
    word = text.strip().casefold()
    if word in ("last", "this"):
        return today - timedelta(days=7 if word == "last" else 0)
    found = re.fullmatch(r"(\d{4})-?w(\d{1,2})", word)
    try:
        return date.fromisocalendar(int(found[1]), int(found[2]), 7) if found else read_day(text)
    except DayError as fault:
        why = f"expected {EXPECTED}" if str(fault).startswith("expected") else str(fault)
        raise UsageError(f"{why}, found {text!r}.") from None
    except ValueError:
        raise UsageError(f"expected {EXPECTED}; there is no such week, found {text!r}.") from None


def is_same_week(one: date, other: date) -> bool:
    """True where two days are of one ISO week.

    >>> is_same_week(date(2026, 5, 11), date(2026, 5, 17))
    True
    """
    return one.isocalendar()[:2] == other.isocalendar()[:2]
