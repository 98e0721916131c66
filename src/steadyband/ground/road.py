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


BEARINGS_N, BEARINGS_KG_S = 0.091, 0.0087
"""Bearings of both wheels: a force [N] and what each m/s adds to it [N s/m] (SOURCES S4)."""


Values = FloatArray | float


def climbing_force(vehicle: Vehicle, grade: Values) -> FloatArray:
    """Force of the slope [N]: m g sin a, for grades as a fraction of any shape (SOURCES S4)."""
    return np.asarray(vehicle.mass_kg * GRAVITY * np.sin(np.arctan(grade)))


def rolling_factor(vehicle: Vehicle, grade: Values) -> FloatArray:
    """Force of rolling for a coefficient of one [N]: m g cos a (SOURCES S4)."""
    return np.asarray(vehicle.mass_kg * GRAVITY * np.cos(np.arctan(grade)))


def bearing_force(speed_mps: Values) -> FloatArray:
    """Force of the bearings [N] at a speed [m/s] (SOURCES S4)."""
    return np.asarray(BEARINGS_N + BEARINGS_KG_S * speed_mps)


def drag_factor(vehicle: Vehicle) -> float:
    """Force of the air per speed squared [N s²/m²], turning spokes included: 0.5 rho (CdA + Fw) (SOURCES S4).

    >>> round(drag_factor(Vehicle(80.0, 0.3, 0.004, 1.2)), 5)
    0.18264
    """
    return 0.5 * vehicle.air_kg_m3 * (vehicle.cda_m2 + WHEEL_DRAG_M2)


def demand(
    vehicle: Vehicle, grade: float, speed_mps: float, air_mps: float | None = None, kinetic_w: float = 0.0
) -> Demand:
    """Every term of the model of Martin et al. (1998) at a steady speed.

    Args: grade as a fraction, ground speed [m/s], speed through the air [m/s] (the ground speed where there is no wind),
    and the power that goes into speeding up [W], see `kinetic_power`. Returns the terms [W]. Holds on tarmac for riders
    who pedal; negative where the hill gives. Source: SOURCES S4 (doi of the journal: J Appl Biomech 14:276-291).
    """
    through_air = speed_mps if air_mps is None else air_mps
    return Demand(
        air=drag_factor(vehicle) * through_air * abs(through_air) * speed_mps,
        rolling=float(rolling_factor(vehicle, grade) * vehicle.crr) * speed_mps,
        bearings=float(bearing_force(speed_mps)) * speed_mps,
        gravity=float(climbing_force(vehicle, grade)) * speed_mps,
        kinetic=kinetic_w,
    )


def kinetic_energy(mass_kg: float, speed_mps: float) -> float:
    """Energy of motion [J], the turning wheels included: 0.5 (m + I/r²) V² (SOURCES S4).

    >>> round(kinetic_energy(80.0, 10.0))
    4072
    """
    return 0.5 * effective_mass(mass_kg) * speed_mps**2


def kinetic_power(mass_kg: float, before_mps: float, after_mps: float, seconds: float) -> float:
    """Power that goes into speeding up [W]: 0.5 (m + I/r²) (Vf² - Vi²) / dt (SOURCES S4)."""
    return (kinetic_energy(mass_kg, after_mps) - kinetic_energy(mass_kg, before_mps)) / seconds


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
