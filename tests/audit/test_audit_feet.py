"""On foot: gait, the load of a walked hill, and where walking is the only way."""

from __future__ import annotations

import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_rows, make_zone_set

from steadyband.audit import audit_session
from steadyband.audit.measure.feet import one_leg, run_up_to, walk_up_to, walked, with_walking
from steadyband.audit.model import Audit

TERRAIN = SETTINGS.terrain
MINETTI_RUN = {-0.20: (1.73, 0.36), 0.0: (3.40, 0.24), 0.45: (18.93, 1.74)}
MINETTI_WALK = {0.45: (17.33, 1.11), -0.10: (0.81, 0.37)}


def gait(speed: list[float], cadence: list[float] | None) -> list[bool]:
    channels = {"speed_mps": np.array(speed)}
    if cadence is not None:
        channels["cadence_rpm"] = np.array(cadence)
    return [bool(value) for value in walked(make_rows(channels), "running", SETTINGS)]


def test_gait_from_speed_and_cadence() -> None:
    # common practice, no source: walkers turn 50-60 times a minute (100-120 steps), runners 80-90 (160-180 steps)
    assert gait([1.5, 1.5, 2.6], None) == [True, True, False]
    assert gait([1.5, 1.7, 2.6], [56.0, 82.0, 85.0]) == [True, False, False]
    assert gait([1.5, 1.7, 2.6], [112.0, 164.0, 170.0]) == [True, False, False]
    assert not walked(make_rows({"speed_mps": np.full(5, 1.0)}), "cycling", SETTINGS).any()


def test_cadence_of_both_legs_is_halved() -> None:
    assert one_leg(np.array([160.0, 170.0, 0.0]), 120)[0] == 80.0
    assert one_leg(np.array([80.0, 85.0, 0.0]), 120)[0] == 80.0


def test_a_walked_hill_costs_what_was_measured() -> None:
    """Published: Minetti et al. (2002), Table of measured costs (SOURCES S5): walking at +0.45 17.33 (SD 1.11) J/(kg m), running on the level
    3.40 (SD 0.24): 1 m/s walked there is a run of 17.33 / 3.40 = 5.10 m/s on the level, within the SDs taken together (9.6 %)."""
    mean, spread = 17.33 / 3.40, np.hypot(1.11 / 17.33, 0.24 / 3.40)
    found = with_walking(np.array([9.0]), np.array([1.0]), np.array([0.45]), np.array([True]))[0]
    assert found == pytest.approx(mean, rel=spread)
    flat = with_walking(np.array([1.6]), np.array([1.6]), np.array([0.0]), np.array([True]))[0]
    assert flat == 1.6  # on the level the plain speed, as in a test's walking steps


def test_where_walking_is_the_only_way() -> None:
    """By hand from the polynomials (SOURCES S5), ceiling 2.8671 m/s (10.32 km/h), slowest run 2 m/s: C(i) = 3.6 x 2.8671 / 2 = 5.161
    J/(kg m). At i = 0.069: 3.6 + 19.5 x 0.069 + 46.3 x 0.00476 - 43.3 x 0.00033 = 3.6 + 1.3455 + 0.2204 - 0.0142 = 5.151; at 0.070: 5.176.
    Walking at 1 m/s: Cw(i) = 10.322; at 0.274: 2.5 + 5.370 + 3.896 - 1.580 - 0.331 + 0.433 = 10.289; at 0.275: 10.32 and a little."""
    assert run_up_to(2.8671, TERRAIN) == pytest.approx(0.069, abs=0.0011)
    assert walk_up_to(2.8671, TERRAIN) == pytest.approx(0.275, abs=0.0011)
    assert run_up_to(1.9, TERRAIN) is None
    assert walk_up_to(50.0, TERRAIN) == 0.45
    # walking goes on being possible where running is not: that is what the advice stands on
    for ceiling in np.linspace(2.1, 4.5, 9):
        assert walk_up_to(ceiling, TERRAIN) > run_up_to(ceiling, TERRAIN)  # type: ignore[operator]


def climbing(speed: float, cadence: float, slope: float) -> Audit:
    """A kilometre of flat, then a hill of a kilometre, all at one speed."""
    distance = np.arange(0.0, 2000.0, speed)
    rows = make_rows(
        {
            "speed_mps": np.full(len(distance), speed),
            "distance_m": distance,
            "altitude_m": 100 + slope * np.maximum(distance - 1000, 0.0),
            "cadence_rpm": np.full(len(distance), cadence),
        }
    )
    zones = make_zone_set(sport="running", unit="km/h", floor=2.3, target_top=2.7, ceiling=2.87)
    return audit_session(rows, make_info(sport="running"), Chosen(zones), SETTINGS)


def test_a_hill_walked_or_run() -> None:
    ran, went = climbing(2.4, 84.0, 0.12), climbing(1.3, 56.0, 0.12)
    assert ran.climbs[0].walked_s == 0
    assert went.climbs[0].walked_s == pytest.approx(went.climbs[0].seconds, abs=2)
    assert ran.surges is not None and went.surges is not None  # noqa: PT018
    # by hand: running 2.4 m/s up 12 % costs as 2.4 x 6.53 / 3.6 = 4.35 m/s, over the ceiling; walking 1.3 m/s as
    # 1.3 x (2.5 + 2.352 + 0.747 - 0.133 - 0.012 + 0.007 = 5.46) / 3.6 = 1.97 m/s, under it
    assert ran.climbs[0].seconds_above > 300
    assert (went.climbs[0].seconds_above, went.surges.count) == (0, 0)
    assert went.climbs[0].mean_load == pytest.approx(1.97, abs=0.03)
    assert ran.ground is not None
    assert ran.ground.run_up_to == pytest.approx(0.069, abs=0.002)
