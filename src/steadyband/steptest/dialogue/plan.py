"""Planning a step test: start load, step height, sample times, strips, and what to mind (METHOD 1, 9)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from steadyband.ground.errors import UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit, load_from_si, load_to_si, typed_load_text
from steadyband.steptest.dialogue.designs import Design, Likely, expected_widths, likely_after, likely_near
from steadyband.steptest.model import AnalyserSd, Gait, ZoneSet

STEPS_ABOVE = 2
"""Fewest planned steps above the expected floor (design choice: with three easy steps this makes an hour)."""
MOST_STEPS = 8
"""Most steps of a plan (design choice: the test stays within 80 minutes)."""
NEARLY = 1.1
"""The shortest plan is taken whose expected ranges are at most this much wider than the narrowest (design choice)."""
SAMPLE_MINUTES = (5.0, 10.0)
"""Minutes of a 10-minute step at which a sample is taken (common practice, no source)."""
SPARE_MINUTES = (6.5, 8.0)
"""Minutes of a 10-minute step at which a spoilt sample can be taken again (common practice, no source)."""
BASELINE_STRIPS = 2
"""Strips laid out for the baseline: one, and one for a second try."""
BIKE_STEP_W = 5
"""Step heights and start loads by bike are multiples of this (design choice: what a trainer is set to)."""
BIKE_STEP_LEAST_W = 10.0
"""Least step height that is tried by bike, where the body mass allows it (design choice)."""
BIKE_START_MIN_W = 30.0
"""Lowest start load by bike (design choice: below it most trainers brake unevenly)."""
FOOT_HEIGHTS_KMH = (0.5, 1.0)
"""Lowest and highest step height by foot (common practice, no source)."""
FOOT_HEIGHT_SHARE = 0.07
"""Step height by foot as a share of the steady speed, within the bounds above (design choice)."""
FOOT_START_MIN_KMH = 3.0
"""Lowest walking step (design choice)."""
WALK_FIRST_KMH = 6.0
"""Walking step put before a test that would otherwise begin with running (design choice: a brisk walk)."""
RUN_FROM_KMH = 7.0
"""Speed from which a step is run (common practice, no source: most people change from walking to running near it)."""

STATE = (
    "Come as you train: fed as usual, usual coffee, usual tiredness, in the position you train in. "
    "Fasted only if you train fasted.",
    "No hard session on the day before; the same time of day as your training.",
    "Bike or treadmill, fan, towel, drink, analyser and strips at room temperature, all within reach.",
    "Warm up very easily for 5-10 minutes, below the first step, then take the baseline.",
)
SAMPLING = (
    "Practise sampling beforehand on the bike or treadmill itself, until it takes under a minute.",
    "Finger clean, dry and free of sweat: sweat carries lactate and spoils the reading.",
    "Never the first drop: wipe it off, take a later one.",
    "A drop that holds its shape is good; one that runs is mixed with sweat: wipe and take another.",
    "Note the highest heart rate of each step, not the average.",
    "A value that falls, or two that disagree: take another while the step lasts.",
)
"""Habits of the trade (common practice, no source)."""
CAUTIONS = (
    "Exercise tests can hurt. If you have symptoms, a known heart, metabolic or kidney disease, or are new to hard exercise, "
    "ask your physician before testing; follow local practice.",
    "Chest pain, fainting or unusual breathlessness end the test. Get help.",
    "One single-use lancet per prick, never shared, nor the analyser's strip. Clean hands and surfaces; clean the analyser "
    "after every use.",
    "Used lancets and strips go into a sharps box, by local rules.",
    "This is a sub-maximal test: stop once the ceiling is crossed. It is no diagnosis and no substitute for a licensed "
    "professional.",
)
"""METHOD 9, SOURCES S11."""


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """What a plan is made from.

    `steady_load` is a rough idea of the load held in steady training, in `load_unit`; `last` the zone set of an earlier
    test, which goes before it.
    """

    sport: str
    load_unit: LoadUnit
    mass_kg: float | None = None
    steady_load: float | None = None
    last: ZoneSet | None = None


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One step of the plan: `load` in the plan's unit; `easy` where no rise is expected yet."""

    number: int
    load: float
    load_si: float
    gait: Gait
    easy: bool


@dataclass(frozen=True, slots=True)
class Strips:
    """Strips to lay out: those the plan uses, and half as many again spare."""

    used: int
    spare: int

    @property
    def total(self) -> int:
        """All strips to lay out."""
        return self.used + self.spare


