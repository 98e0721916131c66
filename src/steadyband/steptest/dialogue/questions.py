"""What must be known before a test that is entered step by step begins. Pure: answers in, the next question out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from steadyband.ground.errors import UsageError
from steadyband.ground.units import LoadUnit, load_from_si, load_to_si, parse_load
from steadyband.steptest.dialogue.draft import Draft, Event, unit_of
from steadyband.steptest.dialogue.plan import bike_step_height, foot_step_height

SPORTS: Mapping[str, str] = {
    "cycling": "cycling", "bike": "cycling", "b": "cycling", "c": "cycling",
    "running": "running", "run": "running", "foot": "running", "r": "running",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to know before the test: its key, what to ask, and the answer that Enter gives."""

    key: str
    text: str
    default: str
    read: Callable[[str], Any]


def next_question(draft: Draft, today: date) -> Question | None:
    """The next thing to ask before the test begins; None when all is known."""
    answers = draft.answers
    for question in _questions(answers, today):
        if question.key not in answers:
            return question
    return None


def answer(question: Question, text: str, now_s: float) -> Event:
    """The event of an answered question; raises UsageError where the answer cannot be used."""
    return Event("set", now_s, {"key": question.key, "value": question.read(text.strip() or question.default)})


def _questions(answers: Mapping[str, Any], today: date) -> tuple[Question, ...]:
    head = (
        Question("date", "date of the test", today.isoformat(), _read_date),
        Question("sport", "by bike or by foot? (bike, foot)", "bike", _read_sport),
    )
    if "sport" not in answers:
        return head
    bike = answers["sport"] == "cycling"
    unit = () if bike else (Question("load_unit", "loads in km/h, min/km or min/mile?", "km/h", _read_unit),)
    if not bike and "load_unit" not in answers:
        return (*head, *unit)
    return (*head, *unit, *_middle(answers, bike), *_loads(answers, bike), *_devices(bike))


def _middle(answers: Mapping[str, Any], bike: bool) -> tuple[Question, ...]:
    mass = (Question("mass_kg", "body mass in kg", "", _reader("a body mass in kg", 25, 250)),) if bike else ()
    return (
        Question("state", "fed or fasted, as you train?", "fed", _read_state),
        *mass,
        Question("step_minutes", "minutes per step", "10", _reader("minutes", 1, 60)),
    )


def _loads(answers: Mapping[str, Any], bike: bool) -> tuple[Question, ...]:
    if answers.get("loads"):
        return ()
    unit = unit_of(answers)
    first = Question("first_load", f"load of the first step, {unit}", "", lambda text: read_load(text, unit))
    if "first_load" not in answers:
        return (first,)
    if bike and answers.get("mass_kg"):
        height = bike_step_height(float(answers["mass_kg"]))
    else:
        height = (
            20.0 if bike else foot_step_height(load_from_si(load_to_si(float(answers["first_load"]), unit), "km/h"))
        )
    high = Question(
        "step_height", f"step height, {'W' if bike else 'km/h'}", f"{height:g}", _reader("a step height", 0.1, 200)
    )
    return (first, high)


def _devices(bike: bool) -> tuple[Question, ...]:
    incline = (
        () if bike else (Question("incline", "incline of the treadmill, %", "0", _reader("an incline in %", -10, 45)),)
    )
    meter = "power meter or trainer (its name, or Enter)" if bike else "treadmill or watch (its name, or Enter)"
    return (
        *incline,
        Question("analyser", "lactate analyser (its name, or Enter)", "", str),
        Question("meter", meter, "", str),
    )


def _read_date(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise UsageError(f"expected a date such as 2026-04-20, found {text!r}.") from None


def _read_sport(text: str) -> str:
    if text.casefold() not in SPORTS:
        raise UsageError(f"expected bike or foot, found {text!r}.")
    return SPORTS[text.casefold()]


def _read_unit(text: str) -> str:
    if text not in ("km/h", "min/km", "min/mile"):
        raise UsageError(f"expected km/h, min/km or min/mile, found {text!r}.")
    return text


def _read_state(text: str) -> str:
    if text.casefold() not in ("fed", "fasted"):
        raise UsageError(f"expected fed or fasted, found {text!r}.")
    return text.casefold()


def _reader(what: str, low: float, high: float) -> Callable[[str], float]:
    return lambda text: read_number(text, what, low, high)


def read_number(text: str, what: str, low: float, high: float) -> float:
    """A number within bounds, decimal point or comma; raises UsageError otherwise."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise UsageError(f"expected {what}, found {text!r}.", hint="Type `help` for what can be typed.")
    if not low <= value <= high:
        raise UsageError(f"expected {what} from {low:g} to {high:g}, found {text}.")
    return value


def read_load(text: str, unit: LoadUnit) -> float:
    """A load as typed, 145, 9,5 or 6:30 (pace), in decimal `unit`; raises UsageError otherwise."""
    if ":" in text:
        value = parse_load(text, unit)
        if value is None or value <= 0:
            raise UsageError(f"expected a load in {unit}, found {text!r}.")
        return value
    return read_number(text, f"a load in {unit}", 0.5, 1500)
