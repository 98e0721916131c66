"""Which test a session is judged by (METHOD 1.5)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from steadyband.ground.said import Said
from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.checks import BLOCKING
from steadyband.steptest.model import ZoneSet


@dataclass(frozen=True, slots=True)
class Choice:
    """The zone set in force, its age and freshness ("current", "ageing" or "stale").

    `age_days` is negative where the test was made so many days after the session. `why` says why none applies; `passed_over`
    that a later test was blocked. `reason` and `note` are the same in words. `named`: the test was named, not found by date.
    """

    zone_set: ZoneSet | None
    age_days: int | None
    freshness: str | None
    why: Said | None = None
    passed_over: Said | None = None
    named: bool = False

    @property
    def reason(self) -> str | None:
        """Why no test applies, a sentence."""
        return choice_text(self.why) if self.why else None

    @property
    def note(self) -> str | None:
        """That a later test was passed over, a sentence."""
        return choice_text(self.passed_over) if self.passed_over else None


def choose(
    zone_sets: Sequence[ZoneSet],
    sport: str,
    on: date,
    settings: StepTestSettings,
    state: str | None = None,
) -> Choice:
    """The latest usable test of the sport (and state, where given) on or before a local date.

    Where there is none, the first usable test after that date counts if it was made within `before_first_days` days: whoever
    tested yesterday sees last week. Of several on one day the last by file name counts. Returns a Choice without a zone set,
    but with the reason, where none applies.
    """
    return _choose(zone_sets, sport, on, settings, state, settings.before_first_days)


def choose_named(zone_sets: Sequence[ZoneSet], sport: str, on: date, settings: StepTestSettings) -> Choice:
    """The same among tests that somebody named: a later one counts however much later it was made."""
    return replace(_choose(zone_sets, sport, on, settings, None, None), named=True)


def _choose(
    zone_sets: Sequence[ZoneSet],
    sport: str,
    on: date,
    settings: StepTestSettings,
    state: str | None,
    before_days: int | None,
) -> Choice:
    tests = [item for item in zone_sets if item.test.sport == sport and state in (None, item.test.state)]
    tests.sort(key=lambda item: (item.test.date, item.test.file))
    earlier = [item for item in tests if item.test.date <= on]
    usable = [item for item in earlier if item.usable]
    if not usable:
        later_on = [item for item in tests if item.test.date > on and _reaches_back(item, on, before_days)]
        first = next((item for item in later_on if item.usable), None)
        if first is None:
            return Choice(None, None, None, _why(tests, earlier or later_on[:1], sport, on, state, before_days))
        return Choice(first, (on - first.test.date).days, "current")
    chosen = usable[-1]
    age = (on - chosen.test.date).days
    later = earlier[-1]
    passed = None if later is chosen else Said("later_test_blocked", _blocked(later) | {"used": str(chosen.test.date)})
    return Choice(chosen, age, freshness(age, settings), None, passed)


def tests_made_on(zone_sets: Iterable[ZoneSet], sport: str, day: date) -> tuple[ZoneSet, ...]:
    """The tests of a sport that were made on a local date, usable or not."""
    return tuple(item for item in zone_sets if (item.test.sport, item.test.date) == (sport, day))


def _reaches_back(item: ZoneSet, on: date, before_days: int | None) -> bool:
    return before_days is None or (item.test.date - on).days <= before_days


def freshness(age_days: int, settings: StepTestSettings) -> str:
    """ "current", "ageing" (older than 56 days) or "stale" (older than 112 days) by default (METHOD 1.5)."""
    if age_days > settings.stale_days:
        return "stale"
    return "ageing" if age_days > settings.ageing_days else "current"


def _why(
    tests: list[ZoneSet], earlier: list[ZoneSet], sport: str, on: date, state: str | None, before_days: int | None
) -> Said:
    kind = {"kind": f"{state} {sport}" if state else sport}
    if sport in ("unknown", "generic"):
        return Said("sport_unknown")
    if not tests:
        return Said("no_test_of_sport", kind)
    if not earlier:
        dates = {"test_date": str(tests[0].test.date), "session_date": str(on)}
        return Said("test_is_newer", kind | dates | {"before_days": before_days or 0})
    return Said("test_blocked", kind | _blocked(earlier[-1]))


def _blocked(zone_set: ZoneSet) -> dict[str, Any]:
    """Date and sport of a test, and the checks that block it with their numbers."""
    checks = [(check.code, dict(check.numbers)) for check in zone_set.checks if check.severity == "block"]
    return {"test_date": str(zone_set.test.date), "sport": zone_set.test.sport, "checks": checks}


def choice_text(said: Said) -> str:
    """Why no test applies, or that a later one was passed over, in a sentence.

    >>> choice_text(Said("no_test_of_sport", {"kind": "fasted cycling"}))
    'There is no step test for fasted cycling.'
    """
    numbers = said.numbers
    if said.code == "sport_unknown":
        return "The recording does not say its sport: name it with --sport, or in sessions.csv."
    if said.code == "no_test_of_sport":
        return f"There is no step test for {numbers['kind']}."
    if said.code == "test_is_newer":
        return (
            f"The {numbers['kind']} test of {numbers['test_date']} is newer than the session of {numbers['session_date']}, "
            f"by more than the {numbers['before_days']} days before a first test that are judged by it."
        )
    blocks = " ".join(_check_text(code, numbers["sport"], found) for code, found in numbers["checks"])
    blocks = f"{blocks[:1].lower()}{blocks[1:]}"
    if said.code == "test_blocked":
        return f"The {numbers['kind']} test of {numbers['test_date']} is blocked: {blocks}"
    return f"The later test of {numbers['test_date']} is blocked, so the one of {numbers['used']} is used: {blocks}"


def _check_text(code: str, sport: str, numbers: Mapping[str, float]) -> str:
    words = BLOCKING.get(code)
    return words(sport, numbers) if words else f"{code.replace('_', ' ')}."
