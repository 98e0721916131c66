"""By foot: how far altimeter and speed can be believed, told from the recording itself.

A running load is speed and grade, and one point of grade is 5 % of load: an altimeter that wanders by a metre turns a flat run
into rises. The slope is therefore taken over as long a stretch as makes it good to half a point, but not so long that it flattens
the hills that are there; where that leaves it too unsure, or the speed jitters too much, surges are noise and only sustained
efforts can be judged.

>>> import numpy as np
>>> rng, wander = np.random.default_rng(2), [0.0]
>>> for push in rng.standard_normal(3599):
...     wander.append(wander[-1] * np.exp(-1 / 40) + push * (1 - np.exp(-2 / 40)) ** 0.5)
>>> altitude = 300 + 0.02 * 3.2 * np.arange(3600) + np.array(wander)
>>> moving, speed = np.ones(3600, bool), np.full(3600, 3.2)
>>> found = footing(altitude, speed, moving)
>>> round(found.altimeter_m, 1), found.slope_half_m, round(100 * found.grade_error, 1), found.surges_judged
(1.0, 180, 0.4, True)
>>> footing(300 + 4 * np.array(wander), speed, moving).code
'grade_unsure'
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.feet import FOOT_SPORTS
from steadyband.audit.measure.terrain import Course, distance_along, resloped
from steadyband.ground.said import Said
from steadyband.ground.settings import FootSettings, Settings, TerrainSettings
from steadyband.ground.slope import running_cost
from steadyband.recording.model import Rows

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LAG_S = 5
"""Seconds between the three readings that are compared: a road bends little within them, an altimeter wanders [s] (design choice)."""

CALM = 0.75
"""Share of the comparisons that is used, the smallest ones: kerbs, bridges and leaps stay out (design choice)."""

CALM_MEAN = 0.3684
"""Mean square of a standard normal variable over the smallest 75 % of its squares (from the normal density)."""

HALVES_M = (30.0, 45.0, 60.0, 90.0, 120.0, 150.0, 180.0)
"""Half windows of the slope that are tried [m], between the shortest and the longest of the settings (design choice)."""

LOAD_PER_GRADE = float(running_cost(0.01) - running_cost(-0.01)) / 0.02 / float(running_cost(0.0))
"""Share of the load that an error of the grade makes, around the flat: 5.4, so that one point is 5 % (SOURCES S5)."""

Unsure = Literal["grade_unsure", "speed_unsure"]


@dataclass(frozen=True, slots=True)
class Footing:
    """What the recording of a run or walk can bear.

    `altimeter_m` and `speed_mps` are the scatters (standard deviations) of altimeter and speed, `pace_mps` the median speed;
    `slope_half_m` is the half window for the slope and `grade_error` the error of the grade it leaves (a fraction). `code` says
    why surges cannot be judged, if so.
    """

    altimeter_m: float
    speed_mps: float
    pace_mps: float
    slope_half_m: float
    grade_error: float
    code: Unsure | None

    @property
    def surges_judged(self) -> bool:
        """False where only sustained efforts can be judged."""
        return self.code is None

    @property
    def load_error(self) -> float:
        """Error of a load by speed and grade that the grade's leaves, as a share."""
        return LOAD_PER_GRADE * self.grade_error

    def told(self, least_m: float) -> tuple[Said, ...]:
        """What has to be said of it, where the slope is usually taken over `least_m`."""
        numbers = {
            "altimeter_m": self.altimeter_m,
            "slope_half_m": self.slope_half_m,
            "grade_error": self.grade_error,
            "speed_mps": self.speed_mps,
            "speed_share": self.speed_mps / self.pace_mps if self.pace_mps else 0.0,
        }
        if self.code is not None:
            return (Said(self.code, numbers),)
        return (Said("slope_window", numbers),) if self.slope_half_m > least_m else ()


def footing_of(rows: Rows, sport: str, found: Sequence[Course], settings: Settings) -> Footing | None:
    """How far the recording of a session on foot can be believed; None by other sports (METHOD 5).

    `found` are its courses, their slope taken over the shortest window.
    """
    if sport not in FOOT_SPORTS:
        return None
    altitude = between_records(rows.channels["altitude_m"], distance_along(rows))
    moving = rows.active & (rows.stretch >= 0)
    return footing(altitude, rows.channels["speed_mps"], moving, settings.foot, settings.terrain, found)


def between_records(altitude: FloatArray, distance: FloatArray | None) -> FloatArray:
    """Altitude [m, n] on straight lines between the seconds at which distance [m, n] went on; a record held is no reading."""
    if distance is None:
        return altitude
    own = np.flatnonzero(~np.isnan(altitude) & (np.diff(distance, prepend=-np.inf) > 0))
    if len(own) < 2:
        return altitude
    lines = np.interp(np.arange(len(altitude)), own, altitude[own])
    return np.where(np.isnan(altitude), np.nan, lines)


def footing(
    altitude: FloatArray,
    speed: FloatArray,
    moving: BoolArray,
    settings: FootSettings = FootSettings(),
    terrain: TerrainSettings = TerrainSettings(),
    found: Sequence[Course] = (),
) -> Footing:
    """How far a run can be believed (METHOD 5).

    Args: `altitude` [n] in m, `speed` [n] in m/s, NaN where missing, `moving` [n]; `found` the courses of the run, which tell
    what a longer window would flatten.
    """
    pace = float(np.median(speed[moving & ~np.isnan(speed)])) if np.any(moving & ~np.isnan(speed)) else 0.0
    wander = altimeter_scatter(altitude, moving, settings.wander_s)
    jitter = speed_scatter(speed, moving)
    half, error = slope_window(wander, pace, settings, terrain, found)
    unsure: Unsure | None = "grade_unsure" if error > settings.grade_most else None
    if unsure is None and jitter > settings.speed_good * pace:
        unsure = "speed_unsure"
    return Footing(wander, jitter, pace, half, error, unsure)


