"""The road model against its worked example, its limits, and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize

from steadyband.ground.road import (
    Vehicle,
    demand,
    effective_mass,
    holding_power,
    holding_speed,
    kinetic_power,
    steepest_grade,
)

RIDER = Vehicle(mass_kg=81.0, cda_m2=0.32, crr=0.005, air_kg_m3=1.19)
powers, grades = st.floats(20, 600), st.floats(-0.02, 0.2)


def test_the_worked_example_of_the_source() -> None:
    """From memory and recomputed (SOURCES S4, Martin et al. 1998): 471.8 m in 56.42 s, from 8.28 to 8.45 m/s, 10.91 m/s through
    the air, grade 0.003, 90 kg. Tolerance 0.2 W. The source's 2.55 m/s of tangential wind is inside the speed through the air."""
    vehicle = Vehicle(mass_kg=90.0, cda_m2=0.2565, crr=0.0032, air_kg_m3=1.2234)
    speed = 471.8 / 56.42
    found = demand(vehicle, 0.003, speed, air_mps=10.91, kinetic_w=kinetic_power(90.0, 8.28, 8.45, 56.42))
    assert found.air == pytest.approx(158.8, abs=0.2)
    assert found.rolling == pytest.approx(23.6, abs=0.2)
    assert found.bearings == pytest.approx(1.37, abs=0.2)
    assert found.gravity == pytest.approx(22.1, abs=0.2)
    assert found.kinetic == pytest.approx(2.30, abs=0.2)
    assert found.total == pytest.approx(213.4, abs=0.2)


@given(powers, grades)
def test_speed_from_power_and_back(power: float, slope: float) -> None:
    speed = holding_speed(RIDER, slope, power)
    assert float(holding_power(RIDER, slope, speed)) == pytest.approx(power, rel=1e-6)


@given(powers, grades)
def test_speed_agrees_with_a_root_found_by_bisection(power: float, slope: float) -> None:
    """Reference library: scipy, optimize.brentq(holding power less the power, 1e-6, 60)."""
    found = optimize.brentq(lambda speed: float(holding_power(RIDER, slope, speed)) - power, 1e-3, 90)
    assert holding_speed(RIDER, slope, power) == pytest.approx(found, rel=1e-6)


@given(st.floats(1.5, 8.0), powers)
def test_grade_from_power_and_back(speed: float, power: float) -> None:
    slope = steepest_grade(RIDER, speed, power)
    assert slope is not None
    assert float(holding_power(RIDER, slope, speed)) == pytest.approx(power, rel=1e-9)


def test_limits() -> None:
    # by hand: with no air, no rolling and no slope nothing is needed; on a slope it is m g sin(atan s) v / 0.976
    bare = Vehicle(80.0, 0.0, 0.0, 0.0)
    assert float(holding_power(bare, 0.0, 9.0)) == 0.0
    assert float(holding_power(bare, 0.1, 2.0)) == pytest.approx(2 * 80 * 9.80665 * math.sin(math.atan(0.1)) / 0.976)
    # by hand: rolling freely down 5 %, the air holds at sqrt(m g (sin - Crr cos) / (0.5 rho CdA))
    slope = math.atan(0.05)
    free = math.sqrt(81 * 9.80665 * (math.sin(slope) - 0.005 * math.cos(slope)) / (0.5 * 1.19 * 0.32))
    assert holding_speed(RIDER, -0.05, 0.0) == pytest.approx(free)
    assert holding_speed(RIDER, 0.05, 0.0) == 0.0
    assert steepest_grade(RIDER, 2.0, 100_000.0) is None
    assert math.isnan(float(holding_power(RIDER, float("nan"), 3.0)))


def test_more_of_anything_asks_for_more() -> None:
    slopes = np.linspace(-0.05, 0.3, 50)
    assert np.all(np.diff(holding_power(RIDER, slopes, 3.0)) > 0)
    assert float(holding_power(Vehicle(90.0, 0.32, 0.005, 1.19), 0.05, 3.0)) > float(holding_power(RIDER, 0.05, 3.0))
    speeds = [holding_speed(RIDER, 0.0, power) for power in (100.0, 200.0, 400.0)]
    # a fact of the trade, no source: doubling the power on the flat gives far less than double the speed
    assert speeds[1] < 1.5 * speeds[0] < 1.5 * speeds[2]


def test_power_scales_with_mass_without_air() -> None:
    # dimensions: without air every term is proportional to mass
    one, two = Vehicle(60.0, 0.0, 0.004, 1.2), Vehicle(120.0, 0.0, 0.004, 1.2)
    assert float(holding_power(two, 0.07, 3.0)) == pytest.approx(2 * float(holding_power(one, 0.07, 3.0)))


def test_kinetic_power_is_the_work_of_speeding_up() -> None:
    """Reference library: scipy, integrate.quad(effective mass x acceleration x speed)."""
    mass, seconds = 81.0, 12.0
    work, _ = integrate.quad(lambda t: effective_mass(mass) * 0.25 * (5 + 0.25 * t), 0, seconds)
    assert kinetic_power(mass, 5.0, 5.0 + 0.25 * seconds, seconds) == pytest.approx(work / seconds)
