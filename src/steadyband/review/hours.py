"""One week of sessions: its hours per sport and band; and the tests in force on a day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.folder import AthleteFolder
from steadyband.audit.model import BAND_NAMES, Audit
from steadyband.review.model import SportHours, TestInForce, Week
from steadyband.steptest import ZoneSet
from steadyband.steptest.choose import tests_made_on


def monday_of(day: date) -> date:
    """The Monday of the ISO week of a day.

    >>> monday_of(date(2026, 5, 17))
    datetime.date(2026, 5, 11)
    """
    return day - timedelta(days=day.isoweekday() - 1)


def week_of(monday: date, sessions: Iterable[Condensed], tests: Iterable[ZoneSet]) -> Week:
    """The ISO week that begins on `monday`, out of more sessions and tests than its own."""
    own = tuple(item for item in sessions if monday_of(item.day) == monday)
    made = tuple(item for item in tests if monday_of(item.test.date) == monday)
    return Week(monday, own, made, sport_hours([item.audit for item in own]))


def sport_hours(audits: Sequence[Audit]) -> tuple[SportHours, ...]:
    """Seconds per band and sport over all sessions given, whatever their intent (METHOD 8)."""
    sports = sorted({audit.info.sport for audit in audits})
    return tuple(_hours(sport, [audit for audit in audits if audit.info.sport == sport]) for sport in sports)


def _hours(sport: str, audits: Sequence[Audit]) -> SportHours:
    bands = {name: sum(audit.bands[name].seconds for audit in audits if audit.bands) for name in BAND_NAMES}
    active = sum(audit.seconds.active for audit in audits)
    return SportHours(sport, len(audits), active, bands, active - sum(bands.values()))


def tests_in_force(folder: AthleteFolder, audits: Sequence[Audit], on: date) -> tuple[TestInForce, ...]:
    """The zone set in force on a date for each sport that was done or tested."""
    sports = {zones.test.sport for zones in folder.zone_sets}
    done = {audit.info.sport for audit in audits if audit.info.sport in ("cycling", "running")}
    return tuple(_in_force(folder, sport, on) for sport in sorted(sports | done))


def _in_force(folder: AthleteFolder, sport: str, on: date) -> TestInForce:
    choice = folder.choice(sport, on)
    used = choice.zone_set
    made = tests_made_on(folder.zone_sets, sport, used.test.date) if used and not choice.named else ()
    others = tuple(other for other in made if other is not used)
    return TestInForce(sport, used, choice.age_days, choice.freshness, choice.reason, others)