def altimeter_scatter(altitude: FloatArray, moving: BoolArray, wander_s: float = FootSettings().wander_s) -> float:
    """Standard deviation of the altimeter's wandering [m]; 0 where there is too little to tell it from.

    The second difference of three readings `LAG_S` apart is nearly free of the slope. For an error that forgets itself
    exponentially within `wander_s` its variance is sd² (6 - 8 exp(-lag / wander) + 2 exp(-2 lag / wander)) (METHOD 5).
    """
    forgets = math.exp(-LAG_S / wander_s)
    return math.sqrt(_calm_variance(_second_difference(altitude, moving)) / (6 - 8 * forgets + 2 * forgets**2))


def speed_scatter(speed: FloatArray, moving: BoolArray) -> float:
    """Standard deviation of the speed from second to second [m/s], for errors that do not know each other (METHOD 5)."""
    return math.sqrt(_calm_variance(_second_difference(speed, moving)) / 6)


def slope_window(
    altimeter_m: float,
    pace_mps: float,
    settings: FootSettings = FootSettings(),
    terrain: TerrainSettings = TerrainSettings(),
    found: Sequence[Course] = (),
) -> tuple[float, float]:
    """Shortest half window [m] for which the grade is good to `grade_good`, and its error; else the one with the least (METHOD 5).

    The error is that of the altimeter together with what the window flattens of the hills on the courses `found`.
    Args: `altimeter_m` [m], `pace_mps` [m/s]; without movement the shortest window.
    """
    least, most = terrain.slope_half_m, max(settings.slope_half_most_m, terrain.slope_half_m)
    if pace_mps <= 0:
        return least, 0.0
    over = round(max(pace_mps, 0.1), 1), terrain.smooth_m, settings.wander_s
    tried: list[tuple[float, float]] = []
    for half in (least, *(half for half in HALVES_M if least < half < most), most):
        noise = altimeter_m * grade_error(half, *over)
        flat = flattened(found, half, altimeter_m * grade_error(half, *over, least)) if half > least else 0.0
        tried.append((math.hypot(noise, flat), half))
        if tried[-1][0] <= settings.grade_good:
            return half, tried[-1][0]
    error, half = min(tried)
    return half, error


def flattened(found: Sequence[Course], half_m: float, noise: float) -> float:
    """What a slope over +-`half_m` flattens of the hills, against that of the courses [root mean square, a fraction] (METHOD 5).

    The two slopes differ by hills and by noise; `noise` is the standard deviation of what the altimeter adds to the difference.
    """
    apart = [resloped(course, half_m).slope - course.slope for course in found]
    return math.sqrt(max(float(np.mean(np.concatenate(apart) ** 2)) - noise**2, 0.0)) if apart else 0.0


@functools.lru_cache(maxsize=512)
def grade_error(
    half_m: float,
    pace_mps: float,
    smooth_m: float = TerrainSettings().smooth_m,
    wander_s: float = FootSettings().wander_s,
    less_m: float | None = None,
) -> float:
    """Error (SD) of the least-squares slope over +-`half_m` of an altimeter that wanders by 1 m, at `pace_mps` (METHOD 5).

    The slope is a weighted sum of the readings, so its variance is w' K w with K = exp(-distance / (pace x `wander_s`));
    altitude is smoothed over `smooth_m` before. With `less_m`: of the difference to the slope over +-`less_m`.
    """
    smooth = np.ones(int(smooth_m) + 1) / (int(smooth_m) + 1)
    weights = np.convolve(_slope_weights(half_m), smooth)
    if less_m is not None:
        other = np.convolve(_slope_weights(less_m), smooth)
        weights = weights - np.pad(other, (len(weights) - len(other)) // 2)
    apart = np.arange(len(weights))
    kept = np.exp(-np.abs(apart[:, None] - apart) / (pace_mps * wander_s))
    return float(np.sqrt(weights @ kept @ weights))


def _slope_weights(half_m: float) -> FloatArray:
    place = np.arange(-int(half_m), int(half_m) + 1, dtype=np.float64)
    return np.asarray(place / np.sum(place**2), dtype=np.float64)


def _second_difference(values: FloatArray, moving: BoolArray) -> FloatArray:
    """Second differences over `LAG_S` where all rows between were moving and the three readings are known [k]."""
    reach = 2 * LAG_S
    if len(values) <= reach:
        return np.empty(0)
    held = np.concatenate(([0], np.cumsum(moving)))
    whole = held[reach + 1 :] - held[: -reach - 1] == reach + 1
    bend = values[reach:] - 2 * values[LAG_S:-LAG_S] + values[:-reach]
    return np.asarray(bend[whole & ~np.isnan(bend)], dtype=np.float64)


def _calm_variance(bend: FloatArray) -> float:
    """Variance of normal values [k] from the smallest three quarters of their squares; 0 with fewer than a minute."""
    if len(bend) < 60:
        return 0.0
    calm = np.sort(bend**2)[: int(CALM * len(bend))]
    return float(calm.mean()) / CALM_MEAN
