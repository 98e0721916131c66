"""Invented closed courses: a grade profile by the metre, and a loop drawn on open ocean where no island is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SPHERE_RADIUS_M = 6371008.8
ORIGIN = (29.5, -38.0)
"""Latitude and longitude [deg] of the invented island: mid-ocean, on purpose, so that no real place is claimed."""


@dataclass(frozen=True, slots=True)
class Segment:
    """A part of a course: length [m] and grade [%]; the name is used to place what is planted."""

    name: str
    length_m: int
    grade_percent: float


@dataclass(frozen=True, slots=True)
class Course:
    """A closed course, one value a metre [n]; `starts` holds the metre at which each named segment begins."""

    length_m: int
    grade: FloatArray
    altitude_m: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray
    starts: dict[str, int]

    def at(self, values: FloatArray, distance_m: float) -> float:
        """Linear interpolation of a by-the-metre array at a ridden distance; laps wrap round."""
        place = distance_m % self.length_m
        left = int(place)
        share = place - left
        right = (left + 1) % self.length_m
        return float(values[left]) * (1.0 - share) + float(values[right]) * share

    def place(self, name: str, offset_m: float = 0.0, lap: int = 0) -> float:
        """Ridden distance [m] of a point `offset_m` after the start of a segment, on lap number `lap` (from 0)."""
        return lap * self.length_m + self.starts[name] + offset_m


def make_course(segments: tuple[Segment, ...], blend_m: int, base_m: float, turn: float) -> Course:
    """A closed course; the grade of the last segment is shifted so that the loop ends at its start height.

    `blend_m` is the length over which one grade passes into the next, `base_m` the lowest height, `turn` the
    phase that gives each loop its own shape and place.
    """
    grade = np.concatenate([np.full(part.length_m, part.grade_percent / 100.0) for part in segments])
    grade[-segments[-1].length_m :] -= grade.sum() / segments[-1].length_m
    grade = _blend(grade, blend_m)
    height = np.concatenate([[0.0], np.cumsum(grade)[:-1]])
    lat, lon = _loop(len(grade), turn)
    starts, metre = {}, 0
    for part in segments:
        starts[part.name] = metre
        metre += part.length_m
    return Course(len(grade), grade, height - height.min() + base_m, lat, lon, starts)


def _blend(grade: FloatArray, width_m: int) -> FloatArray:
    """Moving mean over `width_m`, twice, round the loop: grade changes without a corner."""
    for _ in range(2):
        padded = np.concatenate([grade[-width_m:], grade, grade[:width_m]])
        sums = np.concatenate([[0.0], np.cumsum(padded)])
        half = width_m // 2
        first = np.arange(len(grade)) + width_m - half
        grade = (sums[first + width_m] - sums[first]) / width_m
    return grade


def _loop(length_m: int, turn: float) -> tuple[FloatArray, FloatArray]:
    angle = np.linspace(0.0, 2.0 * math.pi, 20001)
    radius = 1.0 + 0.22 * np.cos(2 * angle + turn) + 0.10 * np.cos(3 * angle + 2 * turn) + 0.03 * np.cos(7 * angle)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    scale = length_m / walked[-1]
    metres = np.arange(length_m) / scale
    east = (np.interp(metres, walked, x) - x[0]) * scale + 900.0 * math.cos(turn)
    north = (np.interp(metres, walked, y) - y[0]) * scale + 900.0 * math.sin(turn)
    lat = ORIGIN[0] + np.degrees(north / SPHERE_RADIUS_M)
    lon = ORIGIN[1] + np.degrees(east / (SPHERE_RADIUS_M * math.cos(math.radians(ORIGIN[0]))))
    return lat, lon
