"""Small helpers for plans: loads over time, and effort lists in order of distance."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import replace

from simulation.course import Course
from simulation.rider import Effort


def knots(*points: tuple[float, float]) -> Callable[[int], float]:
    """A load over time from (minute, load) points, straight between them, level outside."""

    def load(second: int) -> float:
        minute = second / 60.0
        for (first, low), (last, high) in itertools.pairwise(points):
            if first <= minute < last:
                return low + (high - low) * (minute - first) / (last - first)
        return points[-1][1] if minute >= points[-1][0] else points[0][1]

    return load


def level(value: float) -> Callable[[int], float]:
    """The same value throughout."""
    return lambda second: value


def steady(base: float, drop: float = 0.0) -> Callable[[int], float]:
    """Eight minutes of riding in from 115 W, then `base`, easing by `drop` W over two hours."""
    return knots((0, 115), (3, 132), (8, base), (128, base - drop))


def place(course: Course, efforts: Iterable[tuple[str, float, int, Effort]]) -> tuple[Effort, ...]:
    """Efforts given as (segment, offset [m], lap, effort), put at their ridden distances and in order."""
    found = []
    for name, offset, lap, effort in efforts:
        at = course.place(name, offset, lap)
        until = None if effort.until_m is None else at + effort.until_m
        found.append(replace(effort, at_m=at, until_m=until))
    return tuple(sorted(found, key=lambda item: item.at_m))
