"""Which test a session is judged by (METHOD 1.5)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.model import ZoneSet


@dataclass(frozen=True, slots=True)
class Choice:
    """The zone set in force, its age and freshness ("current", "ageing" or "stale").

    `reason` says in a sentence why none applies; `note` says that a later test was passed over.
    """

    zone_set: ZoneSet | None
    age_days: int | None
    freshness: str | None
    reason: str | None
    note: str | None = None


def choose(
    zone_sets: Sequence[ZoneSet], sport: str, on: date, settings: StepTestSettings, state: str | None = None
) -> Choice:
    """The latest usable test of the sport (and state, where given) on or before a local date.

    Of several on one day the last by file name counts. Returns a Choice without a zone set, but with the reason, where
    none applies.
    """
    tests = [item for item in zone_sets if item.test.sport == sport and state in (None, item.test.state)]
    tests.sort(key=lambda item: (item.test.date, item.test.file))
    earlier = [item for item in tests if item.test.date <= on]
    usable = [item for item in earlier if item.usable]
    if not usable:
        return Choice(None, None, None, _reason(tests, earlier, sport, on, state))
    chosen = usable[-1]
    age = (on - chosen.test.date).days
    note = _passed_over(earlier[-1], chosen) if earlier[-1] is not chosen else None
    return Choice(chosen, age, freshness(age, settings), None, note)


def freshness(age_days: int, settings: StepTestSettings) -> str:
    """ "current", "ageing" (older than 56 days) or "stale" (older than 112 days) by default (METHOD 1.5)."""
    if age_days > settings.stale_days:
        return "stale"
    return "ageing" if age_days > settings.ageing_days else "current"


def _reason(tests: list[ZoneSet], earlier: list[ZoneSet], sport: str, on: date, state: str | None) -> str:
    kind = f"{state} {sport}" if state else sport
    if sport == "unknown":
        return "The recording does not say its sport: name it with --sport, or in sessions.csv."
    if not tests:
        return f"There is no step test for {kind}."
    if not earlier:
        first = tests[0].test
        return f"The {kind} test of {first.date} is newer than the session of {on}."
    latest = earlier[-1]
    return f"The {kind} test of {latest.test.date} is blocked: {_blocks(latest)}"


def _passed_over(latest: ZoneSet, chosen: ZoneSet) -> str:
    return (
        f"The later test of {latest.test.date} is blocked, so the one of {chosen.test.date} is used: {_blocks(latest)}"
    )


def _blocks(zone_set: ZoneSet) -> str:
    text = " ".join(check.text for check in zone_set.checks if check.severity == "block")
    return f"{text[:1].lower()}{text[1:]}"
