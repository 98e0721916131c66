"""Cost of slopes against the measured means of Minetti et al. 2002."""

from __future__ import annotations

import numpy as np
import pytest

from steadyband.ground.slope import flat_equivalent_speed, running_cost, walking_cost

# Published, read: Minetti AE et al. (2002) J Appl Physiol 93:1039-1046, doi:10.1152/japplphysiol.01177.2001,
# measured mean and SD in J/(kg m). The polynomials are fits, so the tolerance is the SD of the measurement.
RUNNING = [(0.0, 3.40, 0.24), (0.45, 18.93, 1.74), (-0.20, 1.73, 0.36), (-0.45, 3.92, 0.81)]
WALKING = [(0.45, 17.33, 1.11), (-0.10, 0.81, 0.37), (-0.45, 3.46, 0.95)]


@pytest.mark.parametrize(("grade", "mean", "sd"), RUNNING)
def test_running_cost_within_the_measured_sd(grade: float, mean: float, sd: float) -> None:
    assert abs(running_cost(grade) - mean) <= sd


@pytest.mark.parametrize(("grade", "mean", "sd"), WALKING)
def test_walking_cost_within_the_measured_sd(grade: float, mean: float, sd: float) -> None:
    assert abs(walking_cost(grade) - mean) <= sd


def test_printed_values_of_the_running_polynomial() -> None:
    # Corroborated (SOURCES S5): 3.60 level, 19.43 at +0.45, 1.80 at -0.20, 4.03 at -0.45.
    assert running_cost(np.array([0.0, 0.45, -0.20, -0.45])) == pytest.approx([3.60, 19.43, 1.80, 4.03], abs=0.005)


def test_grade_is_held_where_nothing_was_measured() -> None:
    assert running_cost(0.9) == running_cost(0.45)
    assert walking_cost(-0.9) == walking_cost(-0.45)


def test_flat_equivalent_speed() -> None:
    # Flat ground changes nothing; uphill is faster on the flat, gently downhill slower; missing stays missing.
    assert flat_equivalent_speed(3.0, 0.0) == pytest.approx(3.0)
    assert flat_equivalent_speed(3.0, 0.05) > 3.0 > flat_equivalent_speed(3.0, -0.05)
    assert np.isnan(flat_equivalent_speed(3.0, np.nan))
    # By hand: C(0.1) = 0.001554 - 0.00304 - 0.0433 + 0.463 + 1.95 + 3.6 = 5.968214, over 3.6 = 1.657837.
    assert flat_equivalent_speed(1.0, 0.1) == pytest.approx(1.657837, abs=1e-6)
    # By hand, walking: 0.002805 - 0.00587 - 0.0768 + 0.519 + 1.96 + 2.5 = 4.899135, over 2.5 = 1.959654.
    assert flat_equivalent_speed(1.0, 0.1, "walk") == pytest.approx(1.959654, abs=1e-6)
