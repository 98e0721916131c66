"""Dates as people type them: the ISO form, and local forms that can be read in one way only."""

from __future__ import annotations

import re
from datetime import date

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
EXPECTED = "a date such as 2026-05-14, 14.5.2026 or 14 May 2026"


class DayError(ValueError):
    """No date, or one that may be read in two ways; the text says what was expected."""


def read_day(text: str) -> date:
    """A date as typed: 2026-05-14, 2026/5/14, 14.5.2026 (dots: the day comes first), 14 May 2026, May 14, 2026, and with slashes
    or dashes 14/5/2026 or 5/14/2026 where one number is over 12.

    Raises DayError where it is none, has a year of two digits, or may be read in two ways.

    >>> read_day("14.5.2026") == read_day("5/14/2026") == read_day("14 May 2026")
    True
    """
    typed = " ".join(text.split()).rstrip(".")
    for pattern, order in _FORMS:
        found = re.fullmatch(pattern, typed, re.IGNORECASE)
        if found:
            parts = dict(zip(order, found.groups(), strict=True))
            return _day(int(parts["y"]), _month(parts["m"]), int(parts["d"]))
    found = re.fullmatch(r"(\d{1,2})([/-])(\d{1,2})\2(\d{4})", typed)
    if found is None:
        raise DayError(f"expected {EXPECTED}")
    first, second, year = int(found[1]), int(found[3]), int(found[4])
    if first <= 12 and second <= 12 and first != second:
        one, other = _day(year, second, first), _day(year, first, second)
        raise DayError(f"this may be {one} or {other}: write it as year-month-day")
    return _day(year, *((second, first) if first > 12 or first == second else (first, second)))


_FORMS = (
    (r"(\d{4})-(\d{1,2})-(\d{1,2})", "ymd"),
    (r"(\d{4})/(\d{1,2})/(\d{1,2})", "ymd"),
    (r"(\d{4})\. ?(\d{1,2})\. ?(\d{1,2})", "ymd"),
    (r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})", "dmy"),
    (r"(\d{1,2})\.? ([a-z]{3,9})\.?,? (\d{4})", "dmy"),
    (r"([a-z]{3,9})\.? (\d{1,2}),? (\d{4})", "mdy"),
)


def _month(text: str) -> int:
    if text.isdecimal():
        return int(text)
    found = [number for number, name in enumerate(MONTHS, 1) if name.startswith(text.casefold())]
    if len(found) != 1:
        raise DayError(f"expected {EXPECTED}")
    return found[0]


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise DayError("there is no such day") from None
