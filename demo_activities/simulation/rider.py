"""A rider on a course: power by intent, speed by gravity, rolling and air; efforts are planted to the second."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass

from simulation.bike import Bike
from simulation.course import Course
from simulation.track import Planted, Track

LULL_W = 164.5
"""Power of a lull inside an effort [W]: between the target top (158.8 W) and the ceiling (169.8 W)."""
LEAD_W = 149.0
"""Soft pedalling before an effort [W], under the release, so that the surge begins with the effort."""
EASE_W = 105.0
"""Power after a short effort, as legs rest [W]."""


@dataclass(frozen=True, slots=True)
class Effort:
    """An effort planted at a ridden distance: `watts` for `seconds`, or as long as it takes to `until_m`.

    A `lull_s` splits it: so many seconds between release and ceiling in its middle, which make no end of it.
    A `lead_s` is so many seconds of soft pedalling before it, an `ease_s` of easy pedalling after it. An effort that does not count is a near miss, too short for a surge.
    """

    at_m: float
    seconds: int
    watts: float
    cause: str
    forced: bool | None = False
    until_m: float | None = None
    lull_s: int = 0
    lead_s: int = 0
    ease_s: int = 9
    counts: bool = True


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop: where, seconds standing, how the timer takes it ("timer", "auto" or "none"), how late, and a surge after."""

    at_m: float
    standing_s: int
    kind: str
    lag_s: int = 3
    surge: tuple[int, float] | None = None


@dataclass(frozen=True, slots=True)
class RidePlan:
    """How a ride is meant: power over time, the cap on its 3-s mean, and all that is planted (in order of distance)."""

    seconds: int
    power: Callable[[int], float]
    cap: Callable[[int], float]
    efforts: tuple[Effort, ...] = ()
    stops: tuple[Stop, ...] = ()
    slow_sd: float = 2.4
    fast_sd: float = 5.0
    climb_w: float = 2.0
    coast_above: float = 10.8


def ride(course: Course, plan: RidePlan, bike: Bike, seed: int) -> Track:
    """One second after the other: decide power, push, write down.

    Raises ValueError where the ride ends before all that was planned.
    """
    rider = _Rider(course, plan, bike, seed)
    for second in range(plan.seconds):
        rider.step(second)
    if rider.efforts or rider.stops:
        raise ValueError(f"the ride ended before {rider.efforts + rider.stops}")
    return rider.track


