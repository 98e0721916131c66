"""Rider and bike together: what they weigh, what holds them back, and their gears."""

from __future__ import annotations

import math
from dataclasses import dataclass

GRAVITY = 9.80665
CHAIN = 0.976
"""Chain efficiency (Martin et al. 1998, as corroborated)."""


@dataclass(frozen=True, slots=True)
class Bike:
    """Rider and bike together; gears as teeth, wheel as circumference [m]."""

    mass_kg: float = 68.0
    cda_m2: float = 0.36
    crr: float = 0.009
    air_kg_m3: float = 1.19
    chainrings: tuple[int, ...] = (40,)
    cassette: tuple[int, ...] = (11, 13, 15, 17, 19, 21, 24, 28, 32, 37, 42)
    wheel_m: float = 2.17
    cadence_floor: float = 60.0

    def resistance_n(self, grade: float, speed: float) -> float:
        """Gravity, rolling and air [N] on a grade (fraction) at a speed [m/s]."""
        slope = math.atan(grade)
        weight = self.mass_kg * GRAVITY
        return weight * (math.sin(slope) + self.crr * math.cos(slope)) + 0.5 * self.air_kg_m3 * self.cda_m2 * speed**2

    def cadence(self, speed: float) -> int:
        """Cadence [1/min] in the gear nearest to 88 a minute."""
        ratios = [ring / cog for ring in self.chainrings for cog in self.cassette]
        turns = [speed / (ratio * self.wheel_m) * 60.0 for ratio in ratios]
        return round(min((abs(turn - 88.0), turn) for turn in turns)[1])

    def speed_after(self, speed: float, power: float, grade: float) -> float:
        """Speed [m/s] one second later at a power [W] on a grade; brakes hold it under 13.5 m/s."""
        drive = CHAIN * power / max(speed, 1.2)
        return min(13.5, max(0.3, speed + (drive - self.resistance_n(grade, speed)) / self.mass_kg))

    def least_power(self, grade: float) -> float:
        """Power [W] needed at the slowest sensible speed: lowest gear at the cadence floor, at least 1.5 m/s."""
        lowest = min(self.chainrings) / max(self.cassette)
        speed = max(1.5, lowest * self.wheel_m * self.cadence_floor / 60.0)
        return self.resistance_n(grade, speed) * speed / CHAIN
