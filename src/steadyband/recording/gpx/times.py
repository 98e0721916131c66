"""Times of GPX points, whole columns at once, to the last bit as gpxpy reads them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
from gpxpy.gpxfield import TIME_TYPE
from numpy.typing import NDArray

from steadyband.recording.gpx.digits import Octets, are_digits, by_layout, octets, whole
from steadyband.recording.model import BoolArray, FloatArray

_YEAR, _MONTH, _DAY = range(4), range(5, 7), range(8, 10)
_HOUR, _MINUTE, _SECOND = range(11, 13), range(14, 16), range(17, 19)
_DIGITS = (*_YEAR, *_MONTH, *_DAY, *_HOUR, *_MINUTE, *_SECOND)
_SIGNS = {4: "-", 7: "-", 13: ":", 16: ":"}
_YEARS = (1600, 2200)
"""Within these, microseconds since 1970 are exact in float64."""


def unix_times(texts: Sequence[str]) -> FloatArray:
    """Unix seconds [n] of ISO 8601 times as GPX writes them (SOURCES S9); NaN where gpxpy sees no time.

    A time without a zone is UTC by the standard. Texts of one layout, such as 2026-05-02T06:31:04.250Z, are read
    together; anything unusual goes through gpxpy itself.
    """
    return by_layout(texts, _same_layout, one_time)


def one_time(text: str | None) -> float:
    """One time through gpxpy; NaN where it sees none, or none that a calendar has."""
    time: datetime | None = TIME_TYPE.from_string(text) if text is not None else None
    if time is None:
        return float("nan")
    try:
        return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return float("nan")


def _same_layout(texts: Sequence[str]) -> tuple[BoolArray, FloatArray]:
    """(which texts are laid out like the first one, and are valid times; their Unix seconds)."""
    first = texts[0]
    fraction = _fraction_length(first)
    zone = _zone_s(first[19 + fraction :]) if fraction >= 0 else None
    if zone is None or first[10] not in "T ":
        return np.zeros(len(texts), dtype=bool), np.full(len(texts), np.nan)
    rows = octets(texts, len(first))
    values, valid = _values(rows, fraction)
    valid &= _written_alike(rows, range(20, 19 + fraction), first)
    return valid, np.where(valid, values - zone, np.nan)


def _fraction_length(text: str) -> int:
    """Characters of the fraction with its point; -1 where the text is too short or its fraction is not plain."""
    if len(text) < 19 or not text.isascii():
        return -1
    if text[19:20] != ".":
        return 0
    digits = len(text[20:]) - len(text[20:].lstrip("0123456789"))
    return 1 + digits if 1 <= digits <= 15 else -1


def _zone_s(zone: str) -> int | None:
    """Seconds east of UTC that gpxpy makes of a zone; None where it would refuse the time, or the zone is unusual."""
    if zone in ("", "Z"):
        return 0
    if zone[0] not in "+-":
        return None
    east = one_time("2000-01-01T12:00:00Z") - one_time(f"2000-01-01T12:00:00{zone}")
    return int(east) if east == east else None


def _written_alike(rows: Octets, fraction: range, first: str) -> BoolArray:
    places = (*_DIGITS, *fraction)
    alike = are_digits(rows, places)
    signs = {**_SIGNS, **{place: first[place] for place in (10, *range(19, len(first))) if place not in places}}
    for place, sign in signs.items():
        alike &= rows[:, place] == ord(sign)
    return alike


def _values(rows: Octets, fraction: int) -> tuple[FloatArray, BoolArray]:
    """(Unix seconds by the written clock, where such a date and time exists)."""
    year, month, day = whole(rows, _YEAR), whole(rows, _MONTH), whole(rows, _DAY)
    hour, minute, second = whole(rows, _HOUR), whole(rows, _MINUTE), whole(rows, _SECOND)
    valid = (year >= _YEARS[0]) & (year < _YEARS[1]) & (month >= 1) & (month <= 12)
    first, length = _month(np.where(valid, (year - 1970) * 12 + month - 1, 0))
    valid &= (day >= 1) & (day <= length) & (hour < 24) & (minute < 60) & (second < 60)
    seconds = (first + day - 1) * 86400 + hour * 3600 + minute * 60 + second
    return _with_fraction(seconds, rows, fraction), valid


def _month(months: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """(days from 1970-01-01 to the first of a month, days it has), by months since January 1970."""
    low, high = int(months.min()), int(months.max())
    firsts = np.arange(low, high + 2).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    return firsts[months - low], np.diff(firsts)[months - low]


def _with_fraction(seconds: NDArray[np.int64], rows: Octets, fraction: int) -> FloatArray:
    kept = min(fraction - 1, 6)
    if kept < 1:
        return seconds.astype(np.float64)
    micro = whole(rows, range(20, 20 + kept)) * 10 ** (6 - kept)
    exact: FloatArray = (seconds * 1_000_000 + micro) / 1e6
    return exact
