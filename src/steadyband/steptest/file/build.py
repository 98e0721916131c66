"""From the typed tables of a test to a checked `StepTest` (METHOD 1.1, last row; the test file of the output contract).

The same rules hold for TOML and for tables; `place` says where a value stands in either.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any, cast

from steadyband.ground.errors import TestFileError
from steadyband.ground.plain import shown
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.slope import flat_equivalent_speed
from steadyband.ground.sports import SPORT_WORDS, sport_named
from steadyband.ground.units import LOAD_UNITS, LoadUnit, is_speed, load_to_si, parse_load, typed_load_text
from steadyband.steptest.file.fields import Fields, Place
from steadyband.steptest.model import AnalyserSd, Gait, Sample, Step, StepTest

SPORTS = ("cycling", "running")
STATES = ("fed", "fasted")
GAITS = ("run", "walk")
TEST_KEYS = (
    *("date", "sport", "load_unit", "state", "mass_kg", "step_minutes", "baseline", "step", "gait", "incline", "note"),
    *("position", "meter", "analyser", "analyser_sd", "override", "recording"),
)
STEP_KEYS = ("load", "load_unit", "hr_max", "samples", "gait", "incline", "note", "start")
SAMPLE_KEYS = ("minute", "lactate")

MIN_STEPS = 3
MOST = 100
"""Steps of a test, and samples of a step (design choice: more is no test that a person took)."""
LATE_MINUTES = 2.0
"""A sample may be noted this long after the step's end (finger, drop, strip); later ones count from another start."""
HR_BPM = (25, 230)
MAX_LOAD_W = 2500.0
SPEED_MPS = (0.3, 12.0)


def build_test(raw: Mapping[str, Any], file: str, place: Place, settings: StepTestSettings) -> StepTest:
    """The checked test. Raises TestFileError naming file, key or step and value, expected, found and what to try."""
    fields = Fields(raw, file, (), place)
    fields.check_keys(TEST_KEYS)
    sport = sport_named(fields.word("sport", SPORT_WORDS, listed=SPORTS))
    unit = cast(LoadUnit, fields.word("load_unit", LOAD_UNITS))
    if sport == "cycling" and is_speed(unit):
        raise fields.fault(
            "load_unit", f'expected "W" for cycling, found "{unit}".', "Enter the steps of a bike test in watts."
        )
    minutes = fields.number("step_minutes", 1, 60, "min")
    return StepTest(
        file=file,
        date=fields.date("date"),
        sport=sport,
        load_unit=unit,
        state=fields.word("state", STATES, "fed"),
        step_minutes=minutes,
        baseline=_baseline(fields, settings),
        steps=_steps(fields, sport, unit, minutes, settings),
        analyser_sd=_analyser_sd(fields, settings),
        mass_kg=fields.maybe_number("mass_kg", 20, 250, "kg"),
        position=fields.text("position"),
        meter=fields.text("meter"),
        analyser=fields.text("analyser"),
        note=fields.text("note"),
        override=_override(fields),
        recording=fields.text("recording") or None,
    )


def _override(fields: Fields) -> str | None:
    if not fields.has("override"):
        return None
    reason = fields.text("override")
    if not reason:
        hint = "Write why the test is used in spite of its check, or leave the key out."
        raise fields.fault("override", "expected a reason in words, found an empty text.", hint)
    return reason


def _analyser_sd(fields: Fields, settings: StepTestSettings) -> AnalyserSd:
    value = fields.values.get("analyser_sd")
    if value is None:
        return AnalyserSd(settings.sd_floor, settings.sd_fraction)
    if not isinstance(value, Mapping):
        return AnalyserSd(fields.checked_number("analyser_sd", value, 0.001, 5, "mmol/L"), 0.0)
    inner = Fields(value, fields.file, ("analyser_sd",), fields.place)
    inner.check_keys(("floor", "fraction"))
    return AnalyserSd(inner.number("floor", 0.001, 5, "mmol/L"), inner.number("fraction", 0, 1, "of the reading"))


def _baseline(fields: Fields, settings: StepTestSettings) -> tuple[float, ...]:
    hint = "Add the resting sample, e.g. baseline = [1.1]."
    value = fields.need("baseline", "one or more samples in mmol/L", hint)
    values = value if isinstance(value, list) else [value]
    if not values:
        raise fields.fault("baseline", "expected one or more samples in mmol/L, found none.", hint)
    _check_most(fields, "baseline", len(values), "samples")
    named = [
        (f"baseline, sample {number}" if len(values) > 1 else "baseline", item) for number, item in enumerate(values, 1)
    ]
    return tuple(
        fields.checked_number(key, item, settings.lactate_low, settings.lactate_high, "mmol/L") for key, item in named
    )


def _steps(fields: Fields, sport: str, unit: LoadUnit, minutes: float, settings: StepTestSettings) -> tuple[Step, ...]:
    hint = "Each step starts with [[step]] and holds load, hr_max and samples."
    tables = fields.need("step", f"at least {MIN_STEPS} steps", hint)
    if not isinstance(tables, list):
        raise fields.fault("step", f"expected a list of steps, found {shown(tables)}.", hint)
    if len(tables) < MIN_STEPS:
        more = "A curve needs a flat part, a first rise and a step above it."
        raise fields.fault("step", f"expected at least {MIN_STEPS} steps, found {len(tables)}.", more)
    _check_most(fields, "step", len(tables), "steps")
    whole = {key: fields.values[key] for key in ("gait", "incline") if fields.has(key)}
    inners = [fields.inner("step", number, table) for number, table in enumerate(tables, 1)]
    steps = tuple(_step(inner, whole, sport, unit, _samples(inner, minutes, settings)) for inner in inners)
    for (before, step), inner in zip(pairwise(steps), inners[1:], strict=True):
        _check_order(before, step, inner, unit)
    return steps


