"""The dialogue of a test that is being done: a typed line and a clock in, an event out. Pure; the face does the talking."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from steadyband.ground.errors import UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import load_from_si, load_to_si
from steadyband.steptest.dialogue.draft import Draft, Event
from steadyband.steptest.dialogue.plan import RUN_FROM_KMH
from steadyband.steptest.dialogue.questions import read_load, read_number
from steadyband.steptest.file.build import MIN_STEPS

LATE_S = 180.0
"""Seconds into a step in which a value still belongs to the step before: the analyser answers late (design choice)."""
EARLY_MIN = 0.5
"""Minutes before its due minute at which a sample still counts as the due one (design choice)."""
HR_LOW, HR_HIGH = 31.0, 230.0
"""A bare number from 31 on is a heart rate: no lactate reading is that high (METHOD 1.1 takes 0.3-30 mmol/L)."""
HELP: tuple[tuple[str, str], ...] = (
    ("1.2", "a lactate sample, mmol/L; 1,2 works too"),
    ("1.2 at 6:30", "the same, with its minute in the step"),
    ("1.2 at 10 step 3", "the same, for a step that is over"),
    ("121", "the highest heart rate of the step, bpm; `121 step 3` for another"),
    ("next", "the next step has begun; `next 185` at another load, `next now` after a stop"),
    ("load 185", "this step was at another load; `load 185 step 3` for another"),
    ("walk, run", "how this step was done, by foot"),
    ("note TEXT", "a note on this step"),
    ("undo", "takes back the last entry; again and again if need be"),
    ("drop 3", "takes step 3 out"),
    ("show", "everything entered so far"),
    ("Enter alone", "the clock"),
    ("finish", "ends the test and writes its file"),
    ("quit", "leaves; everything is saved, and the same command goes on"),
)
"""What can be typed, and what it does."""


@dataclass(frozen=True, slots=True)
class Command:
    """A line that is no entry: show, help, quit, status."""

    name: str


def parse(text: str, draft: Draft, now_s: float, settings: StepTestSettings) -> Event | Command:
    """What a typed line means in this draft at this time.

    Raises UsageError, saying what was expected and found, where it means nothing or cannot be right.
    """
    words = text.strip().split()
    if not words:
        return Command("status")
    verb, rest = words[0].casefold(), words[1:]
    if verb in ("show", "help", "?", "quit", "exit"):
        return Command({"?": "help", "exit": "quit"}.get(verb, verb))
    if verb == "undo":
        return Event("undo", now_s)
    if verb in _VERBS:
        return _VERBS[verb](rest, draft, now_s, settings)
    return _value(words, draft, now_s, settings)


def planned_load(draft: Draft) -> float:
    """The load proposed for the next step, in the test's unit."""
    loads = [float(load) for load in draft.answers.get("loads", ())]
    if not draft.steps:
        return loads[0] if loads else float(draft.answers["first_load"])
    current = load_to_si(draft.steps[-1].load, draft.unit)
    higher = [load for load in loads if load_to_si(load, draft.unit) > current + 1e-6]
    return higher[0] if higher else _one_up(draft, current)


def elapsed_minutes(draft: Draft, now_s: float) -> float:
    """Minutes since the current step began, by the clock."""
    return (now_s - draft.steps[-1].started_s) / 60


def minute_of(draft: Draft, number: int, now_s: float) -> float:
    """The minute a sample typed now was taken at.

    By the clock: the latest due minute that has passed since the last sample, else the latest spare one, else the minute
    it is now, to the half. From paper, or for a step that is over: the next due minute.
    """
    due = due_minutes(draft, number)
    if not draft.live or number < len(draft.steps):
        return due[0] if due else draft.step_minutes
    gone = elapsed_minutes(draft, now_s)
    passed = [minute for minute in due if minute <= gone + EARLY_MIN]
    spare = [minute for minute in draft.spare_minutes if _last_minute(draft, number) < minute <= gone]
    if passed or spare:
        return max(passed or spare)
    return min(max(round(2 * gone) / 2, 0.5), draft.step_minutes)


def due_minutes(draft: Draft, number: int) -> list[float]:
    """Planned sample minutes of a step after its last sample."""
    return [minute for minute in draft.sample_minutes if minute > _last_minute(draft, number)]