@dataclass(frozen=True, slots=True)
class TestPlan:
    """A proposed step test; `widths` are the expected widths of the ranges of floor and ceiling, W or m/s, by samples a step."""

    __test__ = False

    sport: str
    load_unit: LoadUnit
    mass_kg: float | None
    step_height: float
    step_minutes: float
    steps: tuple[PlannedStep, ...]
    sample_minutes: tuple[float, ...]
    spare_minutes: tuple[float, ...]
    strips: Strips
    minutes: tuple[int, int]
    baseline_max: float
    basis: str
    notes: tuple[str, ...]
    widths: Mapping[int, tuple[float, float]]
    settings: StepTestSettings


def plan_test(request: PlanRequest, settings: StepTestSettings = StepTestSettings()) -> TestPlan:
    """A step test with at least three easy steps below the expected floor, the ceiling within reach, and ranges as narrow as
    start and step height can make them (METHOD 1.6).

    The floor is expected at that of the last test, else one step below the steady load: people tend to name a load
    from the middle of their band (common practice, no source). Pace units are planned in km/h, as a treadmill shows it.

    Raises UsageError where sport, mass or load are missing or cannot be planned for.
    """
    _check_last(request)
    return _bike_plan(request, settings) if request.sport == "cycling" else _foot_plan(request, settings)


def _check_last(request: PlanRequest) -> None:
    last = request.last
    if last is None:
        return
    if last.test.sport != request.sport:
        raise UsageError(
            f"expected an earlier test in {request.sport}, found one in {last.test.sport} ({last.test.file}).",
            hint="Edges are never carried from one sport to another: give --steady instead.",
        )
    if request.sport != "cycling" and last.test.load_unit == "W":
        raise UsageError(
            f"expected an earlier test in speed or pace, found one in W ({last.test.file}).",
            hint="Give --steady as a speed or pace instead.",
        )


def answers_of(plan: TestPlan, last: ZoneSet | None = None) -> dict[str, Any]:
    """What a plan answers before a test that is entered begins; with an earlier test also what that one was done with."""
    found: dict[str, Any] = {
        "sport": plan.sport,
        "load_unit": plan.load_unit,
        "loads": [step.load for step in plan.steps],
        "step_height": plan.step_height,
        "step_minutes": plan.step_minutes,
    }
    if plan.mass_kg is not None:
        found["mass_kg"] = plan.mass_kg
    if last is not None:
        test = last.test
        found |= {"state": test.state, "analyser": test.analyser, "meter": test.meter, **_own_scatter(last)}
    return found


def _own_scatter(last: ZoneSet) -> dict[str, Any]:
    """The scatter that the last test's file gives for its analyser, which the same analyser still has."""
    own, usual = last.test.analyser_sd, last.settings
    if (own.floor, own.fraction) == (usual.sd_floor, usual.sd_fraction):
        return {}
    return {"analyser_sd": {"floor": own.floor, "fraction": own.fraction}}


def bike_step_height(mass_kg: float, settings: StepTestSettings = StepTestSettings()) -> float:
    """Advised step height [W]: 0.25 W/kg to the nearest 5 W, ties down, never past the height that warns, at least 5.

    Source: METHOD 1.1.
    """
    advised = settings.step_height_advised * mass_kg
    steps = math.ceil(advised / BIKE_STEP_W - 0.5)
    most = math.floor(settings.step_height_max * mass_kg / BIKE_STEP_W)
    return float(BIKE_STEP_W * max(1, min(steps, most)))


def foot_step_height(steady_kmh: float) -> float:
    """Advised step height by foot [km/h]: 7 % of the steady speed to the nearest 0.1, held to 0.5-1.0."""
    low, high = FOOT_HEIGHTS_KMH
    return min(max(round(FOOT_HEIGHT_SHARE * steady_kmh, 1), low), high)


def _bike_plan(request: PlanRequest, settings: StepTestSettings) -> TestPlan:
    if request.load_unit != "W":
        raise UsageError(f"expected a load in W by bike, found {request.load_unit}.", hint="Leave --unit out.")
    mass = _mass(request)
    advised = bike_step_height(mass, settings)
    rise, basis = _expected_rise(request, advised)
    rise = _multiple(rise)
    heights = np.arange(min(BIKE_STEP_LEAST_W, advised), _smaller_step(advised, rise, settings) + 1, BIKE_STEP_W)
    tried = [
        _Laid.of(rise, float(height), easy, _likely(request, rise, "W"), "W", request.last, settings)
        for height in heights
        for easy in (settings.flat_steps_min, settings.flat_steps_min + 1)
        if rise - easy * height >= BIKE_START_MIN_W
    ]
    best = _shortest(tried)
    notes = (
        f"Step height {best.height:g} W is {best.height / mass:.2f} W/kg; about {settings.step_height_advised:g} is advised.",
    )
    return _plan(request, "W", best, basis, notes, settings)


