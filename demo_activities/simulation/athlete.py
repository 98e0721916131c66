"""The invented athlete: heart, bike, three step tests as typed, and the lactate curves they scatter around."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from simulation.bike import Bike
from simulation.heart import Heart
from simulation.reference import Edges

NAME = "Wren of the demo (invented)"
ZONE = "Etc/GMT+3"
UTC_OFFSET_S = -10800
"""The zone's name counts westward: Etc/GMT+3 is three hours behind UTC. It needs no claim of a place."""

RIDER_KG, BIKE_KG = 58.0, 10.0
BIKE = Bike(mass_kg=RIDER_KG + BIKE_KG)
RIDING_HEART = Heart(rest_bpm=84.0, per_load=0.5)
RUNNING_HEART = Heart(rest_bpm=73.0, per_load=36.0)


@dataclass(frozen=True, slots=True)
class Step:
    """One step as typed: load in the test's unit (pace as [min, s]) and lactate [mmol/L] in mid-step and at its end."""

    load: float | tuple[int, int]
    early: float
    late: float

    @property
    def si(self) -> float:
        """The load in W, or in m/s what the belt runs at a pace: it is set in steps of 0.05 km/h."""
        if isinstance(self.load, tuple):
            return round(72000.0 / (60 * self.load[0] + self.load[1])) / 72.0
        return float(self.load)


@dataclass(frozen=True, slots=True)
class Curve:
    """Planted lactate [mmol/L]: `base` up to the load `bend`, base + rise (exp((load - bend) / scale) - 1) above it."""

    base: float
    rise: float
    bend: float
    scale: float

    def at(self, load: float) -> float:
        """Lactate at a load."""
        return self.base + self.rise * math.expm1(max(0.0, load - self.bend) / self.scale)

    def load(self, above: float) -> float:
        """The load at which the curve stands so much above its flat part."""
        return self.bend + self.scale * math.log1p(above / self.rise)


BIKE_CURVE = Curve(0.9, 0.2, 112.5, 32.0)
BIKE_BASELINE = 0.9
BIKE_STEPS = (
    Step(85, 0.9, 0.9),
    Step(100, 0.9, 0.8),
    Step(115, 0.9, 1.0),
    Step(130, 1.0, 1.1),
    Step(145, 1.3, 1.3),
    Step(160, 1.5, 1.6),
    Step(175, 2.1, 2.2),
)
OLDER_CURVE = Curve(1.0, 0.2, 104.5, 32.0)
OLDER_BASELINE = 1.0
OLDER_STEPS = (
    Step(78, 1.0, 0.9),
    Step(93, 0.9, 1.0),
    Step(108, 1.1, 1.0),
    Step(123, 1.1, 1.2),
    Step(138, 1.4, 1.4),
    Step(153, 1.7, 1.7),
    Step(168, 2.2, 2.3),
)
OLDER_HEARTS = (127, 135, 142, 150, 157, 165, 172)
RUN_CURVE = Curve(1.1, 0.25, 7.47 / 3.6, 1.5 / 3.6)
RUN_BASELINE = 1.1
RUN_STEPS = (
    Step((8, 0), 1.1, 1.1),
    Step((7, 40), 1.1, 1.2),
    Step((7, 20), 1.2, 1.3),
    Step((7, 0), 1.3, 1.4),
    Step((6, 40), 1.5, 1.6),
    Step((6, 20), 1.8, 1.8),
    Step((6, 0), 2.2, 2.3),
    Step((5, 40), 2.8, 2.9),
)
STEP_S = 480
SAMPLE_MINUTES = (4, 8)

RISES = (0.3, 0.65, 1.0)
"""Lactate above the flat part [mmol/L] at floor, target top and ceiling."""


def loads_at_edges(curve: Curve) -> tuple[float, ...]:
    """Floor, target top and ceiling where the planted curve has them, W or m/s."""
    return tuple(curve.load(rise) for rise in RISES)


def edges_of(sport: str, step_hearts: tuple[int, ...]) -> Edges:
    """Planted edges in W or m/s; `step_hearts` are the highest heart rates [bpm] of the sport's steps, in order."""
    floor, top, ceiling = loads_at_edges(_planted(sport)[0])
    return Edges(floor, top, ceiling, heart_edges(sport, step_hearts).ceiling)


def heart_edges(sport: str, step_hearts: tuple[int, ...]) -> Edges:
    """The same edges in heart rate [bpm]: straight between the steps."""
    curve, steps = _planted(sport)
    floor, top, ceiling = (_heart_at(load, steps, step_hearts) for load in loads_at_edges(curve))
    return Edges(floor, top, ceiling, ceiling)


def _planted(sport: str) -> tuple[Curve, tuple[Step, ...]]:
    return (BIKE_CURVE, BIKE_STEPS) if sport == "cycling" else (RUN_CURVE, RUN_STEPS)


def _heart_at(load: float, steps: Sequence[Step], hearts: Sequence[int]) -> float:
    for (low, before), (high, after) in itertools.pairwise(zip(steps, hearts, strict=True)):
        if low.si <= load <= high.si:
            return before + (after - before) * (load - low.si) / (high.si - low.si)
    raise ValueError(f"{load} lies outside the steps")
