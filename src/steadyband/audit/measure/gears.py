"""Forced by the hill or avoidable: what the lowest gear allows (METHOD 4.2)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import Rider
from steadyband.ground.road import Vehicle, holding_power, holding_speed, steepest_grade
from steadyband.ground.settings import TerrainSettings

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Gearing:
    """Rider and bike on a hill: the vehicle, the slowest sensible speed [m/s], and what gives it."""

    vehicle: Vehicle
    slowest_mps: float
    floor_mps: float  # slowest sensible speed in any gear
    metres_a_minute: float  # of a gear whose wheel turns once a turn of the cranks, at the cadence floor
    smallest_ring: int

    def needed(self, grade: FloatArray | float) -> FloatArray:
        """Least power [W] on a grade: that of the slowest sensible speed."""
        return holding_power(self.vehicle, grade, self.slowest_mps)

    def steepest(self, power_w: float) -> float | None:
        """Steepest grade on which `power_w` [W] is enough."""
        return steepest_grade(self.vehicle, self.slowest_mps, power_w)

    def ratio_for(self, grade: float, power_w: float) -> float | None:
        """Gear (turns of the wheel a turn of the cranks) that holds a grade at `power_w` [W] and the cadence floor.

        None where even the slowest sensible speed asks for more.
        """
        speed = holding_speed(self.vehicle, grade, power_w)
        return speed * 60 / self.metres_a_minute if speed >= self.floor_mps else None

    def cog_for(self, ratio: float) -> int:
        """Smallest sprocket that gives at most `ratio` with the smallest chainring."""
        return math.ceil(self.smallest_ring / ratio - 1e-9)


def gearing(rider: Rider, settings: TerrainSettings) -> Gearing | None:
    """Rider and bike as athlete.toml has them; None where mass, gears or wheel are missing (METHOD 4.2)."""
    mass, ratio, wheel = rider.mass_kg, rider.lowest_ratio, rider.wheel_m
    if mass is None or ratio is None or wheel is None:
        return None
    cadence = settings.cadence_floor if rider.cadence_floor is None else rider.cadence_floor
    slowest = ratio * wheel * cadence / 60
    return Gearing(
        vehicle=vehicle_of(rider, mass, settings),
        slowest_mps=max(slowest, settings.slowest_mps),
        floor_mps=settings.slowest_mps,
        metres_a_minute=wheel * cadence,
        smallest_ring=min(rider.chainrings),
    )


def vehicle_of(rider: Rider, mass_kg: float, settings: TerrainSettings) -> Vehicle:
    """Rider and bike as the road sees them; drag and rolling by the settings where athlete.toml does not give them."""
    return Vehicle(
        mass_kg=mass_kg,
        cda_m2=settings.cda_m2 if rider.cda_m2 is None else rider.cda_m2,
        crr=settings.crr if rider.crr is None else rider.crr,
        air_kg_m3=settings.air_kg_m3,
    )


def missing_for_gears(rider: Rider) -> list[str]:
    """Keys of athlete.toml without which forced surges cannot be told from avoidable ones."""
    wanted = {
        "body.mass_kg": rider.body_kg,
        "bike.mass_kg": rider.bike_kg,
        "bike.chainrings": rider.chainrings or None,
        "bike.cassette": rider.cassette or None,
        "bike.wheel_circumference_m": rider.wheel_m,
    }
    return [key for key, value in wanted.items() if value is None]
