"""What the dialogue says after an entry, while there is still time to act on it (METHOD 1.1, 1.2)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.monotone import TINY
from steadyband.steptest.dialogue.draft import Draft, Event, Reading, analyser_of, counted, read_curve
from steadyband.steptest.dialogue.talk import due_minutes, elapsed_minutes, planned_load

SLIP = 4.0
"""A reading this far above the flat part [mmol/L] is asked about: 11 for 1.1 (design choice, beyond a sub-maximal test)."""

Tone = Literal["saved", "good", "warn", "stop"]


@dataclass(frozen=True, slots=True)
class Remark:
    """One sentence after an entry: saved (what was taken down), good, warn (act now), stop (the test may end)."""

    tone: Tone
    text: str


def remarks(draft: Draft, event: Event, now_s: float, settings: StepTestSettings) -> tuple[Remark, ...]:
    """What to say after `event` has made the draft what it is."""
    match event.kind:
        case "baseline":
            return tuple(_baseline(draft, settings))
        case "override":
            return (
                Remark("warn", f"Going on all the same. Every report will say so, with your reason: {draft.override}."),
            )
        case "step":
            return tuple(_step(draft, now_s, settings))
        case "sample":
            return tuple(_sample(draft, int(event.data["step"]), float(event.data["minute"]), now_s, settings))
        case "hr":
            return tuple(_heart_rate(draft, int(event.data["step"])))
        case "load" | "gait" | "note":
            return (Remark("saved", f"{_capital(draft.step_name(int(event.data['step'])))}: noted."),)
        case "drop":
            return (Remark("saved", f"Step {event.data['step']} is out; the later ones have moved up."),)
    return ()


def status(draft: Draft, now_s: float) -> str:
    """Where the test stands by the clock, in a line."""
    if not draft.steps:
        count = len(draft.baseline)
        taken = "no baseline yet" if not count else f"baseline {mmol(draft.baseline[-1])} mmol/L"
        return f"{taken}; `next` begins step 1 at {draft.load_text(planned_load(draft))}"
    number, step = len(draft.steps), draft.steps[-1]
    taken = ", ".join(f"{mmol(item.lactate)} at {clock(item.minute)}" for item in step.samples) or "no sample yet"
    name = draft.step_name(number)
    if not draft.live:
        return f"{name}: {taken}"
    gone = elapsed_minutes(draft, now_s)
    return f"{name}: {clock(gone)} gone, {_left(draft, now_s)}; {taken}"


def prompt(draft: Draft, now_s: float) -> str:
    """The words before the cursor."""
    if not draft.steps:
        return "baseline, mmol/L" if not draft.baseline else "another baseline, or `next` as step 1 begins"
    number = len(draft.steps)
    name = f"step {number}, {draft.load_text(draft.steps[-1].load)}"
    if not draft.live:
        return name
    gone, due = elapsed_minutes(draft, now_s), due_minutes(draft, number)
    if due:
        return f"{name}, {clock(gone)} gone, sample due at {clock(due[0])}"
    return f"{name}, {clock(gone)} gone, `next` at {clock(draft.step_minutes)}"


def table_rows(draft: Draft, settings: StepTestSettings) -> tuple[tuple[str, str, str, str], ...]:
    """(step, load, samples, highest heart rate) of everything entered so far, baseline first."""
    base = ", ".join(mmol(value) for value in draft.baseline) or "-"
    rows = [("baseline", "", base, "")]
    for number, step in enumerate(draft.steps, 1):
        walking = " walking" if draft.sport != "cycling" and step.gait == "walk" else ""
        samples = ", ".join(f"{mmol(item.lactate)} ({clock(item.minute)})" for item in step.samples) or "-"
        hr = f"{step.hr_max:g}" if step.hr_max else "-"
        rows.append((str(number), draft.load_text(step.load) + walking, samples, hr))
    return tuple(rows)


def undone(draft: Draft, event: Event) -> str:
    """What an undo has taken back; `draft` is the one before it."""
    data = event.data
    match event.kind:
        case "baseline":
            what = f"baseline {mmol(float(data['lactate']))} mmol/L"
        case "sample":
            what = f"{mmol(float(data['lactate']))} mmol/L at {clock(float(data['minute']))} of step {data['step']}"
        case "hr":
            what = f"heart rate {float(data['bpm']):g} bpm of step {data['step']}"
        case "step":
            what = f"the beginning of {draft.step_name(len(draft.steps))}"
        case "drop":
            what = f"the taking out of step {data['step']}"
        case _:
            what = f"the last entry ({event.kind})"
    return f"Taken back: {what}."


def mmol(value: float) -> str:
    """A lactate reading with one decimal, or two where it has them."""
    return f"{value:.1f}" if abs(value - round(value, 1)) < TINY else f"{value:.2f}"


def clock(minutes: float) -> str:
    """Decimal minutes -> "m:ss", cut to the second."""
    seconds = int(max(minutes, 0.0) * 60 + 1e-6)
    return f"{seconds // 60}:{seconds % 60:02d}"


def _left(draft: Draft, now_s: float) -> str:
    left = draft.step_minutes - elapsed_minutes(draft, now_s)
    return f"{clock(left)} left" if left > 0 else f"{clock(-left)} over"


def _baseline(draft: Draft, settings: StepTestSettings) -> Iterator[Remark]:
    value, most = draft.baseline[-1], settings.baseline_max
    if value <= most + TINY:
        load = draft.load_text(planned_load(draft))
        yield Remark(
            "good", f"Baseline {mmol(value)} mmol/L is fine (at most {most:g}). Type `next` as step 1 begins ({load})."
        )
        return
    easy = "Spin very easily" if draft.sport == "cycling" else "Walk very easily"
    wait = (
        f"{easy} for 15-20 minutes and sample again; if it is still high, test on another day."
        if len(draft.baseline) == 1
        else "It is still high: stop here and test on another day."
    )
    yield Remark("warn", f"Baseline {mmol(value)} mmol/L is too high, a test starts from at most {most:g}. {wait}")


def _step(draft: Draft, now_s: float, settings: StepTestSettings) -> Iterator[Remark]:
    number = len(draft.steps)
    due = " and ".join(clock(minute) for minute in draft.sample_minutes)
    began = elapsed_minutes(draft, now_s)
    since = f", running since {clock(began)} by the clock (`undo`, then `next now`, if not)" if began > 0.1 else ""
    yield Remark("saved", f"{_capital(draft.step_name(number))} has begun{since}. Samples are due at {due}.")
    if number > 1:
        yield from _cut_short(draft, number - 1)
        yield from _left_behind(draft, number - 1)
        yield from _height(draft, settings)


def _cut_short(draft: Draft, number: int) -> Iterator[Remark]:
    lasted = (draft.steps[number].started_s - draft.steps[number - 1].started_s) / 60
    if draft.live and lasted < draft.step_minutes - 1:
        yield Remark(
            "warn",
            f"Step {number} lasted only {clock(lasted)} of {clock(draft.step_minutes)}: lactate and heart rate lag behind the load. "
            "`undo` if it is still going on.",
        )


def _left_behind(draft: Draft, number: int) -> Iterator[Remark]:
    step = draft.steps[number - 1]
    missing = []
    if draft.sample_minutes[-1] not in {item.minute for item in step.samples}:
        missing.append(f"its sample at {clock(draft.sample_minutes[-1])}")
    if step.hr_max is None:
        missing.append("its highest heart rate")
    if missing:
        yield Remark(
            "warn",
            f"Step {number} still lacks {' and '.join(missing)}: type it now, or later with `step {number}` behind it.",
        )


def _height(draft: Draft, settings: StepTestSettings) -> Iterator[Remark]:
    mass = draft.answers.get("mass_kg")
    if draft.unit != "W" or not mass or draft.sport != "cycling":
        return
    height = draft.steps[-1].load - draft.steps[-2].load
    if height / float(mass) > settings.step_height_max + TINY:
        yield Remark(
            "warn",
            f"That is {height:g} W higher, {height / float(mass):.2f} W/kg: over {settings.step_height_max:g} one step can jump "
            f"across the whole steady band. About {settings.step_height_advised * float(mass):.0f} W is advised.",
        )


def _sample(draft: Draft, number: int, minute: float, now_s: float, settings: StepTestSettings) -> Iterator[Remark]:
    step = draft.steps[number - 1]
    value = next(item.lactate for item in reversed(step.samples) if item.minute == minute)
    yield Remark("saved", f"{mmol(value)} mmol/L at {clock(minute)} of {draft.step_name(number)}.")
    reading = read_curve(draft, settings)
    if reading is None:
        return
    if value > reading.plateau + SLIP:
        yield Remark(
            "warn", f"{mmol(value)} is far above the rest: if it is a slip of the finger, `undo` takes it back."
        )
        return
    if len(step.samples) > 2:
        late = counted(step, draft.step_minutes)
        yield Remark(
            "saved", f"{len(late)} samples count for this step; their median is {mmol(_median(draft, number))}."
        )
    suspect = [*_disagree(draft, number, reading, settings), *_fell(draft, number, settings)]
    if suspect:
        again = _again(draft, number, now_s)
        yield from (Remark("warn", f"{text} {again}") for text in suspect)
    else:
        yield from _rises_inside(draft, number, reading, settings)
        yield from _rise(draft, number, reading, settings)


def _again(draft: Draft, number: int, now_s: float) -> str:
    if not draft.live:
        return "One of the two is suspect."
    left = draft.step_minutes - elapsed_minutes(draft, now_s) if number == len(draft.steps) else -1.0
    if left > 0:
        return f"Take another now: clean, dry finger, a later drop; {clock(left)} left in this step."
    return "The step is over: hold its load two or three minutes longer and take another, or go on with the doubt."


def _disagree(draft: Draft, number: int, reading: Reading, settings: StepTestSettings) -> Iterator[str]:
    values = [item.lactate for item in draft.steps[number - 1].samples]
    low, high = min(values), max(values)
    limit = _limit(draft, (low + high) / 2, settings)
    if len(values) == 2 and high - low > limit + TINY and not _climbs(draft, number, reading, settings):
        yield f"Two samples of this step disagree: {mmol(low)} and {mmol(high)} mmol/L, more than the {limit:.2f} two readings may differ by."


def _rises_inside(draft: Draft, number: int, reading: Reading, settings: StepTestSettings) -> Iterator[Remark]:
    values = [item.lactate for item in draft.steps[number - 1].samples]
    if values[-1] - values[0] > settings.rise_within_step + TINY and _climbs(draft, number, reading, settings):
        yield Remark(
            "good",
            f"Lactate still rises inside this step, from {mmol(values[0])} to {mmol(values[-1])} mmol/L: a sign that this load "
            "is already heavy.",
        )


def _climbs(draft: Draft, number: int, reading: Reading, settings: StepTestSettings) -> bool:
    """True past the first rise, or at one that comes no earlier than wanted: a later sample may well be higher there."""
    values = [item.lactate for item in draft.steps[number - 1].samples]
    first = reading.first_rise
    expected = first is not None and (first < number or first == number > settings.flat_steps_min)
    return expected and values == sorted(values)


def _limit(draft: Draft, middle: float, settings: StepTestSettings) -> float:
    return settings.repeatability * float(analyser_of(draft, settings).at(middle))


def _fell(draft: Draft, number: int, settings: StepTestSettings) -> Iterator[str]:
    if number < 2 or not draft.steps[number - 2].samples:
        return
    before, now = (_median(draft, at) for at in (number - 1, number))
    explained = settings.fall_sds * float(analyser_of(draft, settings).at(before))
    if before - now > explained + TINY:
        yield (
            f"Lactate fell from {mmol(before)} to {mmol(now)} mmol/L, more than the {explained:.2f} the analyser explains: this sample "
            "or the one before is wrong."
        )


def _median(draft: Draft, number: int) -> float:
    values = sorted(counted(draft.steps[number - 1], draft.step_minutes))
    middle = len(values) // 2
    return values[middle] if len(values) % 2 else (values[middle - 1] + values[middle]) / 2


def _rise(draft: Draft, number: int, reading: Reading, settings: StepTestSettings) -> Iterator[Remark]:
    first = reading.first_rise
    if number < reading.numbers[-1]:
        return
    if first is None:
        yield from _rise_gone(draft, number, settings)
        return
    top = reading.plateau + settings.ceiling_rise
    yield from _rise_news(draft, number, reading, settings)
    settled = _settled(draft, number)
    if float(reading.fitted[-1]) < top - TINY:
        if settled:
            yield Remark(
                "good",
                f"Go on: the ceiling is where lactate crosses {top:.2f} mmol/L (flat part + {settings.ceiling_rise:g}).",
            )
        return
    if not settled:
        yield Remark(
            "good", f"That is past {top:.2f} mmol/L: if the next sample of this step agrees, the test may stop."
        )
        return
    yield Remark(
        "stop",
        f"The curve has crossed {top:.2f} mmol/L (flat part + {settings.ceiling_rise:g}): the test may stop here. "
        "Note the heart rate, then type `finish`; spin or walk easily to cool down.",
    )


def _rise_gone(draft: Draft, number: int, settings: StepTestSettings) -> Iterator[Remark]:
    before = read_curve(replace(draft, steps=draft.steps[: number - 1]), settings)
    if before is not None and before.first_rise is not None:
        name = draft.step_name(before.first_rise)
        yield Remark("warn", f"With this value the rise at {name} is no longer clear: go on, the next step will tell.")


def _rise_news(draft: Draft, number: int, reading: Reading, settings: StepTestSettings) -> Iterator[Remark]:
    first = reading.first_rise
    if first is None:
        return
    at = reading.numbers.index(first) + 1
    height = float(reading.fitted[at]) - reading.plateau
    where = f"{draft.step_name(first)}, {height:.2f} above the flat part of {reading.plateau:.2f} mmol/L"
    if first == number and not _settled(draft, number):
        yield Remark("good", f"This looks like the first rise: {where}. The next sample of this step settles it.")
        if draft.live and first <= settings.flat_steps_min:
            spare = " or ".join(clock(minute) for minute in draft.spare_minutes)
            yield Remark("warn", f"That is early for a rise: take another sample at {spare} to be sure of it.")
    elif first == number or (first == number - 1 and len(draft.steps[number - 1].samples) == 1):
        word = "is established" if first == number else "is confirmed"
        yield Remark("good", f"The first rise {word}: {where}.")
        yield from _few_flat(first, settings)


def _few_flat(first: int, settings: StepTestSettings) -> Iterator[Remark]:
    flat = first - 1
    if flat < settings.flat_steps_min:
        steps = "step" if flat == 1 else "steps"
        yield Remark(
            "warn",
            f"Only {flat} flat {steps} came before it; at least {settings.flat_steps_min} are wanted. Finish this test, and start "
            "easier next time.",
        )


def _settled(draft: Draft, number: int) -> bool:
    """True once the step's last planned sample is in, or two of its second half."""
    step = draft.steps[number - 1]
    late = [item for item in step.samples if item.minute >= draft.step_minutes / 2]
    return len(late) > 1 or any(item.minute >= draft.sample_minutes[-1] - TINY for item in late)


def _heart_rate(draft: Draft, number: int) -> Iterator[Remark]:
    hr = draft.steps[number - 1].hr_max or 0.0
    yield Remark("saved", f"Highest heart rate of {draft.step_name(number)}: {hr:g} bpm.")
    lower = [at for at in range(1, number) if (draft.steps[at - 1].hr_max or 0.0) > hr]
    higher = [at for at in range(number + 1, len(draft.steps) + 1) if 0 < (draft.steps[at - 1].hr_max or 0.0) < hr]
    if lower or higher:
        other = (lower or higher)[-1]
        easier = "an easier" if lower else "a harder"
        side = "under" if lower else "over"
        yield Remark(
            "warn",
            f"That is {side} the {draft.steps[other - 1].hr_max:g} of step {other}, {easier} one: check the strap, or type it "
            f"again (`{hr:g} step {number}` replaces it).",
        )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
