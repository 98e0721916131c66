"""Quality checks of a step test (METHOD 1.1, 1.2): each triggered one is a `Check` with its numbers and what to do.

Codes: baseline_high and began_too_high (block), few_flat_steps, step_height, step_length, suspect_sample, sampled_once,
rises_inside_step (evidence), heart_rate_missing, heart_rate_fell, no_second_half_sample, floor_not_reached, ceiling_open,
band_untested, no_easy_band.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import load_text, load_to_si
from steadyband.steptest.curve.monotone import TINY
from steadyband.steptest.curve.posterior import Curves
from steadyband.steptest.curve.readings import (
    counted_readings,
    first_running_step,
    hr_values,
    readings_of,
    second_half,
)
from steadyband.steptest.curve.suspects import suspects
from steadyband.steptest.model import Check, Edges, Step, StepTest


def run_checks(test: StepTest, edges: Edges, curves: Curves, settings: StepTestSettings) -> tuple[Check, ...]:
    """Every check that is triggered: baseline, protocol, samples, heart rate, edges."""
    return (
        *_baseline(test, settings),
        *_began_too_high(test, curves, settings),
        *_flat_steps(test, edges, settings),
        *_step_height(test, settings),
        *_step_length(test, settings),
        *_suspects(test, curves, settings),
        *_samples(test, edges, settings),
        *_heart_rate(test),
        *_edges(test, edges),
    )


def step_name(test: StepTest, number: int) -> str:
    """A step for people: "step 3 (115 W)", with its incline where it has one."""
    step = test.steps[number - 1]
    incline = f" at {step.incline_percent:g} %" if step.incline_percent else ""
    return f"step {number} ({typed_load(test, step)}{incline})"


def typed_load(test: StepTest, step: Step) -> str:
    """The load as typed, before any incline is counted: "115 W", "9.0 km/h", "6:31 min/km"."""
    return load_text(load_to_si(step.load, test.load_unit), test.load_unit)


def _baseline(test: StepTest, settings: StepTestSettings) -> Iterator[Check]:
    value, most = test.baseline[-1], settings.baseline_max
    if value > most + TINY:
        numbers = {"baseline": value, "at_most": most}
        yield Check("baseline_high", "block", 0, BLOCKING["baseline_high"](test.sport, numbers), numbers)


def _baseline_text(sport: str, numbers: Mapping[str, float]) -> str:
    easy = "Spin very easily" if sport == "cycling" else "Walk very easily"
    return (
        f"The baseline is {numbers['baseline']:g} mmol/L; a test starts from at most {numbers['at_most']:g}. {easy} for "
        "15-20 minutes and sample again; if it is still high, test on another day."
    )


def _too_high_text(sport: str, numbers: Mapping[str, float]) -> str:
    del sport, numbers
    return (
        "Lactate stood well up at the first step already: most of the steady band lies below it, where nothing was tested. "
        "Test again and start much easier."
    )


BLOCKING: Mapping[str, Callable[[str, Mapping[str, float]], str]] = {
    "baseline_high": _baseline_text,
    "began_too_high": _too_high_text,
}
"""The words of every check that blocks a test, from its sport and numbers: sessions keep only those."""


def _began_too_high(test: StepTest, curves: Curves, settings: StepTestSettings) -> Iterator[Check]:
    first = test.steps[0].load_si
    top = float(np.median(curves.loads_at(settings.target_rise)))
    if top <= first:
        numbers = {"target_top_si": top, "first_load_si": first}
        yield Check("began_too_high", "block", 1, _too_high_text(test.sport, numbers), numbers)


def _flat_steps(test: StepTest, edges: Edges, settings: StepTestSettings) -> Iterator[Check]:
    if edges.floor is None:
        return
    flat, wanted = sum(step.load_si < edges.floor for step in test.steps), settings.flat_steps_min
    if flat < wanted:
        text = (
            f"Only {flat} {'step lies' if flat == 1 else 'steps lie'} below the floor of {load_text(edges.floor, test.load_unit)}; "
            f"at least {wanted} are wanted, so that the flat part is known. Start easier next time."
        )
        yield Check("few_flat_steps", "warn", flat + 1, text, {"flat_steps": flat, "wanted": wanted})


def _step_height(test: StepTest, settings: StepTestSettings) -> Iterator[Check]:
    if test.mass_kg is None or test.load_unit != "W" or test.sport != "cycling":
        return
    heights = np.diff([step.load_si for step in test.steps])
    at = int(np.argmax(heights))
    height = float(heights[at]) / test.mass_kg
    if height > settings.step_height_max + TINY:
        text = (
            f"From {step_name(test, at + 1)} to {step_name(test, at + 2)} the load rises by {heights[at]:.0f} W, which is "
            f"{height:.2f} W/kg; at most {settings.step_height_advised:g} is advised, and over {settings.step_height_max:g} "
            "one step can jump across the whole steady band. Take smaller steps next time."
        )
        yield Check("step_height", "warn", at + 2, text, {"w_per_kg": height, "at_most": settings.step_height_max})


def _step_length(test: StepTest, settings: StepTestSettings) -> Iterator[Check]:
    if test.step_minutes < settings.step_minutes_min - TINY:
        text = (
            f"The steps are {test.step_minutes:g} minutes long; under {settings.step_minutes_min:g} lactate and heart rate "
            f"lag behind the load and the edges read too high. Take {settings.step_minutes_advised:g}-minute steps next time."
        )
        yield Check(
            "step_length", "warn", None, text, {"minutes": test.step_minutes, "at_least": settings.step_minutes_min}
        )


def _suspects(test: StepTest, curves: Curves, settings: StepTestSettings) -> Iterator[Check]:
    once = [number for number, values in enumerate(counted_readings(test)[1:], 1) if len(values) == 1]
    if 2 * len(once) > len(test.steps):
        text = (
            f"In {len(once)} of {len(test.steps)} steps only one sample counts: a bad drop there can move an edge and nothing "
            "would show it. Take two samples a step next time."
        )
        yield Check("sampled_once", "warn", once[0], text, {"steps": len(once)})
    for found in suspects(readings_of(test), curves, test.analyser_sd, settings):
        word = "probably" if found.share >= 0.5 else "perhaps"
        text = (
            f"The sample of {found.lactate:g} mmol/L at {step_name(test, found.step + 1)} does not sit with the others: {word} a bad "
            f"drop ({100 * min(found.share, 0.99):.0f} %). {_consequence(test, found.moves)} While the step lasts, take another: "
            "clean, dry finger, never the first drop."
        )
        numbers = {"lactate": found.lactate, "bad_drop": found.share, "moves_si": found.moves}
        yield Check("suspect_sample", "warn", found.step + 1, text, numbers)


def _consequence(test: StepTest, moves: float) -> str:
    told = _difference(test, moves)
    return (
        "The edges are the same without it." if told.startswith(("0 ", "0.0 ")) else f"If so, an edge moves by {told}."
    )


def _difference(test: StepTest, load_si: float) -> str:
    return f"{load_si:.0f} W" if test.load_unit == "W" else f"{3.6 * load_si:.1f} km/h"


def _samples(test: StepTest, edges: Edges, settings: StepTestSettings) -> Iterator[Check]:
    for number, step in enumerate(test.steps, 1):
        if edges.floor is not None and step.load_si >= edges.floor:
            yield from _rises_inside(test, number, step, settings)
    late = [number for number, step in enumerate(test.steps, 1) if not second_half(step, test.step_minutes)]
    if late:
        names = ", ".join(step_name(test, number) for number in late)
        text = (
            f"No sample is noted in the second half (from minute {test.step_minutes / 2:g}) of {names}; the last sample was "
            "used instead. Sample late in the step, and note the minute."
        )
        yield Check("no_second_half_sample", "warn", late[0], text, {"steps": len(late)})


def _rises_inside(test: StepTest, number: int, step: Step, settings: StepTestSettings) -> Iterator[Check]:
    first, last = step.samples[0].lactate_mmol_l, step.samples[-1].lactate_mmol_l
    if last - first > settings.rise_within_step + TINY:
        text = (
            f"Lactate still rises inside {step_name(test, number)}, from {first:g} to {last:g} mmol/L: a sign that this load "
            "is already heavy. Hold steady sessions below it."
        )
        numbers = {"first": first, "last": last, "more_than": settings.rise_within_step}
        yield Check("rises_inside_step", "evidence", number, text, numbers)


def _heart_rate(test: StepTest) -> Iterator[Check]:
    hr = hr_values(test)
    missing = [int(number) for number in np.flatnonzero(np.isnan(hr)) + 1]
    if missing:
        names = ", ".join(step_name(test, number) for number in missing)
        text = f"No heart rate is noted for {names}. Note the highest heart rate of every step: the limits are read from it."
        yield Check("heart_rate_missing", "warn", missing[0], text, {"steps": len(missing)})
    highest = 0
    for number in (int(item) for item in np.flatnonzero(~np.isnan(hr)) + 1):
        if highest and hr[number - 1] < hr[highest - 1]:
            yield _hr_fell(test, highest, number)
        else:
            highest = number


def _hr_fell(test: StepTest, before: int, number: int) -> Check:
    high, low = test.steps[before - 1].hr_max_bpm or 0.0, test.steps[number - 1].hr_max_bpm or 0.0
    text = (
        f"The highest heart rate of {step_name(test, number)} is {low:g} bpm, under the {high:g} of {step_name(test, before)}, "
        "which was easier. One of the two is wrong: check the strap and the recording."
    )
    return Check("heart_rate_fell", "warn", number, text, {"before": high, "now": low})


def _edges(test: StepTest, edges: Edges) -> Iterator[Check]:
    last = load_text(test.steps[-1].load_si, test.load_unit)
    if edges.floor is None:
        text = (
            f"No clear rise up to {last}, the last load: the test ended too early, and all edges lie above it. "
            "Test again and go further."
        )
        yield Check("floor_not_reached", "warn", None, text, {"last_load": test.steps[-1].load})
        return
    if edges.ceiling is None:
        text = (
            f"Lactate rose, but the ceiling was not reached up to {last}, the last load: it is open, at least {last}. "
            "Take one or two more steps next time."
        )
        yield Check("ceiling_open", "warn", len(test.steps), text, {"last_load": test.steps[-1].load})
    if edges.untested:
        yield _untested(test, edges)
    if edges.easy_empty:
        yield _no_easy_band(test, edges.floor)


def _untested(test: StepTest, edges: Edges) -> Check:
    floor, ceiling = load_text(edges.floor, test.load_unit), load_text(edges.ceiling, test.load_unit)
    text = (
        f"No step lay inside the steady band from {floor} to {ceiling}: it is read off the curve between two steps. Test again "
        "with smaller steps around it."
    )
    numbers = {"floor_si": edges.floor or 0.0, "ceiling_si": edges.ceiling or 0.0}
    return Check("band_untested", "warn", None, text, numbers)


def _no_easy_band(test: StepTest, floor: float) -> Check:
    number = first_running_step(test)
    advice = (
        "Every run is at least steady; put easy volume on the bike or on walking."
        if test.sport == "running"
        else "If the test began too high, start it easier next time; until then no load of it counts as easy."
    )
    where = step_name(test, number)
    text = f"There is no easy band in {test.sport}: lactate is already up at {where}. {advice}"
    return Check("no_easy_band", "warn", number, text, {"floor_si": floor})
