"""The invented athlete: heart, bike, three step tests as typed, the curves they were planted on, and their edges by hand."""

from __future__ import annotations

import math
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

# By hand, METHOD 1.2. Bike: plateau = (0.9 + 0.9 + 0.85 + 0.95 + 1.05) / 5 = 0.93; the first step at or above 1.23 is 145 W (1.3);
# 1.93 lies between 1.55 at 160 W and 2.15 at 175 W: 160 + 15 x (1.93 - 1.55) / 0.6 = 169.5 W; target top 160 W.
# Older bike: plateau = (1.0 + 0.95 + 0.95 + 1.05 + 1.15) / 5 = 1.02; the first step at or above 1.32 is 138 W (1.4); 2.02 lies
# between 1.7 at 153 W and 2.25 at 168 W: 153 + 15 x 0.32 / 0.55 = 161.727 W; target top 153 W.
# Run: plateau = (1.1 + 1.1 + 1.15 + 1.25 + 1.35) / 5 = 1.19; the first step at or above 1.49 is 6:40 min/km (1.55), 9.0 km/h; 2.19
# lies between 1.8 at 6:20 (the belt ran 9.45 km/h) and 2.25 at 6:00 (10.0), 0.39 / 0.45 of the way; target top 9.45 km/h.
BIKE_FLOOR, BIKE_TOP, BIKE_CEILING = 145.0, 160.0, 169.5
OLDER_FLOOR, OLDER_TOP, OLDER_CEILING = 138.0, 153.0, 153.0 + 15.0 * 0.32 / 0.55
RUN_FLOOR, RUN_TOP, RUN_CEILING = 9.0 / 3.6, 9.45 / 3.6, (9.45 + 0.55 * 0.39 / 0.45) / 3.6


_FLOOR, _TOP, _NEXT = 4, 5, 6
"""Places of the steps at the floor, at the target top and past the ceiling, in both tests."""
_SHARES = {"cycling": 9.5 / 15.0, "running": 0.39 / 0.45}
"""How far between the last two of them the ceiling lies."""


def edges_of(sport: str, step_hearts: tuple[int, ...]) -> Edges:
    """Edges in W or m/s; `step_hearts` are the highest heart rates [bpm] of the sport's steps, in order."""
    heart = heart_edges(sport, step_hearts).ceiling
    if sport == "cycling":
        return Edges(BIKE_FLOOR, BIKE_TOP, BIKE_CEILING, heart)
    return Edges(RUN_FLOOR, RUN_TOP, RUN_CEILING, heart)


def heart_edges(sport: str, step_hearts: tuple[int, ...]) -> Edges:
    """The same edges in heart rate [bpm]: straight between the steps."""
    top, after = step_hearts[_TOP], step_hearts[_NEXT]
    ceiling = top + _SHARES[sport] * (after - top)
    return Edges(step_hearts[_FLOOR], top, ceiling, ceiling)