class _Rider:
    def __init__(self, course: Course, plan: RidePlan, bike: Bike, seed: int) -> None:
        self.course, self.plan, self.bike = course, plan, bike
        self.dice = random.Random(seed)
        self.track = Track()
        self.efforts, self.stops = list(plan.efforts), list(plan.stops)
        self.speed, self.distance = 0.5, 0.0
        self.aim, self.slow, self.coasting = 72.0, 0.0, False
        self.before = (48.0, 48.0)
        self.queue: list[float] = []
        self.ramp: Effort | None = None
        self.stop: Stop | None = None
        self.stood, self.gentle = -1, 0

    def step(self, second: int) -> None:
        grade = self.course.at(self.course.grade, self.distance)
        wish = self._wish(second, grade)
        held = self._held(second)
        power = 0 if held else self._power(second, wish)
        self._move(power, grade)
        self._write(power)

    def _wish(self, second: int, grade: float) -> float:
        """Intended power with slow wander and pedal strokes; 0 while coasting."""
        plan = self.plan
        self.slow += -self.slow / 45.0 + self.dice.gauss(0.0, plan.slow_sd) * math.sqrt(2.0 / 45.0)
        stroke = self.dice.gauss(0.0, plan.fast_sd)
        self.coasting = grade < -0.015 and self.speed > plan.coast_above - (2.5 if self.coasting else 0.0)
        target = plan.power(second) + (plan.climb_w if grade >= 0.025 else 0.0) - (8.0 if grade <= -0.02 else 0.0)
        self.aim += (target - self.aim) / 6.0
        return 0.0 if self.coasting else max(35.0, self.aim + self.slow + stroke)

    def _power(self, second: int, wish: float) -> int:
        if self.efforts and self.distance >= self.efforts[0].at_m and not self.queue and self.ramp is None:
            self._begin(self.efforts.pop(0), second)
        if self.ramp is not None and self.distance >= (self.ramp.until_m or 0.0):
            self._leave_ramp(second)
        if self.ramp is not None:
            return round(self.ramp.watts + self._strokes(9.0, 4.0))
        if self.queue:
            return self._from_queue(second)
        return self._background(second, wish)

    def _background(self, second: int, wish: float) -> int:
        """The wish, held so that no mean of three seconds passes the cap."""
        if self.gentle:
            self.gentle -= 1
            wish = 84.0
        power = round(max(0.0, min(wish, 3.0 * self.plan.cap(second) - sum(self.before) - 0.5)))
        self.before = (self.before[1], float(power))
        return power

    def _from_queue(self, second: int) -> int:
        power = round(self.queue.pop(0))
        if not self.queue:
            cap = self.plan.cap(second)
            self.before, self.aim = (cap, cap), self.plan.power(second) - 11.0
        return power

    def _strokes(self, most: float, sd: float) -> float:
        return max(-most, min(most, self.dice.gauss(0.0, sd)))

    def _begin(self, effort: Effort, second: int) -> None:
        if effort.until_m is not None:
            self.ramp = effort
        else:
            strokes = [effort.watts + self._strokes(10.0, 5.0) for _ in range(effort.seconds)]
            lull = [LULL_W + self.dice.uniform(-1.0, 1.0) for _ in range(effort.lull_s)]
            half = effort.seconds // 2
            self.queue = [LEAD_W] * effort.lead_s + strokes[:half] + lull + strokes[half:] + [EASE_W] * effort.ease_s
        first, seconds = second + effort.lead_s, effort.seconds + effort.lull_s
        self._note(Planted(first, seconds, effort.watts, effort.cause, effort.forced, effort.counts))

    def _leave_ramp(self, second: int) -> None:
        last = self.track.planted.pop()
        self._note(Planted(last.start_s, second - last.start_s, last.watts, last.cause, last.forced))
        self.ramp, self.before, self.aim = None, (150.0, 150.0), 135.0

    def _note(self, planted: Planted) -> None:
        self.track.planted.append(planted)

    def _held(self, second: int) -> bool:
        """True while braking for a stop or standing."""
        if self.stop is None and self.stops and not self.queue and self._must_brake(self.stops[0]):
            self.stop = self.stops.pop(0)
        if self.stop is None:
            return False
        if self.stood < 0 and self.speed < 1.3:
            self.stood = 0
        if self.stood == self.stop.standing_s:
            self._restart(self.stop, second)
        elif self.stood >= 0:
            self.stood += 1
        self.before, self.aim = (0.0, 0.0), 80.0
        return True

    def _must_brake(self, stop: Stop) -> bool:
        return self.distance >= stop.at_m - self.speed**2 / 2.4

    def _restart(self, stop: Stop, second: int) -> None:
        self.stop, self.stood, self.gentle = None, -1, 4
        if stop.surge:
            seconds, watts = stop.surge
            self.queue = [84.0, 90.0, 95.0, 100.0, *[watts + self._strokes(7.0, 4.0) for _ in range(seconds)]]
            self.gentle = 0
            self._note(Planted(second + 5, seconds, watts, "restart", False))

    def _move(self, power: int, grade: float) -> None:
        if self.stood >= 0:
            self.speed = 0.0
        elif self.stop is not None:
            self.speed = max(0.9, self.speed - 1.2)
        else:
            self.speed = self.bike.speed_after(self.speed, power, grade)
        self.distance += self.speed

    def _write(self, power: int) -> None:
        track, course = self.track, self.course
        track.power_w.append(power)
        track.load.append(float(power))
        track.speed_mps.append(self.speed)
        track.distance_m.append(self.distance)
        track.altitude_m.append(course.at(course.altitude_m, self.distance))
        track.lat_deg.append(course.at(course.lat_deg, self.distance))
        track.lon_deg.append(course.at(course.lon_deg, self.distance))
        track.cadence_rpm.append(self.bike.cadence(self.speed) if power > 0 and self.speed > 0.6 else 0)
        timed = self.stop is None or self.stop.kind == "none" or self.stood <= self.stop.lag_s
        track.running.append(timed)
