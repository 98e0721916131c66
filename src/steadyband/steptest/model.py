"""The step test as typed, and the zone set made from it. Loads inside are W or m/s (flat-equivalent)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.alike import Alike, html_of
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit, load_text

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


@dataclass(frozen=True, slots=True, repr=False)
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

    def __repr__(self) -> str:
        return f"StepTest({self.file}: {self.sport}, {self.date}, {len(self.steps)} steps in {self.load_unit})"

    def _repr_html_(self) -> str | None:
        return html_of("test", self)


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
    """Band edges in W or m/s: the medians over the curves drawn, floor < target top < ceiling.

    An edge whose median lies beyond the last load tested is open: `floor` and `ceiling` are None, with `ceiling_at_least` the
    last load, and `target_top` is that load. `first_rise` is the number (from 1) of the step that first stood up, as the trade
    reads it by eye; None where none did. `plateau` is the flat part [mmol/L]. `untested`: no step lies between floor and
    ceiling. `easy_empty`: the floor is not above the first step (of a test with running steps, the first run), and is given as
    that load at least.
    """

    first_rise: int | None
    plateau: float
    floor: float | None
    target_top: float
    ceiling: float | None
    ceiling_at_least: float | None
    untested: bool
    easy_empty: bool


@dataclass(frozen=True, slots=True)
class HrLimits:
    """Highest heart rate at the edges, bpm; None where it was not measured."""

    floor: float | None
    target_top: float | None
    ceiling: float | None


@dataclass(frozen=True, slots=True, eq=False)
class ZoneDraws(Alike):
    """The edge sets of a test: row 0 is the nominal set, rows 1..N one for every curve drawn.

    `edges` [1 + N, 3] are floor, target top and ceiling, W or m/s (inf where an edge is open); `hr` [1 + N, 3] the highest heart
    rates there, bpm (NaN where unknown); `easy_empty` [1 + N].
    """

    edges: FloatArray
    hr: FloatArray
    easy_empty: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class EdgeRange:
    """Range of one edge over the curves, W, m/s or bpm; an end is None where it lies above the last load."""

    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One step of the test, the baseline at load 0: its lactate, the median curve there (`fitted`), the analyser's SD."""

    load_si: float
    lactate: float
    fitted: float
    sd: float
    hr_max: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Ribbon(Alike):
    """Median curve and its range, lactate [k] in mmol/L, at `loads` [k] in W or m/s from the first step to the last."""

    loads: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True)
class MethodReading:
    """Another published reading of the same curve, W or m/s; None where it is not reached."""

    name: str
    value: float | None
    source: str


@dataclass(frozen=True, slots=True, repr=False)
class ZoneSet:
    """Everything made from one test (METHOD 1); `scatter` is how much its samples scatter, 1 being the analyser's SD."""

    test: StepTest
    usable: bool
    edges: Edges
    ranges: Mapping[str, EdgeRange]  # keys floor, target_top, ceiling
    hr: HrLimits
    hr_ranges: Mapping[str, EdgeRange]
    curve: tuple[CurvePoint, ...]
    ribbon: Ribbon
    scatter: float
    checks: tuple[Check, ...]
    methods: tuple[MethodReading, ...]
    draws: ZoneDraws
    settings: StepTestSettings

    def __repr__(self) -> str:
        edges, unit = self.edges, self.test.load_unit
        told = (
            f"floor {load_text(edges.floor, unit)}, target top {load_text(edges.target_top, unit)}, "
            f"ceiling {load_text(edges.ceiling, unit)}"
        )
        return f"ZoneSet({self.test.file}: {told if self.usable else 'not usable'})"

    def _repr_html_(self) -> str | None:
        return html_of("zones", self)
