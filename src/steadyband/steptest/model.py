"""The step test as typed, and the zone set made from it. Loads inside are W or m/s (flat-equivalent)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit

FloatArray = NDArray[np.float64]
Gait = Literal["run", "walk"]


@dataclass(frozen=True, slots=True)
class Sample:
    """One lactate sample: minute within the step (None where not noted) and mmol/L."""

    minute: float | None
    lactate_mmol_l: float


@dataclass(frozen=True, slots=True)
class Step:
    """One step: the load as typed (test's unit), the same in W or flat-equivalent m/s, and what was measured."""

    load: float
    load_si: float
    samples: tuple[Sample, ...]
    hr_max_bpm: float | None = None
    gait: Gait = "run"
    incline_percent: float = 0.0
    note: str = ""
    start_s: float | None = None  # seconds into the test's own recording, where typed


@dataclass(frozen=True, slots=True)
class AnalyserSd:
    """sd(L) = max(floor, fraction x L) in mmol/L (METHOD 1.1, SOURCES S1)."""

    floor: float
    fraction: float

    def at(self, lactate_mmol_l: FloatArray | float) -> FloatArray:
        """Standard deviation [mmol/L] at each reading [mmol/L], same shape."""
        return np.maximum(self.floor, self.fraction * np.asarray(lactate_mmol_l, dtype=np.float64))


@dataclass(frozen=True, slots=True)
class StepTest:
    """One step test as read from its file."""

    file: str
    date: date
    sport: str
    load_unit: LoadUnit
    state: str
    step_minutes: float
    baseline: tuple[float, ...]
    steps: tuple[Step, ...]
    analyser_sd: AnalyserSd
    mass_kg: float | None = None
    position: str = ""
    meter: str = ""
    analyser: str = ""
    note: str = ""
    override: str | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """A quality check that was triggered: step 0 is the baseline, None the test as a whole."""

    code: str
    severity: Literal["block", "warn", "evidence"]
    step: int | None
    text: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Edges:
    """Band edges in W or m/s.

    `first_rise` is the step number k (1-based), None if never found (then `floor` is None: it lies above the last
    load). `ceiling` None with `ceiling_at_least` set: never reached. `jumped`: the first rise itself lies past the
    ceiling, so floor, target top and ceiling are untested interpolations. `easy_empty`: no easy band.
    """

    first_rise: int | None
    plateau: float
    floor: float | None
    target_top: float
    ceiling: float | None
    ceiling_at_least: float | None
    jumped: bool
    easy_empty: bool


@dataclass(frozen=True, slots=True)
class HrLimits:
    """Highest heart rate at the edges, bpm; None where it was not measured."""

    floor: float | None
    target_top: float | None
    ceiling: float | None


@dataclass(frozen=True, slots=True)
class ZoneDraws:
    """Edges of every redrawn test [N], W or m/s and bpm: inf where an edge lies above the last load; hr NaN where unknown."""

    floor: FloatArray
    target_top: FloatArray
    ceiling: FloatArray
    hr_floor: FloatArray
    hr_target_top: FloatArray
    hr_ceiling: FloatArray
    easy_empty: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class EdgeRange:
    """Median and range of one edge over the draws; None where that quantile lies above the last load."""

    median: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One knot of the curve; the baseline stands at load 0."""

    load_si: float
    lactate: float
    fitted: float
    sd: float
    hr_max: float | None


@dataclass(frozen=True, slots=True)
class MethodReading:
    """Another published reading of the same curve, W or m/s; None where it is not reached."""

    name: str
    value: float | None
    source: str


@dataclass(frozen=True, slots=True)
class ZoneSet:
    """Everything made from one test (METHOD 1)."""

    test: StepTest
    usable: bool
    edges: Edges
    ranges: Mapping[str, EdgeRange]  # keys floor, target_top, ceiling
    hr: HrLimits
    curve: tuple[CurvePoint, ...]
    checks: tuple[Check, ...]
    methods: tuple[MethodReading, ...]
    draws: ZoneDraws
    settings: StepTestSettings
