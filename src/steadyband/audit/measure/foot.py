"""By foot: how far altimeter and speed can be believed, told from the recording itself.

A running load is speed and grade, and one point of grade is 5 % of load: an altimeter that wanders by a metre turns a flat run
into rises. The slope is therefore taken over as long a stretch as makes it good to half a point; where even the longest does
not, or the speed jitters too much, surges are noise and only sustained efforts can be judged.

>>> import numpy as np
>>> rng, wander = np.random.default_rng(2), [0.0]
>>> for push in rng.standard_normal(3599):
...     wander.append(wander[-1] * np.exp(-1 / 40) + push * (1 - np.exp(-2 / 40)) ** 0.5)
>>> altitude = 300 + 0.02 * 3.2 * np.arange(3600) + np.array(wander)
>>> moving, speed = np.ones(3600, bool), np.full(3600, 3.2)
>>> found = footing(altitude, speed, moving)
>>> round(found.altimeter_m, 1), found.slope_half_m, round(100 * found.grade_error, 1), found.surges_judged
(1.0, 180.0, 0.4, True)
>>> footing(300 + 4 * np.array(wander), speed, moving).code
'grade_unsure'
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LAG_S = 5
"""Seconds between the three readings that are compared: a road bends little within them, an altimeter wanders [s] (design choice)."""

WANDER_S = 40.0
"""Time over which an altimeter forgets its error [s] (design choice)."""

CALM = 0.75
"""Share of the comparisons that is used, the smallest ones: kerbs, bridges and leaps stay out (design choice)."""

CALM_MEAN = 0.3684
"""Mean square of a standard normal variable over the smallest 75 % of its squares (from the normal density)."""

GRADE_GOOD = 0.005
"""Error of the grade that is good enough: half a point, some 3 % of the load (design choice)."""

HALVES_M = (30.0, 45.0, 60.0, 90.0, 120.0, 150.0, 180.0)
"""Half windows of the slope that are tried [m]; over longer ones hills would be flattened (design choice)."""

SMOOTH_M = 30
"""Distance over which altitude is smoothed before the slope is taken [m], as in `terrain`."""

SPEED_GOOD = 0.15
"""Scatter of the speed from second to second beyond which surges by foot are noise, as a share of the speed (design choice)."""

Unsure = Literal["grade_unsure", "speed_unsure"]


@dataclass(frozen=True, slots=True)
class Footing:
    """What the recording of a run or walk can bear.

    `altimeter_m` and `speed_mps` are the scatters (standard deviations) of altimeter and speed; `slope_half_m` is the half window for
    the slope and `grade_error` the error of the grade it leaves (a fraction). `code` says why surges cannot be judged, if so.
    """

    altimeter_m: float
    speed_mps: float
    slope_half_m: float
    grade_error: float
    code: Unsure | None

    @property
    def surges_judged(self) -> bool:
        """False where only sustained efforts can be judged."""
        return self.code is None


def footing(altitude: FloatArray, speed: FloatArray, moving: BoolArray) -> Footing:
    """How far a run can be believed; `altitude` [n] in m, `speed` [n] in m/s, NaN where missing, `moving` [n]."""
    pace = float(np.median(speed[moving & ~np.isnan(speed)])) if np.any(moving & ~np.isnan(speed)) else 0.0
    wander = altimeter_scatter(altitude, moving)
    jitter = speed_scatter(speed, moving)
    half, error = slope_window(wander, pace)
    unsure: Unsure | None = "grade_unsure" if error > GRADE_GOOD else None
    if unsure is None and jitter > SPEED_GOOD * pace:
        unsure = "speed_unsure"
    return Footing(wander, jitter, half, error, unsure)


def altimeter_scatter(altitude: FloatArray, moving: BoolArray) -> float:
    """Standard deviation of the altimeter's wandering [m]; 0 where there is too little to tell it from.

    The second difference of three readings `LAG_S` apart is nearly free of the slope. For an error that forgets itself
    exponentially within `WANDER_S` its variance is sd² (6 - 8 exp(-lag / wander) + 2 exp(-2 lag / wander)).
    """
    forgets = math.exp(-LAG_S / WANDER_S)
    return math.sqrt(_calm_variance(_second_difference(altitude, moving)) / (6 - 8 * forgets + 2 * forgets**2))


def speed_scatter(speed: FloatArray, moving: BoolArray) -> float:
    """Standard deviation of the speed from second to second [m/s], for errors that do not know each other."""
    return math.sqrt(_calm_variance(_second_difference(speed, moving)) / 6)


def slope_window(altimeter_m: float, pace_mps: float) -> tuple[float, float]:
    """Shortest half window [m] for which the grade is good to `GRADE_GOOD`, and the error it leaves; else the longest.

    Args: `altimeter_m` [m], `pace_mps` [m/s]; without movement the shortest window.
    """
    if pace_mps <= 0:
        return HALVES_M[0], 0.0
    errors = [altimeter_m * grade_error(half, round(pace_mps, 1)) for half in HALVES_M]
    good = next((number for number, error in enumerate(errors) if error <= GRADE_GOOD), len(HALVES_M) - 1)
    return HALVES_M[good], errors[good]


@functools.lru_cache(maxsize=256)
def grade_error(half_m: float, pace_mps: float) -> float:
    """Error (SD) of the least-squares slope over +-`half_m` of an altimeter that wanders by 1 m, at `pace_mps`.

    The slope is a weighted sum of the readings, so its variance is w' K w with K = exp(-distance / (pace x 40 s)).
    """
    place = np.arange(-int(half_m), int(half_m) + 1, dtype=np.float64)
    smooth = np.ones(SMOOTH_M + 1) / (SMOOTH_M + 1)
    weights = np.convolve(place / np.sum(place**2), smooth)
    apart = np.arange(len(weights))
    kept = np.exp(-np.abs(apart[:, None] - apart) / (pace_mps * WANDER_S))
    return float(np.sqrt(weights @ kept @ weights))


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
