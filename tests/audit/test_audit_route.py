"""A planned way against the band: drawn hills, gears by hand, times against scipy's integrator."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from audit_builders import SETTINGS
from scipy.integrate import solve_ivp

from steadyband.audit.edges import LoadEdges
from steadyband.audit.model import Rider
from steadyband.audit.route import RoutePlan, course_of, plan_route, plan_to_dict

TERRAIN = SETTINGS.terrain
RIDER = Rider(72.0, 9.0, (50, 34), (11, 13, 15, 17, 19, 21, 24, 28, 32), 2.105, 60.0)
BAND = LoadEdges(180.0, 200.0, 212.0, math.inf, False)
FEET = LoadEdges(8 / 3.6, 10 / 3.6, 10.3214 / 3.6, math.inf, True)
WAY = [(2000, 0.0), (1500, 0.05), (200, 0.16), (800, 0.05), (1000, 0.0), (3000, -0.03), (2000, 0.0)]


def planned(
    pieces: list[tuple[float, float]] = WAY, sport: str = "cycling", edges: LoadEdges = BAND, rider: Rider = RIDER
) -> RoutePlan:
    ends = np.concatenate(([0.0], np.cumsum([length for length, _ in pieces])))
    heights = 100 + np.concatenate(([0.0], np.cumsum([length * slope for length, slope in pieces])))
    along = np.arange(0.0, ends[-1] + 1, 25.0)
    return plan_route(course_of(along, np.interp(along, ends, heights), TERRAIN), edges, sport, rider, TERRAIN)


def test_the_ramp_is_found_with_the_gear_it_needs() -> None:
    plan = planned()
    (ramp,) = plan.stretches
    assert ramp.start_m == pytest.approx(3500, abs=40)
    assert ramp.length_m == pytest.approx(200, abs=60)
    assert ramp.steepest == pytest.approx(0.16, abs=0.005)
    # by hand: 212 W x 0.976 = 206.9 W; 81 kg x 9.80665 x (sin(atan 0.16) + 0.005 cos) = 794.3 x 0.1629 = 129.4 N; 206.9 / 129.4 = 1.599 m/s less
    # a little air; 1.59 x 60 / (2.105 x 60) = 0.755 turns; 34 / 0.755 = 45.03
    assert ramp.gear_ratio == pytest.approx(0.757, abs=0.01)
    assert ramp.gear_cog in (45, 46)
    assert plan.inside == pytest.approx(1 - 200 / 10_500, abs=0.006)
    assert plan.climbing_m == pytest.approx(1500 * 0.05 + 200 * 0.16 + 800 * 0.05, abs=2)
    (climb,) = plan.climbs
    assert (climb.start_m, climb.length_m) == (pytest.approx(2000, abs=20), pytest.approx(2500, abs=25))
    assert climb.forced_m == ramp.length_m


def test_a_wall_needs_another_road() -> None:
    plan = planned([(1000, 0.0), (400, 0.25), (1000, 0.0)])
    assert [(item.gear_cog, item.too_steep) for item in plan.stretches] == [(None, True)]


def test_times_agree_with_another_integrator() -> None:
    """Reference library: scipy, integrate.solve_ivp(RK45, rtol 1e-8) through time, of the way at a steady 200 W without the caps (no grade
    here brings 12.5 m/s), wheels and bearings as in SOURCES S4."""
    pieces = [(1500, 0.0), (1200, 0.04), (900, 0.0), (1000, -0.01), (2000, 0.01)]
    plan = planned(pieces)
    ends = np.cumsum([length for length, _ in pieces])
    mass = 81 + 0.14 / 0.311**2

    def change(_: float, state: np.ndarray) -> list[float]:
        slope = math.atan(pieces[min(int(np.searchsorted(ends, state[0], side="right")), len(pieces) - 1)][1])
        speed = state[1]
        hold = 81 * 9.80665 * (math.sin(slope) + 0.005 * math.cos(slope)) + 0.5 * 1.2 * 0.3244 * speed**2
        return [speed, (0.976 * 200 / speed - hold - 0.091 - 0.0087 * speed) / mass]

    def arrived(_: float, state: np.ndarray) -> float:
        return float(state[0] - ends[-1])

    arrived.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(change, (0, 5000), [0.0, 2.0], events=arrived, rtol=1e-8, max_step=2.0)
    top = plan.paces[0]
    assert top.seconds == pytest.approx(float(found.t_events[0][0]), rel=0.01)
    assert top.speed_mps == pytest.approx(plan.length_m / top.seconds)


def test_more_load_takes_less_time_and_a_mirrored_way_has_no_forced_ramp() -> None:
    plan = planned()
    assert plan.paces[0].load > plan.paces[1].load
    assert plan.paces[0].seconds < plan.paces[1].seconds
    down = planned([(length, -slope) for length, slope in WAY[::-1]])
    assert down.stretches == ()
    assert down.inside == 1.0


def test_without_mass_or_gears_climbs_are_told_and_the_rest_is_missing() -> None:
    plan = planned(rider=Rider(body_kg=70.0))
    assert plan.missing == ("bike.mass_kg", "bike.chainrings", "bike.cassette", "bike.wheel_circumference_m")
    assert (plan.inside, plan.paces, plan.stretches) == (None, (), ())
    assert len(plan.climbs) == 1


def test_on_foot_it_says_where_to_walk() -> None:
    plan = planned([(1000, 0.0), (400, 0.12), (600, 0.04), (1400, -0.02)], "running", FEET)
    (walk,) = plan.stretches
    assert (walk.start_m, walk.length_m) == (pytest.approx(1000, abs=40), pytest.approx(400, abs=60))
    assert plan.limit == pytest.approx(0.069, abs=0.002)
    # by hand at the target top of 2.778 m/s: flat 1000 / 2.778 = 360 s; 12 % walked at 2.778 x 3.6 / 5.46 = 1.832, capped at 1.8 m/s: 222 s;
    # 4 % at 2.778 x 3.6 / 4.451 = 2.247 m/s: 267 s; -2 % at 2.778 x 3.6 / 3.229 = 3.097 m/s: 452 s; together 1301 s
    assert plan.paces[0].seconds == pytest.approx(1301, rel=0.015)


def test_heights_that_leap_are_no_hill() -> None:
    along = np.arange(0.0, 5000, 20.0)
    height = np.where(along > 2000, 190.0, 100.0)
    plan = plan_route(course_of(along, height, TERRAIN), BAND, "cycling", RIDER, TERRAIN)
    assert (plan.stretches, plan.climbs) == ((), ())


def test_for_programs_without_positions() -> None:
    written = json.loads(json.dumps(plan_to_dict(planned()), allow_nan=False))
    assert written["stretches"][0]["gear_cog"] in (45, 46)
    assert not {"metres", "height", "forced"} & set(written)