def _mass(request: PlanRequest) -> float:
    mass = request.mass_kg or (request.last.test.mass_kg if request.last else None)
    if mass is None:
        raise UsageError("expected a body mass for the step height, found none.", hint="Add --mass, in kg.")
    if not 25 <= mass <= 250:
        raise UsageError(f"expected a body mass of 25 to 250 kg, found {mass:g}.")
    return mass


def _smaller_step(height: float, rise: float, settings: StepTestSettings) -> float:
    room = math.floor((_multiple(rise) - BIKE_START_MIN_W) / settings.flat_steps_min / BIKE_STEP_W) * BIKE_STEP_W
    if room < BIKE_STEP_W:
        raise UsageError(
            f"expected a load that leaves room for {settings.flat_steps_min} easier steps above {BIKE_START_MIN_W:g} W, "
            f"found a floor expected at {rise:.0f} W.",
            hint="Check the steady load; is it in W?",
        )
    return float(min(height, room))


def _multiple(watts: float) -> float:
    return math.floor(watts / BIKE_STEP_W + 0.5) * BIKE_STEP_W


def _expected_rise(request: PlanRequest, height: float) -> tuple[float, str]:
    if request.last is not None:
        return _from_last(request.last, request.load_unit)
    if request.steady_load is None:
        raise UsageError(
            "expected a rough steady load or an earlier test, found neither.", hint="Add --steady or --from-test."
        )
    if not 0 < request.steady_load < 1000:
        raise UsageError(f"expected a steady load above 0, found {request.steady_load:g}.")
    text = typed_load_text(load_to_si(request.steady_load, request.load_unit), request.load_unit)
    return request.steady_load - height, f"a rough steady load of {text}; the floor is expected one step below it"


def _from_last(last: ZoneSet, unit: LoadUnit) -> tuple[float, str]:
    test, floor = last.test, last.edges.floor
    if floor is None:
        rise = test.steps[-1].load_si
        return load_from_si(
            rise, unit
        ), f"the test of {test.date}, which ended at {typed_load_text(rise, unit)} before any clear rise"
    text = f"the test of {test.date}, whose floor is {typed_load_text(floor, unit)}"
    return load_from_si(floor, unit), text


def _foot_plan(request: PlanRequest, settings: StepTestSettings) -> TestPlan:
    if request.load_unit == "W":
        raise UsageError(
            "expected a speed or a pace by foot, found W.", hint="Give --steady as km/h (9.2) or pace (6:30)."
        )
    in_kmh = _as_kmh(request)
    rise, basis = _expected_rise(in_kmh, foot_step_height(in_kmh.steady_load or 0.0))
    low, high = FOOT_HEIGHTS_KMH
    tried = [
        _Laid.of(
            rise, float(height), settings.flat_steps_min, _likely(request, rise, "km/h"), "km/h", request.last, settings
        )
        for height in np.round(np.arange(low, high + 0.05, 0.1), 1)
    ]
    best = _shortest(tried)
    loads = [round(load, 1) for load in best.loads]
    notes = [f"Step height {best.height:g} km/h; {low:g} to {high:g} is common practice."]
    if loads[0] >= RUN_FROM_KMH:
        loads[0] = WALK_FIRST_KMH
        notes.append(
            "The first step is a brisk walk, so that the flat part is known even if every run is already above it."
        )
    if loads[0] < FOOT_START_MIN_KMH:
        raise UsageError(
            f"expected a speed that leaves room for {settings.flat_steps_min} easier steps, found a floor expected at "
            f"{rise:.1f} km/h.",
            hint="Check the steady load; is it in km/h?",
        )
    return _plan(request, "km/h", replace(best, loads=tuple(loads)), basis, tuple(notes), settings)


def _as_kmh(request: PlanRequest) -> PlanRequest:
    steady = request.steady_load
    if steady is not None:
        if not 0 < steady < 1000:
            raise UsageError(f"expected a steady load above 0, found {steady:g}.")
        steady = load_from_si(load_to_si(steady, request.load_unit), "km/h")
    return PlanRequest(request.sport, "km/h", request.mass_kg, steady, request.last)


