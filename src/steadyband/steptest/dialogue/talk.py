"""The dialogue of a test that is being done: a typed line and a clock in, an event out. Pure; the face does the talking."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from steadyband.ground.errors import UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import load_from_si, load_to_si
from steadyband.steptest.dialogue.draft import Draft, Event, apply
from steadyband.steptest.dialogue.plan import RUN_FROM_KMH
from steadyband.steptest.dialogue.questions import changed, read_load, read_number
from steadyband.steptest.file.build import MIN_STEPS

LATE_S = 180.0
"""Seconds into a step in which a value still belongs to the step before: the analyser answers late (design choice)."""
EARLY_MIN = 0.5
"""Minutes before its due minute at which a sample still counts as the due one (design choice)."""
HR_LOW, HR_HIGH = 31.0, 230.0
"""A bare number from 31 on is a heart rate: no lactate reading is that high (METHOD 1.1 takes 0.3-30 mmol/L)."""
HELP: tuple[tuple[str, str], ...] = (
    ("1.2", "a lactate sample, mmol/L; 1,2 works too"),
    ("1.2 1.3 121", "a line from paper: two samples and the highest heart rate"),
    ("1.2 at 6:30", "a sample with its minute in the step"),
    ("1.2 at 10 step 3", "the same, for a step that is over"),
    ("121", "the highest heart rate of the step, bpm; `121 step 3` for another"),
    ("next", "the next step has begun; `next 185` at another load, `next now` after a stop"),
    ("load 185", "this step was at another load; `load 185 step 3` for another"),
    ("walk, run", "how this step was done, by foot"),
    ("note TEXT", "a note on this step; `note TEXT step 3` for another"),
    ("undo", "takes back the last entry, before the first one the last answer; again and again if need be"),
    ("drop 3", "takes step 3 out; `drop sample 1.8 step 3` takes one sample of it out"),
    ("baseline 1.1", "once the test has begun: the baseline was this"),
    ("change mass 58", "an answer from the beginning was another; `change` alone lists them"),
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


def parse(text: str, draft: Draft, now_s: float, settings: StepTestSettings) -> tuple[Event, ...] | Command:
    """What a typed line means in this draft at this time: one event, several for a line from paper, or a command.

    Raises UsageError, saying what was expected and found, where any word of it means nothing or cannot be right: a line
    is taken whole or not at all.
    """
    words = re.sub(r"\s*mmol/l\b", " ", text, flags=re.IGNORECASE).replace(";", " ").split()
    if text.strip().casefold().startswith(("note ", "override ", "change ")):
        words = text.split()
    if not words:
        return Command("status")
    verb, rest = words[0].casefold(), words[1:]
    if verb in ("show", "help", "?", "quit", "exit"):
        _nothing_more(rest, verb)
        return Command({"?": "help", "exit": "quit"}.get(verb, verb))
    if verb in ("undo", "back"):
        _nothing_more(rest, verb)
        return (Event("undo", now_s),)
    if verb == "change":
        return changed(rest, draft, now_s)
    if verb in ("next", "start"):
        return _next(rest, draft, now_s, settings)
    if verb in _VERBS:
        return (_VERBS[verb](rest, draft, now_s, settings),)
    return _values(words, draft, now_s, settings)


def _nothing_more(words: list[str], after: str) -> None:
    """Raises where words are left over: nothing that was typed is passed over."""
    if words:
        raise UsageError(f"expected nothing more after `{after}`, found {' '.join(words)!r}; nothing was taken down.")


def planned_load(draft: Draft) -> float:
    """The load proposed for the next step, in the test's unit: the plan's while its loads are kept, else one planned height up."""
    loads = [float(load) for load in draft.answers.get("loads", ())]
    if not draft.steps:
        return loads[0] if loads else float(draft.answers["first_load"])
    current = load_to_si(draft.steps[-1].load, draft.unit)
    at = next((n for n, load in enumerate(loads) if math.isclose(load_to_si(load, draft.unit), current)), len(loads))
    return loads[at + 1] if at + 1 < len(loads) else _one_up(draft, current)


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
    return max((item.minute or 0.0 for item in draft.steps[number - 1].samples), default=0.0)


def _one_up(draft: Draft, current: float) -> float:
    height = float(draft.answers["step_height"])
    if draft.unit == "W":
        return load_from_si(current + height, draft.unit)
    return load_from_si(current + height / 3.6, draft.unit)


def _baseline(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    lactate = _lactate(rest[0] if rest else "", settings)
    _nothing_more(rest[1:], f"baseline {rest[0]}")
    return Event("baseline", now_s, {"lactate": lactate} | ({"instead": True} if draft.steps else {}))


def _override(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    if not rest:
        raise UsageError("expected a reason after `override`: every report will name it.")
    return Event("override", now_s, {"reason": " ".join(rest)})


def _next(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> tuple[Event, ...]:
    """The step, and from paper what was taken on it: `next 85 1,0 1,1 125`."""
    _check_baseline(draft, settings)
    now = [word for word in rest if word.casefold() == "now"]
    typed = [word for word in rest if word.casefold() not in ("now", draft.unit.casefold())]
    load = read_load(typed[0], draft.unit) if typed else planned_load(draft)
    if len(typed) > 1 and draft.live:
        _nothing_more(typed[1:], f"next {typed[0]}")
    _check_rises(draft, load, len(draft.steps))
    walked = draft.sport != "cycling" and load_from_si(load_to_si(load, draft.unit), "km/h") < RUN_FROM_KMH
    data = {
        "load": load,
        "started_s": now_s if now else _began(draft, now_s),
        "gait": "walk" if walked else "run",
        "incline": float(draft.answers.get("incline") or 0.0),
    }
    step = Event("step", now_s, data)
    return (step, *(_values(typed[1:], apply(draft, step), now_s, settings) if typed[1:] else ()))


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
    words = [word for word in words if word.casefold() != draft.unit.casefold()]
    load = read_load(words[0] if words else "", draft.unit)
    _nothing_more(words[1:], f"load {words[0]}")
    _check_rises(draft, load, number - 1)
    if number < len(draft.steps) and load_to_si(load, draft.unit) >= load_to_si(draft.steps[number].load, draft.unit):
        raise UsageError(f"expected a load below that of step {number + 1}, found {draft.load_text(load)}.")
    return Event("load", now_s, {"load": load, "step": number})


def _gait(gait: str) -> Callable[[list[str], Draft, float, StepTestSettings], Event]:
    def read(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
        number, more = _step_of(rest, draft)
        _nothing_more(more, gait)
        if draft.sport == "cycling":
            raise UsageError("this test is by bike: there are no walking or running steps.")
        return Event("gait", now_s, {"gait": gait, "step": number})

    return read


def _note(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    if not draft.steps or not rest:
        raise UsageError("expected a step that has begun and a text after `note`.")
    named = len(rest) > 2 and rest[-2].casefold() == "step" and rest[-1].isdecimal()
    number, words = _step_of(rest, draft) if named else (len(draft.steps), rest)
    return Event("note", now_s, {"text": " ".join(words), "step": number})


def _hr(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    named, words = _step_of(rest, draft)
    words = [word for word in words if word.casefold() != "bpm"]
    bpm = read_number(words[0] if words else "", "a heart rate in bpm", HR_LOW, HR_HIGH)
    _nothing_more(words[1:], f"hr {words[0]}")
    late = "step" not in [word.casefold() for word in rest] and _belongs_before(draft, now_s)
    before = late and draft.steps[-2].hr_max is None
    number = named - 1 if before else named
    known = draft.steps[number - 1].hr_max
    return Event("hr", now_s, {"bpm": bpm, "step": number} | ({} if known in (None, bpm) else {"instead_of": known}))


def _drop(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    if rest and rest[0].casefold() == "sample":
        return _drop_sample(rest[1:], draft, now_s, settings)
    number, more = _step_of(["step", *[word for word in rest if word.casefold() != "step"]] if rest else [], draft)
    _nothing_more(more, f"drop {rest[0] if rest else ''}".strip())
    return Event("drop", now_s, {"step": number})


def _drop_sample(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    number, words = _step_of(rest, draft)
    lactate = _lactate(words[0] if words else "", settings)
    _nothing_more(words[1:], f"drop sample {words[0]}")
    found = [item.lactate for item in draft.steps[number - 1].samples]
    if lactate not in found:
        there = ", ".join(f"{value:g}" for value in found) or "none"
        raise UsageError(f"expected a sample of {draft.step_name(number)} ({there}), found {words[0]}.")
    return Event("drop_sample", now_s, {"lactate": lactate, "step": number})


def _finish(rest: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> Event:
    _nothing_more(rest, "finish")
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
    "baseline": _baseline, "override": _override, "load": _load, "walk": _gait("walk"), "run": _gait("run"),
    "note": _note, "hr": _hr, "drop": _drop, "finish": _finish, "stop": _finish,
}  # fmt: skip


@dataclass(slots=True)
class _Line:
    """A line of values taken apart: readings with the minute typed behind them, a heart rate, a step."""

    readings: list[tuple[str, str | None]]
    heart_rate: str | None = None


NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")


def _taken_apart(words: list[str]) -> _Line:
    """The words of a line of values, every one of them in its place; raises UsageError for one that has none."""
    line = _Line([])
    queue = list(words)
    while queue:
        word = queue.pop(0)
        low = word.casefold()
        if low in ("at", "@") or low.startswith("@") or re.fullmatch(r"\d+:\d\d", low):
            minute = queue.pop(0) if low in ("at", "@") and queue else low.removeprefix("@")
            _set_minute(line, minute)
            while queue and queue[0].casefold() in ("min", "minute"):
                queue.pop(0)
        elif low in ("hr", "bpm"):
            _set_heart_rate(line, queue.pop(0) if low == "hr" and queue else word)
        elif low == "mmol":
            continue
        elif NUMBER.fullmatch(low) and float(low.replace(",", ".")) >= HR_LOW:
            _set_heart_rate(line, word)
            queue = queue[1:] if queue and queue[0].casefold() == "bpm" else queue
        else:
            _add_reading(line, word)
    return line


def _set_minute(line: _Line, minute: str) -> None:
    if not line.readings or line.readings[-1][1] is not None:
        raise UsageError(f"expected a lactate reading in mmol/L before the minute {minute}; nothing was taken down.")
    line.readings[-1] = (line.readings[-1][0], minute)


def _set_heart_rate(line: _Line, word: str) -> None:
    if line.heart_rate is not None:
        raise UsageError(
            f"expected one heart rate, found {line.heart_rate} and {word}; nothing was taken down.",
            hint="A load is typed as `next 85` or `load 85`.",
        )
    line.heart_rate = word


def _add_reading(line: _Line, word: str) -> None:
    if line.readings and word.isdecimal() and int(word) > 2:
        first = line.readings[-1][0]
        raise UsageError(
            f"{word} may be a minute or a second reading; nothing was taken down.",
            hint=f"Type `{first} at {word}`, or `{first} {word}.0`.",
        )
    line.readings.append((word, None))


def _values(words: list[str], draft: Draft, now_s: float, settings: StepTestSettings) -> tuple[Event, ...]:
    """Readings and a heart rate, for the step they belong to."""
    if not draft.steps:
        return _baselines(words, now_s, draft, settings)
    number, rest = _step_of(words, draft)
    named = len(rest) < len(words)
    line = _taken_apart(rest)
    if not line.readings:
        at = ["step", str(number)] if named else []
        return (_hr([line.heart_rate or "", *at], draft, now_s, settings),)
    if not named and _belongs_before(draft, now_s) and _lacks_last(draft, number - 1):
        number -= 1
    events: list[Event] = []
    ahead = _minutes_ahead(draft, number, now_s, len(line.readings))
    for (text, minute), planned in zip(line.readings, ahead, strict=True):
        lactate = _lactate(text, settings)
        at_minute = _minute(minute, draft) if minute else planned or minute_of(draft, number, now_s)
        events.append(Event("sample", now_s, {"lactate": lactate, "minute": at_minute, "step": number}))
        draft = apply(draft, events[-1])
    if line.heart_rate is not None:
        events.append(_hr([line.heart_rate, "step", str(number)], draft, now_s, settings))
    return tuple(events)


def _baselines(words: list[str], now_s: float, draft: Draft, settings: StepTestSettings) -> tuple[Event, ...]:
    line = _taken_apart(words) if words[0].casefold() not in ("step",) else _Line([])
    odd = line.heart_rate or next((minute for _, minute in line.readings if minute), None)
    if odd is not None or not line.readings:
        raise UsageError(
            f"expected a lactate reading in mmol/L before the first step, found {odd or ' '.join(words)}: no step has begun.",
            hint="Type the baseline alone, then `next` when step 1 begins; nothing was taken down.",
        )
    return tuple(Event("baseline", now_s, {"lactate": _lactate(text, settings)}) for text, _ in line.readings)


def _minutes_ahead(draft: Draft, number: int, now_s: float, count: int) -> list[float | None]:
    """Planned minutes for several readings of one line while the clock runs: the last ones that have passed; else by each alone."""
    if count < 2 or not draft.live or number < len(draft.steps):
        return [None] * count
    gone = elapsed_minutes(draft, now_s)
    passed = [minute for minute in due_minutes(draft, number) if minute <= gone + EARLY_MIN]
    return list(passed[-count:]) if len(passed) >= count else [None] * count


def _belongs_before(draft: Draft, now_s: float) -> bool:
    if not draft.live or len(draft.steps) < 2 or draft.steps[-1].samples:
        return False
    return now_s - draft.steps[-1].started_s < LATE_S


def _lacks_last(draft: Draft, number: int) -> bool:
    return draft.sample_minutes[-1] not in {item.minute for item in draft.steps[number - 1].samples}


def _minute(typed: str, draft: Draft) -> float:
    minutes, colon, seconds = typed.partition(":")
    if colon and minutes.isdecimal() and seconds.isdecimal() and int(seconds) < 60:
        return _within(int(minutes) + int(seconds) / 60, draft)
    return _within(read_number(typed, "a minute of the step such as 6:30", 0, 999), draft)


def _within(minute: float, draft: Draft) -> float:
    if minute > draft.step_minutes + 2:
        raise UsageError(f"expected a minute of a {draft.step_minutes:g}-minute step, found {minute:g}.")
    return minute


def _lactate(text: str, settings: StepTestSettings) -> float:
    low, high = settings.lactate_low, settings.lactate_high
    value = read_number(text, "a lactate reading in mmol/L", -math.inf, math.inf)
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
