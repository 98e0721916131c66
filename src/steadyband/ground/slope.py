"""What a slope costs a runner or a walker, and the speed on the flat that costs the same (METHOD 5)."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GRADE_MAX = 0.45
"""Steepest grade (rise over run) the polynomials were measured for, up and down (SOURCES S5)."""

RUNNING_POLYNOMIAL = (155.4, -30.4, -43.3, 46.3, 19.5, 3.6)
"""Energy cost of running against grade, highest power first, J/(kg m) (SOURCES S5)."""

WALKING_POLYNOMIAL = (280.5, -58.7, -76.8, 51.9, 19.6, 2.5)
"""Energy cost of walking against grade, highest power first, J/(kg m) (SOURCES S5)."""


def running_cost(grade: FloatArray | float, grade_max: float = GRADE_MAX) -> FloatArray:
    """Energy cost of running, C(i) = 155.4 i^5 - 30.4 i^4 - 43.3 i^3 + 46.3 i^2 + 19.5 i + 3.6 [J/(kg m)].

    Args: grade i [fraction, rise over run], any shape, held to +-`grade_max`; NaN stays NaN.
    Returns the cost, same shape. Source: SOURCES S5 (Minetti et al. 2002, doi:10.1152/japplphysiol.01177.2001).
    """
    return _polynomial(RUNNING_POLYNOMIAL, grade, grade_max)


def walking_cost(grade: FloatArray | float, grade_max: float = GRADE_MAX) -> FloatArray:
    """Energy cost of walking, C(i) = 280.5 i^5 - 58.7 i^4 - 76.8 i^3 + 51.9 i^2 + 19.6 i + 2.5 [J/(kg m)].

    Args: grade i [fraction, rise over run], any shape, held to +-`grade_max`; NaN stays NaN.
    Returns the cost, same shape. Source: SOURCES S5 (Minetti et al. 2002, doi:10.1152/japplphysiol.01177.2001).
    """
    return _polynomial(WALKING_POLYNOMIAL, grade, grade_max)


def flat_equivalent_speed(
    speed_mps: FloatArray | float,
    grade: FloatArray | float,
    gait: Literal["run", "walk"] = "run",
    grade_max: float = GRADE_MAX,
) -> FloatArray:
    """Speed on the flat that costs as much per second as `speed_mps` on the slope: v C(i) / C(0) (METHOD 5).

    Args: speed_mps [m/s] along the slope and grade [fraction], shapes that broadcast; gait chooses the polynomial.
    Returns [m/s]. A walking step stays on the walking scale: it is the flat walking speed of the same cost.
    Source: SOURCES S5.
    """
    cost = walking_cost if gait == "walk" else running_cost
    return np.asarray(speed_mps, dtype=np.float64) * cost(grade, grade_max) / cost(0.0)


def _polynomial(coefficients: tuple[float, ...], grade: FloatArray | float, grade_max: float) -> FloatArray:
    held = np.clip(np.asarray(grade, dtype=np.float64), -grade_max, grade_max)
    return np.asarray(np.polyval(coefficients, held), dtype=np.float64)
