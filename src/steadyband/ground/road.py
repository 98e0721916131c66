"""What the road asks of a rider: the bike model of Martin et al. (1998), its parts and its inverses (SOURCES S4)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GRAVITY = 9.80665
"""Standard acceleration of gravity [m/s²] (defined, CGPM 1901)."""

CHAIN = 0.976
"""Efficiency of the chain (SOURCES S4)."""

WHEEL_DRAG_M2 = 0.0044
"""Drag area of the turning spokes, Fw [m²] (SOURCES S4)."""

WHEEL_INERTIA = 0.14
WHEEL_RADIUS_M = 0.311
"""Moment of inertia of both wheels [kg m²] and their radius [m] (SOURCES S4)."""


@dataclass(frozen=True, slots=True)
class Vehicle:
    """Rider and bike together: mass [kg], drag area [m²], rolling coefficient, and the air around [kg/m³]."""

    mass_kg: float
    cda_m2: float
    crr: float
    air_kg_m3: float


@dataclass(frozen=True, slots=True)
class Demand:
    """Power at the wheel by what it goes into [W]."""

    air: float
    rolling: float
    bearings: float
    gravity: float
    kinetic: float

    @property
    def total(self) -> float:
        """Power at the cranks [W]: everything over the efficiency of the chain (S4)."""
        return (self.air + self.rolling + self.bearings + self.gravity + self.kinetic) / CHAIN


def demand(
    vehicle: Vehicle, grade: float, speed_mps: float, air_mps: float | None = None, kinetic_w: float = 0.0
) -> Demand:
    """Every term of the model of Martin et al. (1998) at a steady speed.

    Args: grade as a fraction, ground speed [m/s], speed through the air [m/s] (the ground speed where there is no wind),
    and the power that goes into speeding up [W], see `kinetic_power`. Returns the terms [W]. Holds on tarmac for riders
    who pedal; negative where the hill gives. Source: SOURCES S4 (doi of the journal: J Appl Biomech 14:276-291).
    """
    slope, through_air = math.atan(grade), speed_mps if air_mps is None else air_mps
    weight = vehicle.mass_kg * GRAVITY
    return Demand(
        air=0.5 * vehicle.air_kg_m3 * (vehicle.cda_m2 + WHEEL_DRAG_M2) * through_air * abs(through_air) * speed_mps,
        rolling=weight * vehicle.crr * math.cos(slope) * speed_mps,
        bearings=speed_mps * (91 + 8.7 * speed_mps) * 1e-3,
        gravity=weight * math.sin(slope) * speed_mps,
        kinetic=kinetic_w,
    )


def kinetic_power(mass_kg: float, before_mps: float, after_mps: float, seconds: float) -> float:
    """Power that goes into speeding up [W]: 0.5 (m + I/r²) (Vf² - Vi²) / dt (SOURCES S4)."""
    return 0.5 * effective_mass(mass_kg) * (after_mps**2 - before_mps**2) / seconds


def effective_mass(mass_kg: float) -> float:
    """Mass with what the turning wheels add to it [kg]: m + I/r² (SOURCES S4)."""
    return mass_kg + WHEEL_INERTIA / WHEEL_RADIUS_M**2


def holding_power(vehicle: Vehicle, grade: FloatArray | float, speed_mps: float) -> FloatArray:
    """Power needed to hold a grade at a speed: P = v (m g (sin a + Crr cos a) + 0.5 rho CdA v²) / 0.976 (METHOD 4.2, S4).

    Args: grade as a fraction, any shape, NaN stays NaN; speed [m/s]. Returns [W], same shape; negative downhill.
    """
    slope = np.arctan(np.asarray(grade, dtype=np.float64))
    weight = vehicle.mass_kg * GRAVITY * (np.sin(slope) + vehicle.crr * np.cos(slope))
    power: FloatArray = speed_mps * (weight + 0.5 * vehicle.air_kg_m3 * vehicle.cda_m2 * speed_mps**2) / CHAIN
    return power


def steepest_grade(vehicle: Vehicle, speed_mps: float, power_w: float) -> float | None:
    """Steepest grade that `power_w` [W] holds at `speed_mps` [m/s], the inverse of `holding_power`; None where none is.

    sin a + Crr cos a = P 0.976 / (v m g) - 0.5 rho CdA v² / (m g), solved for a exactly.
    """
    weight = vehicle.mass_kg * GRAVITY
    pull = power_w * CHAIN / speed_mps / weight - 0.5 * vehicle.air_kg_m3 * vehicle.cda_m2 * speed_mps**2 / weight
    share = pull / math.hypot(1.0, vehicle.crr)
    if not -1 < share < 1:
        return None
    return math.tan(math.asin(share) - math.atan(vehicle.crr))


def holding_speed(vehicle: Vehicle, grade: float, power_w: float) -> float:
    """Speed [m/s] at which `power_w` [W] holds a grade by `holding_power`: the one positive root of its cubic.

    v³ + p v - q = 0 with p = (m g (sin a + Crr cos a)) / (0.5 rho CdA), q = 0.976 P / (0.5 rho CdA). Downhill without power it
    is the speed at which the air holds; 0 where nothing moves.
    """
    slope, drag = math.atan(grade), 0.5 * vehicle.air_kg_m3 * vehicle.cda_m2
    weight = vehicle.mass_kg * GRAVITY * (math.sin(slope) + vehicle.crr * math.cos(slope))
    roots = np.roots([drag, 0.0, weight, -CHAIN * power_w])
    real = roots.real[(np.abs(roots.imag) < 1e-7) & (roots.real > 0)]
    return float(real.max()) if len(real) else 0.0