def _check_most(fields: Fields, key: str, found: int, what: str) -> None:
    if found > MOST:
        raise fields.fault(key, f"expected at most {MOST} {what}, found {found}.", "One test a file.")


def _step(inner: Fields, whole: Mapping[str, Any], sport: str, unit: LoadUnit, samples: tuple[Sample, ...]) -> Step:
    inner.check_keys(STEP_KEYS)
    merged = Fields({**whole, **inner.values}, inner.file, inner.path, inner.place)
    if sport != "running" and (merged.has("gait") or merged.has("incline")):
        key = "gait" if merged.has("gait") else "incline"
        raise merged.fault(key, f"expected no {key} in a {sport} test.", "Gait and incline belong to running tests.")
    gait = cast(Gait, merged.word("gait", GAITS, "run"))
    incline = merged.maybe_number("incline", -45, 45, "%") or 0.0
    load = _load(merged, unit)
    si = load_to_si(load, unit)
    if is_speed(unit) and incline:
        si = float(flat_equivalent_speed(si, incline / 100, gait))
    hr_max = merged.maybe_number("hr_max", *HR_BPM, "bpm")
    return Step(load, si, samples, hr_max, gait, incline, merged.text("note"), merged.clock("start", 1))


def _load(fields: Fields, unit: LoadUnit) -> float:
    if fields.has("load_unit") and fields.values["load_unit"] != unit:
        found = fields.values["load_unit"]
        raise fields.fault(
            "load_unit", f'expected "{unit}" as in the rest of the test, found {shown(found)}.', _ONE_UNIT
        )
    typed = fields.need("load", f"a load in {unit}")
    if isinstance(typed, str):
        typed = _load_in_words(fields, typed, unit)
    value = fields.checked_number("load", typed, -1e6, 1e6, unit)
    low, high = (0.0, MAX_LOAD_W) if not is_speed(unit) else SPEED_MPS
    if value <= 0 or not low <= load_to_si(value, unit) <= high:
        found = f"{value:g} {unit}"
        expected = (
            "a load above 0"
            if value <= 0
            else f"a load of {typed_load_text(low, unit)} to {typed_load_text(high, unit)}"
        )
        raise fields.fault(
            "load", f"expected {expected}, found {found}.", f"Check the number, and that it is in {unit}."
        )
    return value


_ONE_UNIT = "Use one unit for all steps."


def _load_in_words(fields: Fields, typed: str, unit: LoadUnit) -> float:
    """A pace as "m:ss", or any load with its unit behind it."""
    named = next((item for item in LOAD_UNITS if typed.strip().endswith(item)), None)
    if named and named != unit:
        raise fields.fault(
            "load", f"expected a load in {unit} as in the rest of the test, found {shown(typed)}.", _ONE_UNIT
        )
    bare = typed.strip().removesuffix(named or "").strip()
    value = parse_load(bare, unit)
    if value is None:
        try:
            return float(bare)
        except ValueError:
            pass
        pace = is_speed(unit) and unit != "km/h"
        expected = f'a pace in {unit} as "5:30" or 5.5' if pace else f"a plain number in {unit}"
        raise fields.fault("load", f"expected {expected}, found {shown(typed)}.", _ONE_UNIT)
    return value


def _samples(inner: Fields, minutes: float, settings: StepTestSettings) -> tuple[Sample, ...]:
    hint = "Add samples = [{minute = 10, lactate = 1.2}], or leave the step out."
    listed = inner.need("samples", "one or more samples", hint)
    if not isinstance(listed, list) or not listed:
        raise inner.fault("samples", f"expected one or more samples, found {shown(listed)}.", hint)
    _check_most(inner, "samples", len(listed), "samples")
    tables = [item if isinstance(item, Mapping) else {"lactate": item} for item in listed]
    samples = [
        _sample(inner.inner("sample", number, table), minutes, settings) for number, table in enumerate(tables, 1)
    ]
    noted = [item.minute for item in samples if item.minute is not None]
    return tuple(samples) if len(noted) < len(samples) else tuple(sorted(samples, key=lambda item: item.minute or 0.0))


def _sample(fields: Fields, minutes: float, settings: StepTestSettings) -> Sample:
    fields.check_keys(SAMPLE_KEYS)
    minute = fields.clock("minute", 60)
    if minute is not None and minute > minutes + LATE_MINUTES:
        hint = "Count the minutes of a sample from the start of its own step."
        raise fields.fault("minute", f"expected a minute within the {minutes:g}-minute step, found {minute:g}.", hint)
    return Sample(minute, fields.number("lactate", settings.lactate_low, settings.lactate_high, "mmol/L"))


def _check_order(before: Step, step: Step, inner: Fields, unit: LoadUnit) -> None:
    if step.load_si > before.load_si * (1 + 1e-9):
        return
    pair = f"{typed_load_text(step.load_si, unit)} after {typed_load_text(before.load_si, unit)}"
    flat = " (flat-equivalent)" if step.incline_percent or before.incline_percent else ""
    raise TestFileError(
        f"expected loads that rise from step to step, found {pair}{flat}.",
        file=inner.file,
        place=inner.place(inner.path, "load"),
        hint="Order the steps from easy to hard, each load once.",
    )