@dataclass(frozen=True, slots=True)
class _Laid:
    """One way to lay the steps: loads in the plan's unit, how many lie below the expected floor, expected widths [W or m/s]."""

    height: float
    loads: tuple[float, ...]
    easy: int
    widths: Mapping[int, tuple[float, float]]

    @classmethod
    def of(
        cls,
        rise: float,
        height: float,
        easy: int,
        likely: Likely,
        unit: LoadUnit,
        last: ZoneSet | None,
        settings: StepTestSettings,
    ) -> _Laid:
        start, ceiling = rise - easy * height, load_from_si(float(likely.weight @ (likely.floor + likely.width)), unit)
        needed = math.ceil((ceiling - start) / height - 1e-9) + 1
        count = min(max(needed, easy + 1 + STEPS_ABOVE), MOST_STEPS)
        analyser = last.test.analyser_sd if last else AnalyserSd(settings.sd_floor, settings.sd_fraction)
        si = load_to_si(start, unit), load_to_si(height, unit)
        widths = {
            samples: expected_widths(Design(*si, MOST_STEPS, samples), likely, analyser, settings) for samples in (1, 2)
        }
        return cls(height, tuple(start + height * number for number in range(count)), easy, widths)

    @property
    def width(self) -> float:
        """Both widths with two samples a step, added up."""
        return sum(self.widths[2])


def _likely(request: PlanRequest, rise: float, unit: LoadUnit) -> Likely:
    after = likely_after(request.last) if request.last is not None else None
    return after or likely_near(load_to_si(rise, unit))


def _shortest(tried: Sequence[_Laid]) -> _Laid:
    """The one with fewest steps, then narrowest, of those whose ranges are nearly as narrow as any."""
    limit = NEARLY * min(item.width for item in tried)
    return min((item for item in tried if item.width <= limit), key=lambda item: (len(item.loads), item.width))


def _plan(
    request: PlanRequest, unit: LoadUnit, laid: _Laid, basis: str, notes: tuple[str, ...], settings: StepTestSettings
) -> TestPlan:
    loads = laid.loads
    minutes = settings.step_minutes_advised
    used = 2 * len(loads) + BASELINE_STRIPS
    return TestPlan(
        sport=request.sport,
        load_unit=unit,
        mass_kg=request.mass_kg or (request.last.test.mass_kg if request.last else None),
        step_height=laid.height,
        step_minutes=minutes,
        steps=tuple(_step(number, load, unit, request.sport, laid.easy) for number, load in enumerate(loads, 1)),
        sample_minutes=scaled_minutes(SAMPLE_MINUTES, minutes),
        spare_minutes=scaled_minutes(SPARE_MINUTES, minutes),
        strips=Strips(used, math.ceil(used / 2)),
        minutes=(round(minutes * (len(loads) - 1)), round(minutes * len(loads))),
        baseline_max=settings.baseline_max,
        basis=basis,
        notes=(*notes, _widths_note(laid, unit, settings)),
        widths=laid.widths,
        settings=settings,
    )


def _widths_note(laid: _Laid, unit: LoadUnit, settings: StepTestSettings) -> str:
    two, one = ([_width_text(width, unit) for width in laid.widths[samples]] for samples in (2, 1))
    return (
        f"To be expected with two samples a step: {settings.range_share * 100:.0f} % ranges of about {two[0]} for the floor and "
        f"{two[1]} for the ceiling. With one: {one[0]} and {one[1]}, and a bad drop would not be noticed."
    )


def _width_text(width_si: float, unit: LoadUnit) -> str:
    width = load_from_si(width_si, unit)
    return f"{width:.0f} W" if unit == "W" else f"{width:.1f} {unit}"


def _step(number: int, load: float, unit: LoadUnit, sport: str, easy_steps: int) -> PlannedStep:
    walked = sport != "cycling" and load < RUN_FROM_KMH
    easy = number <= easy_steps
    return PlannedStep(number, load, load_to_si(load, unit), "walk" if walked else "run", easy)


def scaled_minutes(minutes: tuple[float, ...], step_minutes: float) -> tuple[float, ...]:
    """Sample minutes of a 10-minute step -> those of a step of `step_minutes`, to half a minute."""
    return tuple(round(2 * minute * step_minutes / 10) / 2 for minute in minutes)
