"""A runner: flat-equivalent speed by intent, real speed by the cost of running on the slope; and a treadmill."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from simulation.course import Course
from simulation.track import Track

WALK_MPS = 1.9
"""Under this the feet walk: fewer, longer turns."""


def running_cost(grade: float) -> float:
    """Energy cost of running [J/(kg m)] on a grade as a fraction (Minetti et al. 2002, the polynomial)."""
    i = grade
    return 155.4 * i**5 - 30.4 * i**4 - 43.3 * i**3 + 46.3 * i**2 + 19.5 * i + 3.6


@dataclass(frozen=True, slots=True)
class RunPlan:
    """A run: flat-equivalent speed over time [m/s], its scatter, and the length [s]."""

    seconds: int
    flat_speed: Callable[[int], float]
    slow_sd: float = 0.025
    fast_sd: float = 0.02


def run(course: Course, plan: RunPlan, seed: int) -> Track:
    """A run on a course; the load of each second is its flat-equivalent speed [m/s]."""
    dice = random.Random(seed)
    track, distance, slow = Track(), 0.0, 0.0
    for second in range(plan.seconds):
        slow += -slow / 40.0 + dice.gauss(0.0, plan.slow_sd) * 0.22
        flat = plan.flat_speed(second) + slow + dice.gauss(0.0, plan.fast_sd)
        grade = course.at(course.grade, distance)
        speed = flat * running_cost(0.0) / running_cost(grade)
        distance += speed
        _write(track, flat, speed, distance)
        track.altitude_m.append(course.at(course.altitude_m, distance))
        track.lat_deg.append(course.at(course.lat_deg, distance))
        track.lon_deg.append(course.at(course.lon_deg, distance))
    return track


def treadmill(steps: Sequence[tuple[float, int]], seed: int) -> Track:
    """Steps of (speed [m/s], seconds) one after the other on a level belt; speed from a foot pod."""
    dice = random.Random(seed)
    track, distance = Track(), 0.0
    for belt, seconds in steps:
        for _ in range(seconds):
            speed = belt + dice.gauss(0.0, 0.012)
            distance += speed
            _write(track, speed, speed, distance)
    return track


def _write(track: Track, flat: float, speed: float, distance: float) -> None:
    track.load.append(flat)
    track.speed_mps.append(speed)
    track.distance_m.append(distance)
    track.cadence_rpm.append(round(62.0 + 8.0 * min(speed, 3.2) if speed >= WALK_MPS else 36.0 + 13.0 * speed))
    track.running.append(True)
