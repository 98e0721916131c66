"""From the form of a new test to its plan, and to the answers that a test begins with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from steadyband.ground.errors import UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit
from steadyband.steptest.dialogue.plan import PlanRequest, TestPlan, answers_of, plan_test
from steadyband.steptest.dialogue.questions import read_load, read_number
from steadyband.steptest.model import ZoneSet

SPORTS = ("cycling", "running")


def sport_of(given: Mapping[str, str], tests: Sequence[ZoneSet]) -> str:
    """The sport named, else that of the earlier test chosen."""
    last = _last(given, tests)
    sport = given.get("sport") or (last.test.sport if last else "")
    if sport not in SPORTS:
        raise UsageError(f"expected a test by bike or by foot, found {sport!r}.")
    return sport


def plan_of(given: Mapping[str, str], tests: Sequence[ZoneSet], settings: StepTestSettings) -> TestPlan:
    """The plan that a form asks for. Raises UsageError, in a sentence, where it cannot be made."""
    last, sport, mass = _last(given, tests), sport_of(given, tests), _mass(given)
    steady = given.get("steady", "").strip()
    unit: LoadUnit = "W" if sport == "cycling" else "min/km" if ":" in steady else "km/h"
    request = PlanRequest(sport, unit, mass, read_load(steady, unit) if steady else None, last)
    return plan_test(request, last.settings if last else settings)


def answers(
    given: Mapping[str, str], tests: Sequence[ZoneSet], settings: StepTestSettings, today: date
) -> dict[str, Any]:
    """What is known before the first question: from the plan where one can be made, else what the form holds."""
    live = given.get("how") == "live"
    found: dict[str, Any] = {"live": live, "sport": sport_of(given, tests)}
    if live:
        found["date"] = today.isoformat()
    if (mass := _mass(given)) is not None:
        found["mass_kg"] = mass
    if given.get("steady", "").strip() or _last(given, tests):
        found |= answers_of(plan_of(given, tests, settings), _last(given, tests))
    return found


def _mass(given: Mapping[str, str]) -> float | None:
    text = given.get("mass", "").strip()
    return read_number(text, "a body mass in kg", 25, 250) if text else None


def _last(given: Mapping[str, str], tests: Sequence[ZoneSet]) -> ZoneSet | None:
    numbered = {str(number): item for number, item in enumerate(tests, 1)}
    return numbered.get(given.get("last", ""))
