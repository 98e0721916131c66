"""Time zones: that of this machine, to propose, and those of the athlete's trips."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown

TRIP_KEYS = ("from", "to", "time_zone")


@dataclass(frozen=True, slots=True)
class Trip:
    """Days abroad, the first and the last included, counted in the zone of that place."""

    first: date
    last: date
    zone: ZoneInfo


def local_time(moment: datetime, home: ZoneInfo, trips: Iterable[Trip]) -> datetime:
    """A moment on the athlete's own clock: that of a trip where its day there is one of the trip's, else that of home.

    >>> from datetime import UTC
    >>> trip = Trip(date(2026, 5, 10), date(2026, 5, 12), ZoneInfo("Asia/Tokyo"))
    >>> str(local_time(datetime(2026, 5, 9, 22, tzinfo=UTC), ZoneInfo("Europe/Lisbon"), [trip]))
    '2026-05-10 07:00:00+09:00'
    """
    for trip in trips:
        there = moment.astimezone(trip.zone)
        if trip.first <= there.date() <= trip.last:
            return there
    return moment.astimezone(home)


def named_zone(key: object, file: str, place: str) -> ZoneInfo:
    """The time zone of an IANA name. Raises AthleteFileError where there is none of that name."""
    try:
        return ZoneInfo(key if isinstance(key, str) else "")
    except (ZoneInfoNotFoundError, ValueError, OSError) as fault:
        raise AthleteFileError(
            f'expected an IANA time zone such as "Europe/Lisbon", found {shown(key)}.', file=file, place=place
        ) from fault


def parse_trips(tables: object, file: str) -> tuple[Trip, ...]:
    """The tables [[trip]] of athlete.toml in time order.

    Raises AthleteFileError where a key is missing, strange or faulty, a trip ends before it begins, or two share a day.
    """
    if not isinstance(tables, list):
        raise AthleteFileError("expected tables [[trip]].", file=file, place="trip")
    trips = [_trip(table, file, f"trip {number}") for number, table in enumerate(tables, 1)]
    trips.sort(key=lambda trip: trip.first)
    for before, after in pairwise(trips):
        if after.first <= before.last:
            raise AthleteFileError(
                f"two trips share {after.first}.",
                file=file,
                place="trip",
                hint="A day belongs to one trip: end the first sooner.",
            )
    return tuple(trips)


def _trip(table: object, file: str, place: str) -> Trip:
    if not isinstance(table, Mapping) or set(table) != set(TRIP_KEYS):
        found = ", ".join(map(str, table)) if isinstance(table, Mapping) else shown(table)
        raise AthleteFileError(
            f"expected the keys {', '.join(TRIP_KEYS)}; found {found or 'none'}.", file=file, place=place
        )
    first, last = (_day(table, key, file, place) for key in ("from", "to"))
    if last < first:
        raise AthleteFileError(f"expected a last day from {first} on, found {last}.", file=file, place=f"{place}, to")
    return Trip(first, last, named_zone(table["time_zone"], file, f"{place}, time_zone"))


def _day(table: Mapping[str, Any], key: str, file: str, place: str) -> date:
    value = table[key]
    if isinstance(value, str):
        with contextlib.suppress(ValueError):
            value = date.fromisoformat(value)
    if not isinstance(value, date) or isinstance(value, datetime):
        raise AthleteFileError(
            f"expected a date such as 2026-05-10, found {shown(value)}.", file=file, place=f"{place}, {key}"
        )
    return value


def machine_zone() -> str | None:
    """The IANA name of this machine's time zone, None where it does not tell: the variable TZ, /etc/timezone, or where /etc/localtime
    leads."""
    return next((name for name in _told_zones() if _is_zone(name)), None)


def _told_zones() -> Iterable[str]:
    yield os.environ.get("TZ", "").removeprefix(":")
    with contextlib.suppress(OSError, UnicodeDecodeError):
        yield Path("/etc/timezone").read_text(encoding="utf-8").strip()
    yield os.path.realpath("/etc/localtime").partition("zoneinfo/")[2]


def _is_zone(name: str) -> bool:
    try:
        return bool(name) and bool(ZoneInfo(name))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
