"""What the dialogue says after an entry, while there is still time to act on it (METHOD 1.1, 1.2)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit, load_from_si, load_text, load_to_si
from steadyband.steptest.curve.monotone import TINY
from steadyband.steptest.dialogue.draft import Draft, Event, counted
from steadyband.steptest.dialogue.live import Standing, gains, standing
from steadyband.steptest.dialogue.talk import due_minutes, elapsed_minutes, planned_load

SLIP = 4.0
"""A reading this far above the flat part [mmol/L] is asked about: 11 for 1.1 (design choice, beyond a sub-maximal test)."""

PAIR_SD = 1.96
"""Two samples of one step further apart than so many SD of a difference are remarked: one pair of good drops in twenty (normal
quantile)."""

Tone = Literal["saved", "good", "warn", "stop"]


@dataclass(frozen=True, slots=True)
class Remark:
    """One sentence after an entry: saved (what was taken down), good, warn (act now), stop (the test may end)."""

    tone: Tone
    text: str


def remarks(draft: Draft, event: Event, now_s: float, settings: StepTestSettings) -> tuple[Remark, ...]:
    """What to say after `event` has made the draft what it is."""
    match event.kind:
        case "baseline" if event.data.get("instead"):
            return (Remark("saved", f"The baseline is {mmol(draft.baseline[-1])} mmol/L."),)
        case "baseline":
            return tuple(_baseline(draft, settings))
        case "set":
            return (Remark("saved", f"{_capital(str(event.data['key']).replace('_', ' '))}: {event.data['value']}."),)
        case "drop_sample":
            out = f"{mmol(float(event.data['lactate']))} mmol/L is out of {draft.step_name(int(event.data['step']))}."
            return (Remark("saved", out),)
        case "override":
            return (
                Remark("warn", f"Going on all the same. Every report will say so, with your reason: {draft.override}."),
            )
        case "step":
            return tuple(_step(draft, now_s, settings))
        case "sample":
            return tuple(_sample(draft, int(event.data["step"]), float(event.data["minute"]), now_s, settings))
        case "hr":
            return tuple(_heart_rate(draft, int(event.data["step"]), event.data.get("instead_of")))
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
        case "drop_sample":
            what = f"the taking out of {mmol(float(data['lactate']))} mmol/L of step {data['step']}"
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


def clock(minutes: float | None) -> str:
    """Decimal minutes -> "m:ss", cut to the second; a dash for none."""
    if minutes is None:
        return "–"
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
        yield from _off_plan(draft)
        yield from _height(draft, settings)


def _off_plan(draft: Draft) -> Iterator[Remark]:
    """A load that was not the one proposed: what that changes."""
    before = replace(draft, steps=draft.steps[:-1])
    planned, load = planned_load(before), draft.steps[-1].load
    if abs(planned - load) < 1e-6:
        return
    told = f"{draft.load_text(planned)} was planned, so this step is {_height_text(draft)} higher than the one before"
    yield Remark("saved", f"{told}. The next one is proposed at {draft.load_text(planned_load(draft))}.")


def _height_text(draft: Draft) -> str:
    unit: LoadUnit = "W" if draft.unit == "W" else "km/h"
    ends = [load_from_si(load_to_si(step.load, draft.unit), unit) for step in draft.steps[-2:]]
    return f"{ends[1] - ends[0]:.0f} W" if unit == "W" else f"{ends[1] - ends[0]:.1f} km/h"


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
    now = standing(draft, settings)
    if now is None:
        return
    if value > now.flat + SLIP:
        yield Remark(
            "warn", f"{mmol(value)} is far above the rest: if it is a slip of the finger, `undo` takes it back."
        )
        return
    if len(step.samples) > 2:
        late = counted(step, draft.step_minutes)
        yield Remark(
            "saved", f"{len(late)} samples count for this step; their median is {mmol(_median(draft, number))}."
        )
    apart = tuple(_apart(draft, number, now_s, now, settings))
    yield from apart
    suspect = [found for found in now.suspects() if now.numbers[found.step] in (number, number - 1)]
    for found in suspect:
        text = f"{mmol(found.lactate)} mmol/L at step {now.numbers[found.step]} does not sit with the other samples."
        yield Remark("warn", f"{text} {_again(draft, number, now_s)}")
    suspect_here = bool(suspect or apart)
    if number == now.numbers[-1]:
        yield from _rises_inside(draft, number, now, settings)
        yield from edges_told(draft, now)
        if not suspect_here and draft.live:
            yield from _onward(draft, number, now, settings)


def _again(draft: Draft, number: int, now_s: float) -> str:
    if not draft.live:
        return "One of the two is suspect."
    left = draft.step_minutes - elapsed_minutes(draft, now_s) if number == len(draft.steps) else -1.0
    if left > 0:
        return f"Take another now: clean, dry finger, a later drop; {clock(left)} left in this step."
    return "The step is over: hold its load two or three minutes longer and take another, or go on with the doubt."


def _apart(draft: Draft, number: int, now_s: float, now: Standing, settings: StepTestSettings) -> Iterator[Remark]:
    """Two samples of a step that differ more than two good drops should; a rise on a step that is already heavy is no such pair."""
    values = [item.lactate for item in draft.steps[number - 1].samples]
    if len(values) != 2:
        return
    sd = float(now.analyser.at(sum(values) / 2)) * 2**0.5
    heavy = values[1] > values[0] and now.last >= now.sets[0, 0] and number == now.numbers[-1]
    if abs(values[1] - values[0]) >= PAIR_SD * sd and not heavy:
        told = f"{mmol(values[0])}, then {mmol(values[1])} mmol/L on one step: good drops differ so much once in twenty pairs."
        yield Remark("warn", f"{told} {_again(draft, number, now_s)}")


def _rises_inside(draft: Draft, number: int, now: Standing, settings: StepTestSettings) -> Iterator[Remark]:
    values = [item.lactate for item in draft.steps[number - 1].samples]
    risen = now.last >= now.sets[0, 0]
    if risen and values == sorted(values) and values[-1] - values[0] > settings.rise_within_step + TINY:
        yield Remark(
            "good",
            f"Lactate still rises inside this step, from {mmol(values[0])} to {mmol(values[-1])} mmol/L: a sign that this load "
            "is already heavy.",
        )


def _median(draft: Draft, number: int) -> float:
    values = sorted(counted(draft.steps[number - 1], draft.step_minutes))
    middle = len(values) // 2
    return values[middle] if len(values) % 2 else (values[middle - 1] + values[middle]) / 2


def edges_told(draft: Draft, now: Standing) -> Iterator[Remark]:
    """Where the edges stand, with their ranges, and whether the flat part is long enough."""
    last, share = draft.load_text(draft.steps[now.numbers[-1] - 1].load), now.settings.range_share * 100
    if not np.isfinite(now.sets[0, 0]):
        yield Remark("good", f"No rise yet: the floor lies above {last}.")
        return
    told = "; ".join(
        f"{name} {_edge(draft, now, column)}" for column, name in enumerate(("floor", "target top", "ceiling"))
    )
    yield Remark("good", f"So far, with {share:.0f} % ranges: {told}.")
    flat, wanted = int(np.sum(now.read.loads < now.sets[0, 0])), now.settings.flat_steps_min
    if flat < wanted and len(now.read.loads) > flat + 1:
        yield Remark(
            "warn",
            f"Only {flat} {'step lies' if flat == 1 else 'steps lie'} below the floor; at least {wanted} are wanted. Finish this "
            "test, and start easier next time.",
        )


def _edge(draft: Draft, now: Standing, column: int) -> str:
    tail = (1 - now.settings.range_share) / 2
    middle, low, high = now.sets[0, column], *np.quantile(now.sets[1:, column], (tail, 1 - tail), method="lower")
    last = load_text(now.last, draft.unit)
    if middle > now.last:
        return f"above {last}"
    ends = (
        load_text(float(low), draft.unit),
        load_text(float(high), draft.unit) if high <= now.last else f"above {last}",
    )
    return f"{load_text(float(middle), draft.unit)} ({ends[0]} to {ends[1]})"


def _onward(draft: Draft, number: int, now: Standing, settings: StepTestSettings) -> Iterator[Remark]:
    """Stop, one more sample here, or the next step: by what it would take off the ranges of floor and ceiling."""
    if now.behind >= settings.stop_sure:
        if not _settled(draft, number):
            yield Remark(
                "good", "The ceiling seems to be behind you: if the next sample of this step agrees, the test may stop."
            )
            return
        yield Remark(
            "stop",
            f"The ceiling lies behind you with {now.behind * 100:.0f} %: the test may stop here. "
            "Note the heart rate, then type `finish`; spin or walk easily to cool down.",
        )
        return
    here, there = gains(draft, now)
    load = draft.load_text(planned_load(draft))
    if not _settled(draft, number):
        return
    told = (
        f"One more sample here would take about {_span(draft, here)} off the ranges of floor and ceiling together, one at {load} "
        f"{_span(draft, there)}"
    )
    yield Remark("good", f"{told}: {'take it, then go on' if here > there else 'go on'}.")


def _span(draft: Draft, load_si: float) -> str:
    return f"{load_si:.0f} W" if draft.unit == "W" else f"{3.6 * load_si:.1f} km/h"


def _settled(draft: Draft, number: int) -> bool:
    """True once the step's last planned sample is in, or two of its second half."""
    step = draft.steps[number - 1]
    late = [item for item in step.samples if item.minute is None or item.minute >= draft.step_minutes / 2]
    return len(late) > 1 or any((item.minute or 0.0) >= draft.sample_minutes[-1] - TINY for item in late)


def _heart_rate(draft: Draft, number: int, instead_of: float | None) -> Iterator[Remark]:
    hr = draft.steps[number - 1].hr_max or 0.0
    before = "" if instead_of is None else f", instead of {instead_of:g}"
    yield Remark("saved", f"Highest heart rate of {draft.step_name(number)}: {hr:g} bpm{before}.")
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
