"""The invented athlete: heart, bike, both step tests as typed, and their edges worked out by hand."""

from __future__ import annotations

from dataclasses import dataclass

from simulation.bike import Bike
from simulation.heart import Heart
from simulation.reference import Edges

NAME = "Robin of the demo (invented)"
ZONE = "Etc/GMT-1"
UTC_OFFSET_S = 3600
"""The zone's name counts westward: Etc/GMT-1 is one hour ahead of UTC. It needs no claim of a place."""

RIDER_KG, BIKE_KG = 72.0, 9.0
BIKE = Bike(mass_kg=RIDER_KG + BIKE_KG)
RIDING_HEART = Heart(rest_bpm=70.0, per_load=0.30)
RUNNING_HEART = Heart(rest_bpm=74.0, per_load=7.0 * 3.6)
WALKING_HEART = Heart(rest_bpm=58.0, per_load=7.2 * 3.6)


@dataclass(frozen=True, slots=True)
class Step:
    """One step as typed: load in the test's unit and lactate [mmol/L] at minutes 5 and 10."""

    load: float
    early: float
    late: float
    walk: bool = False


BIKE_BASELINE = 1.1
BIKE_STEPS = (
    Step(120, 1.0, 1.2),
    Step(140, 1.1, 1.1),
    Step(160, 1.2, 1.2),
    Step(180, 1.6, 1.6),
    Step(200, 1.7, 1.9),
    Step(220, 2.3, 2.4),
)
RUN_BASELINE = 1.0
RUN_STEPS = (
    Step(4.5, 1.0, 1.0, walk=True),
    Step(5.5, 1.0, 1.0, walk=True),
    Step(6.5, 1.1, 1.1, walk=True),
    Step(8.0, 1.6, 1.6),
    Step(9.0, 1.7, 1.7),
    Step(10.0, 1.8, 1.8),
    Step(11.0, 2.4, 2.6),
)
STEP_S = 600

# By hand, METHOD 1.2. Bike: plateau = (1.1 + 1.1 + 1.1 + 1.2) / 4 = 1.125; the first step at or above 1.425 is 180 W (1.6);
# 2.125 lies between 1.8 at 200 W and 2.35 at 220 W: 200 + 20 x (2.125 - 1.8) / 0.55 = 211.818 W; target top 200 W.
# Run: plateau = (1.0 + 1.0 + 1.0 + 1.1) / 4 = 1.025; the first step at or above 1.325 is 8 km/h, the first running step;
# 2.025 lies between 1.8 at 10 and 2.5 at 11 km/h: 10 + (2.025 - 1.8) / 0.7 = 10.3214 km/h; target top 10 km/h.
BIKE_FLOOR, BIKE_TOP, BIKE_CEILING = 180.0, 200.0, 200.0 + 20.0 * 0.325 / 0.55
RUN_FLOOR, RUN_TOP, RUN_CEILING = 8.0, 10.0, 10.0 + 0.225 / 0.7


def edges_of(sport: str, step_hearts: tuple[int, ...]) -> Edges:
    """Edges in W or m/s; `step_hearts` are the highest heart rates [bpm] of the sport's steps, in order."""
    if sport == "cycling":
        share = (BIKE_CEILING - 200.0) / 20.0
        return Edges(BIKE_FLOOR, BIKE_TOP, BIKE_CEILING, _between(step_hearts, share))
    share = RUN_CEILING - 10.0
    return Edges(RUN_FLOOR / 3.6, RUN_TOP / 3.6, RUN_CEILING / 3.6, _between(step_hearts, share))


def _between(step_hearts: tuple[int, ...], share: float) -> float:
    return step_hearts[-2] + share * (step_hearts[-1] - step_hearts[-2])
