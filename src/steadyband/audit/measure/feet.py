"""On foot: walking or running, what a walked hill costs, and where walking is the only way to stay in the band."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.settings import Settings, TerrainSettings
from steadyband.ground.slope import GRADE_MAX, running_cost, walking_cost
from steadyband.recording.model import Rows

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

FOOT_SPORTS: tuple[str, ...] = ("running", "walking", "hiking")


GRADES = np.linspace(0.0, GRADE_MAX, 451)
"""Grades among which a limit is looked for; both cost polynomials rise over all of them."""


def walked(rows: Rows, sport: str, settings: Settings) -> BoolArray:
    """Rows [n] of a run that were walked: slower than a run, and the cadence of a walk where there is one."""
    slow = rows.channels["speed_mps"] < settings.bands.walking_mps
    if sport != "running":
        return np.zeros(len(rows), dtype=np.bool_)
    turns = one_leg(rows.channels["cadence_rpm"], settings.terrain.both_legs)
    return np.asarray(slow & ~(turns >= settings.terrain.walk_cadence), dtype=np.bool_)


def one_leg(cadence: FloatArray, both_legs: float) -> FloatArray:
    """Turns of one leg a minute [n] from a cadence that counts one leg, or both where its median is above `both_legs`."""
    moving = cadence[cadence > 0]
    return cadence / 2 if len(moving) and float(np.median(moving)) > both_legs else cadence


def with_walking(load: FloatArray, speed: FloatArray, grade: FloatArray, walking: BoolArray) -> FloatArray:
    """Flat-equivalent speed [m/s, n], where walked uphill by the cost of walking: v Cw(i) / Cr(0), at least v (S5).

    The edges of a running test are speeds of running, so a walked hill is told by the running speed of its cost; the
    plain speed is kept where it is higher, as in the walking steps of a test.
    """
    cost = np.asarray(speed * walking_cost(grade) / running_cost(0.0), dtype=np.float64)
    return np.where(walking, np.maximum(cost, speed), load)


def run_up_to(ceiling_mps: float, settings: TerrainSettings) -> float | None:
    """Steepest grade on which the slowest run stays under the ceiling [m/s, flat-equivalent]; None where none does (S5)."""
    return _steepest(settings.slow_run_mps * running_cost(GRADES) / running_cost(0.0), ceiling_mps)


def walk_up_to(ceiling_mps: float, settings: TerrainSettings) -> float | None:
    """The same for walking at `walk_mps`, told by the running speed of its cost (S5)."""
    return _steepest(settings.walk_mps * walking_cost(GRADES) / running_cost(0.0), ceiling_mps)


def _steepest(needed: FloatArray, ceiling: float) -> float | None:
    inside = np.flatnonzero(needed < ceiling)
    return float(GRADES[inside[-1]]) if len(inside) else None
