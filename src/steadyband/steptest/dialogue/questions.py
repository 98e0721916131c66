"""What must be known before a test that is entered step by step begins. Pure: answers in, the next question out."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from steadyband.ground.dates import DayError, read_day
from steadyband.ground.errors import UsageError
from steadyband.ground.sports import sport_named
from steadyband.ground.units import LoadUnit, load_from_si, load_to_si, pace_text, parse_load
from steadyband.steptest.dialogue.draft import Draft, Event, unit_of
from steadyband.steptest.dialogue.plan import bike_step_height, foot_step_height

LOAD_BOUNDS: Mapping[str, tuple[float, float]] = {"W": (20.0, 1500.0), "km/h": (2.0, 30.0)}
"""Loads that a person may type for a step (design choice: below is a lactate reading, beyond no step test goes)."""
LETTERS: Mapping[str, str] = {"b": "bike", "c": "cycling", "f": "foot", "r": "running"}


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to know before the test: its key, what to ask, and the answer that Enter gives."""

    key: str
    text: str
    default: str
    read: Callable[[str], Any]


def next_question(draft: Draft, today: date) -> Question | None:
    """The next thing to ask before the test begins; None when all is known. `today` is the date proposed."""
    answers = draft.answers
    for question in _questions(answers, today):
        if question.key not in answers:
            return question
    return None


def answer(question: Question, text: str, now_s: float) -> Event:
    """The event of an answered question; raises UsageError where the answer cannot be used."""
    value = question.read(text.strip() or question.default)
    return Event("set", now_s, {"key": question.key, "value": value, "asked": True})


def day_in_name(name: str) -> date | None:
    """The date that a file name tells, such as 2026-06-15-bike.toml; None without one."""
    found = re.search(r"(?<!\d)(\d{4}-\d{2}-\d{2})(?!\d)", name)
    try:
        return date.fromisoformat(found[1]) if found else None
    except ValueError:
        return None


CHANGES: Mapping[str, str] = {
    "date": "date", "state": "state", "mass": "mass_kg", "minutes": "step_minutes", "height": "step_height",
    "incline": "incline", "analyser": "analyser", "meter": "meter", "position": "position", "recording": "recording",
}  # fmt: skip
"""Answers that may be changed once the test has begun: the word to type, and the key."""


def changed(words: list[str], draft: Draft, now_s: float) -> tuple[Event, ...]:
    """The events of `change WHAT VALUE`; raises UsageError where there is no such answer, or the value cannot be used."""
    named = CHANGES.get(words[0].casefold()) if words else None
    questions = {question.key: question for question in (*_questions(draft.answers, date.min), *_rest())}
    if named is None or named not in questions:
        known = [word for word, key in CHANGES.items() if key in questions]
        found = f", found {words[0]!r}" if words else ""
        raise UsageError(f"expected one of {', '.join(known)} after `change`{found}.", hint="Such as `change mass 58`.")
    if len(words) < 2:
        raise UsageError(f"expected what {words[0]} is to be, found nothing.", hint="Such as `change mass 58`.")
    event = answer(questions[named], " ".join(words[1:]), now_s)
    taken = Event("set", now_s, {"key": named, "value": event.data["value"]})
    if named == "step_height" and draft.answers.get("loads"):
        first = Event("set", now_s, {"key": "first_load", "value": float(draft.answers["loads"][0])})
        return (first, Event("set", now_s, {"key": "loads", "value": []}), taken)
    return (taken,)


def _rest() -> tuple[Question, ...]:
    """What is never asked but may stand in a test file."""
    height = Question("step_height", "step height", "", _reader("a step height", 0.1, 200))
    return (height, Question("position", "position", "", str), Question("recording", "recording", "", str))


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
        return read_day(text).isoformat()
    except DayError as fault:
        raise UsageError(f"{fault}, found {text!r}.") from None


def _read_sport(text: str) -> str:
    sport = sport_named(LETTERS.get(text.casefold(), text))
    if sport not in ("cycling", "running"):
        raise UsageError(f"expected bike or foot (cycling and running mean the same), found {text!r}.")
    return sport


def _read_unit(text: str) -> str:
    if text.casefold() not in ("km/h", "min/km", "min/mile"):
        raise UsageError(f"expected km/h, min/km or min/mile, found {text!r}.")
    return text.casefold()