def _last_minute(draft: Draft, number: int) -> float:
    return max((item.minute for item in draft.steps[number - 1].samples), default=0.0)


def _one_up(draft: Draft, current: float) -> float:
    height = float(draft.answers["step_height"])
    if draft.unit == "W":
        return load_from_si(current + height, draft.unit)
    return load_from_si(current + height / 3.6, draft.unit)


def _baseline(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    if draft.steps:
        raise UsageError("the first step has begun: the baseline stands.", hint="`undo` takes entries back one by one.")
    lactate = _lactate(rest[0] if rest else "", settings)
    return Event("baseline", now_s, {"lactate": lactate})


def _override(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    if not rest:
        raise UsageError("expected a reason after `override`: every report will name it.")
    return Event("override", now_s, {"reason": " ".join(rest)})


def _next(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    _check_baseline(draft, settings)
    now = [word for word in rest if word.casefold() == "now"]
    typed = [word for word in rest if word.casefold() not in ("now", draft.unit.casefold())]
    load = read_load(typed[0], draft.unit) if typed else planned_load(draft)
    _check_rises(draft, load, len(draft.steps))
    walked = draft.sport != "cycling" and load_from_si(load_to_si(load, draft.unit), "km/h") < RUN_FROM_KMH
    data = {
        "load": load,
        "started_s": now_s if now else _began(draft, now_s),
        "gait": "walk" if walked else "run",
        "incline": float(draft.answers.get("incline") or 0.0),
    }
    return Event("step", now_s, data)


def _check_baseline(draft: Draft, settings: StepTestSettings) -> None:
    if not draft.baseline:
        raise UsageError(
            "expected a baseline sample before the first step, found none.", hint="Type its value, such as 1.1."
        )
    if draft.baseline[-1] > settings.baseline_max + 1e-9 and draft.override is None:
        raise UsageError(
            f"the baseline is {draft.baseline[-1]:g} mmol/L, above {settings.baseline_max:g}: no zones would come of this test.",
            hint="Sample again after 15-20 very easy minutes, or type `override REASON`; every report will then say so.",
        )


def _check_rises(draft: Draft, load: float, above: int) -> None:
    if not above:
        return
    before = draft.steps[above - 1].load
    if load_to_si(load, draft.unit) <= load_to_si(before, draft.unit) + 1e-9:
        raise UsageError(
            f"expected a load above {draft.load_text(before)} of step {above}, found {draft.load_text(load)}.",
            hint="Type `next LOAD`, or `undo`.",
        )


def _began(draft: Draft, now_s: float) -> float:
    if not draft.steps or not draft.live:
        return now_s
    due = draft.steps[-1].started_s + 60 * draft.step_minutes
    return due if 0 <= now_s - due <= LATE_S else now_s


def _load(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    number, words = _step_of(rest, draft)
    load = read_load(words[0] if words else "", draft.unit)
    _check_rises(draft, load, number - 1)
    if number < len(draft.steps) and load_to_si(load, draft.unit) >= load_to_si(draft.steps[number].load, draft.unit):
        raise UsageError(f"expected a load below that of step {number + 1}, found {draft.load_text(load)}.")
    return Event("load", now_s, {"load": load, "step": number})


def _gait(gait: str) -> Callable[[list[str], Draft, float, StepTestSettings], Event]:
    def read(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
        number, _ = _step_of(rest, draft)
        if draft.sport == "cycling":
            raise UsageError("this test is by bike: there are no walking or running steps.")
        return Event("gait", now_s, {"gait": gait, "step": number})

    return read


def _note(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    if not draft.steps or not rest:
        raise UsageError("expected a step that has begun and a text after `note`.")
    return Event("note", now_s, {"text": " ".join(rest), "step": len(draft.steps)})


def _hr(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    named, words = _step_of(rest, draft)
    bpm = read_number(words[0] if words else "", "a heart rate in bpm", HR_LOW, HR_HIGH)
    late = "step" not in [word.casefold() for word in rest] and _belongs_before(draft, now_s)
    before = late and draft.steps[-2].hr_max is None
    return Event("hr", now_s, {"bpm": bpm, "step": named - 1 if before else named})


def _drop(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    number, _ = _step_of(["step", *rest] if rest else [], draft)
    return Event("drop", now_s, {"step": number})


def _finish(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    steps = draft.steps[:-1] if draft.steps and not draft.steps[-1].samples else draft.steps
    empty = [number for number, step in enumerate(steps, 1) if not step.samples]
    if empty:
        raise UsageError(
            f"{draft.step_name(empty[0])} has no sample.",
            hint=f"Type it as `1.1 at 10 step {empty[0]}`, or `drop {empty[0]}`.",
        )
    if len(steps) < MIN_STEPS:
        raise UsageError(
            f"expected at least {MIN_STEPS} steps with a sample, found {len(steps)}.",
            hint="`quit` leaves the draft as it is.",
        )
    return Event("finish", now_s)


_VERBS: Mapping[str, Callable[[list[str], Draft, float, StepTestSettings], Event]] = {
    "baseline": _baseline, "override": _override, "next": _next, "start": _next, "load": _load, "walk": _gait("walk"),
    "run": _gait("run"), "note": _note, "hr": _hr, "drop": _drop, "finish": _finish, "stop": _finish,
}  # fmt: skip


def _value(words: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    if not draft.steps:
        return _baseline(words, draft, now_s, settings)
    bare = re.fullmatch(r"\d+([.,]\d+)?", words[0])
    if bare and float(words[0].replace(",", ".")) >= HR_LOW:
        return _hr(words, draft, now_s, settings)
    number, rest = _step_of(words, draft)
    lactate = _lactate(rest[0], settings)
    named = "step" in [word.casefold() for word in words]
    if not named and _belongs_before(draft, now_s) and _lacks_last(draft, number - 1):
        number -= 1
    return Event(
        "sample", now_s, {"lactate": lactate, "minute": _minute(rest[1:], draft, number, now_s), "step": number}
    )


def _belongs_before(draft: Draft, now_s: float) -> bool:
    if not draft.live or len(draft.steps) < 2 or draft.steps[-1].samples:
        return False
    return now_s - draft.steps[-1].started_s < LATE_S


def _lacks_last(draft: Draft, number: int) -> bool:
    return draft.sample_minutes[-1] not in {item.minute for item in draft.steps[number - 1].samples}


def _minute(words: list[str], draft: Draft, number: int, now_s: float) -> float:
    typed = [word.removeprefix("@") for word in words if word.casefold() not in ("at", "min", "minute", "mmol/l", "@")]
    if not typed:
        return minute_of(draft, number, now_s)
    minutes, colon, seconds = typed[0].partition(":")
    if colon and minutes.isdecimal() and seconds.isdecimal() and int(seconds) < 60:
        return _within(int(minutes) + int(seconds) / 60, draft)
    return _within(read_number(typed[0], "a minute of the step such as 6:30", 0, 999), draft)


def _within(minute: float, draft: Draft) -> float:
    if minute > draft.step_minutes + 2:
        raise UsageError(f"expected a minute of a {draft.step_minutes:g}-minute step, found {minute:g}.")
    return minute


def _lactate(text: str, settings: StepTestSettings) -> float:
    low, high = settings.lactate_low, settings.lactate_high
    value = read_number(text.removesuffix("mmol/l"), "a lactate reading in mmol/L", -math.inf, math.inf)
    if not low <= value <= high:
        raise UsageError(
            f"expected a lactate reading from {low:g} to {high:g} mmol/L, found {text}.", hint="Type it again."
        )
    return value


def _step_of(words: list[str], draft: Draft) -> tuple[int, list[str]]:
    """(the step meant, the other words): the one named by `step N`, else the current one."""
    if not draft.steps:
        raise UsageError("no step has begun.", hint="Type the baseline, then `next` when step 1 begins.")
    lower = [word.casefold() for word in words]
    if "step" not in lower:
        return len(draft.steps), words
    at = lower.index("step")
    text = words[at + 1] if at + 1 < len(words) else ""
    if not text.isdecimal() or not 1 <= int(text) <= len(draft.steps):
        raise UsageError(f"expected a step from 1 to {len(draft.steps)}, found {text!r}.")
    return int(text), words[:at] + words[at + 2 :]