def _read_state(text: str) -> str:
    if text.casefold() not in ("fed", "fasted"):
        raise UsageError(f"expected fed or fasted, found {text!r}.")
    return text.casefold()


def _reader(what: str, low: float, high: float) -> Callable[[str], float]:
    return lambda text: read_number(text, what, low, high)


UNITS = r"(kg|w|km/h|min/km|min/mile|min|minutes?|%|bpm|mmol/l|mmol)"


def read_number(text: str, what: str, low: float, high: float) -> float:
    """A number within bounds, decimal point or comma, its unit behind it or not; raises UsageError otherwise."""
    bare = re.sub(rf"(?<=\d)\s*{UNITS}$", "", text.strip(), flags=re.IGNORECASE)
    try:
        value = float(bare.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise UsageError(f"expected {what}, found {text!r}.", hint="Type `help` for what can be typed.")
    if not low <= value <= high:
        raise UsageError(f"expected {what} from {low:g} to {high:g}, found {text}.")
    return value


def read_load(text: str, unit: LoadUnit) -> float:
    """A load as typed, 145, 9,5 or 6:30 (a pace; in a test in km/h it is turned into a speed), in decimal `unit`.

    Raises UsageError where it is none, beyond what a person does, or may be read in two ways: 7.30 for 7:30, 5,40 for 5:40.
    """
    bare = text.strip()
    named = next(
        (name for name in ("min/mile", "min/km", "km/h", "W") if bare.casefold().endswith(name.casefold())), ""
    )
    bare = bare[: len(bare) - len(named)].strip()
    if named and named != unit and not (unit == "km/h" and named == "min/km"):
        raise UsageError(f"expected a load in {unit} as in the rest of this test, found {text!r}.")
    if ":" in bare and unit != "W":
        return _within_bounds(_paced(bare, unit), unit, text)
    if not named or unit != "km/h":
        _ask_if_pace(bare, unit)
    low, high = LOAD_BOUNDS["W"] if unit == "W" else (-math.inf, math.inf)
    return _within_bounds(read_number(bare, f"a load in {unit}", low, high), unit, text)


def _paced(bare: str, unit: LoadUnit) -> float:
    pace: LoadUnit = "min/km" if unit == "km/h" else unit
    value = parse_load(bare, pace)
    if value is None or value <= 0:
        raise UsageError(f"expected a pace as minutes:seconds, such as 6:30, found {bare!r}.")
    return round(load_from_si(load_to_si(value, pace), unit), 2) if unit == "km/h" else value


def _ask_if_pace(bare: str, unit: LoadUnit) -> None:
    """Raises UsageError, as a question, where a number may be a pace written with a point or comma."""
    parts = re.fullmatch(r"(\d+)[.,](\d+)", bare)
    if parts is None or unit == "W" or (unit == "km/h" and len(parts[2]) != 2):
        return
    value, meant = float(f"{parts[1]}.{parts[2]}"), f"{parts[1]}:{parts[2].ljust(2, '0')[:2]}"
    if unit == "km/h":
        raise UsageError(
            f"{bare}: is that {value:g} km/h, or a pace of {meant} min/km?", hint=f"Type `{value:g} km/h` or `{meant}`."
        )
    raise UsageError(
        f"{bare}: is that {meant}, or {value:g} minutes, which is {pace_text(value)} {unit}?",
        hint="Type a pace with a colon, such as 7:30.",
    )


def _within_bounds(value: float, unit: LoadUnit, typed: str) -> float:
    bounds = LOAD_BOUNDS["W" if unit == "W" else "km/h"]
    speed = value if unit in ("W", "km/h") or value <= 0 else load_from_si(load_to_si(value, unit), "km/h")
    if not bounds[0] <= speed <= bounds[1]:
        ends = bounds if unit in ("W", "km/h") else _paces(bounds, unit)
        told = " to ".join(f"{end:g}" if unit in ("W", "km/h") else pace_text(end) for end in ends)
        raise UsageError(f"expected a load in {unit} from {told}, found {typed}.")
    return value


def _paces(bounds: tuple[float, float], unit: LoadUnit) -> tuple[float, float]:
    slow, fast = (load_from_si(load_to_si(bound, "km/h"), unit) for bound in bounds)
    return fast, slow
