"""Plans of step tests: the habits of the trade (common practice, no source, unless named otherwise)."""

from __future__ import annotations

import numpy as np
import pytest
from field_data import foot_zones, no_easy_zones, zones
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.ground.errors import UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.posterior import Readings, draw_curves
from steadyband.steptest.dialogue.designs import Design, expected_widths, likely_near
from steadyband.steptest.dialogue.plan import CAUTIONS, PlanRequest, bike_step_height, plan_test
from steadyband.steptest.model import AnalyserSd


def bike(mass: float | None = 74, steady: float | None = 200) -> PlanRequest:
    return PlanRequest("cycling", "W", mass, steady)


@pytest.mark.parametrize(("mass", "height"), [(60, 15), (74, 20), (80, 20), (100, 25), (50, 10), (45, 10), (25, 5)])
def test_step_height_is_a_quarter_watt_per_kilo_to_5_w(mass: float, height: float) -> None:
    """By hand: 0.25 x mass = 15, 18.5, 20, 25, 12.5 (tie down), 11.25, 6.25."""
    assert bike_step_height(mass) == height


@given(st.floats(25, 250))
def test_step_height_never_warns(mass: float) -> None:
    """METHOD 1.1: over 0.35 W/kg warns."""
    assert bike_step_height(mass) <= 0.35 * mass


def test_bike_plan_by_hand() -> None:
    """By hand: 200 W steady, floor expected at 180; three easy steps of 20 W or four below it, the ceiling, one above."""
    plan = plan_test(bike())
    assert [step.load for step in plan.steps] == [120, 140, 160, 180, 200, 220]
    assert [step.easy for step in plan.steps] == [True, True, True, False, False, False]
    assert plan.minutes == (50, 60)
    assert plan.sample_minutes == (5, 10)
    assert plan.spare_minutes == (6.5, 8)


def test_one_sample_a_step_costs_certainty_and_says_what() -> None:
    plan = plan_test(bike())
    assert all(one > 1.1 * two for one, two in zip(plan.widths[1], plan.widths[2], strict=True))
    assert f"about {plan.widths[2][0]:.0f} W for the floor" in plan.notes[-1]
    assert f"With one: {plan.widths[1][0]:.0f} W" in plan.notes[-1]


def test_expected_widths_are_those_of_the_posterior() -> None:
    """Against the posterior itself, over planted tests of the curves that the plan imagines: within a quarter."""
    likely, analyser, settings = likely_near(180.0), AnalyserSd(0.18, 0.06), StepTestSettings()
    rng = np.random.default_rng(4)
    for height, samples in ((20.0, 2), (25.0, 1)):
        design = Design(180 - 3 * height, height, 8, samples)
        found = []
        for _ in range(30):
            at = rng.choice(len(likely.floor), p=likely.weight)
            floor, width = likely.floor[at], likely.width[at]
            spread = width / (0.7 * np.log(1 / 0.3))
            loads = design.start + height * np.arange(8)
            loads = loads[: np.searchsorted(loads, floor + width) + 1]
            grown = (1 / 0.3 - 1) / (1 / 0.3 - np.exp(width / spread))
            start, a = floor - spread * np.log(grown), 0.3 / (grown - 1)
            level = np.repeat(1.1 + a * np.expm1(np.maximum(loads - start, 0) / spread), samples)
            lactate = level + 1.3 * analyser.at(level) * rng.standard_normal(len(level))
            read = Readings(
                loads, np.repeat(np.arange(len(loads)), samples), lactate, 1.1 + 0.23 * rng.standard_normal()
            )
            curves = draw_curves(read, analyser, settings, 1000)
            found.append([np.ptp(np.quantile(curves.loads_at(rise), (0.1, 0.9))) for rise in (0.3, 1.0)])
        assert np.mean(found, axis=0) == pytest.approx(expected_widths(design, likely, analyser, settings), rel=0.25)


def test_strips_two_a_step_two_for_the_baseline_half_as_many_again() -> None:
    """By hand: 6 x 2 + 2 = 14, half again 7, in all 21."""
    strips = plan_test(bike()).strips
    assert (strips.used, strips.spare, strips.total) == (14, 7, 21)


@settings(max_examples=40)  # a plan weighs hundreds of tests
@given(st.floats(45, 120), st.floats(120, 350))
def test_bike_plans_have_three_easy_steps_below_the_steady_load(mass: float, steady: float) -> None:
    plan = plan_test(bike(mass, steady))
    easy = [step.load for step in plan.steps if step.easy]
    assert len(easy) == 3
    assert max(easy) < steady
    assert min(easy) >= 30
    gaps = {high.load - low.load for low, high in zip(plan.steps, plan.steps[1:], strict=False)}
    assert gaps == {plan.step_height}


@settings(max_examples=40)  # a plan weighs hundreds of tests
@given(st.floats(6.0, 18.0))
def test_foot_plans_walk_first_in_steps_of_half_to_one(steady: float) -> None:
    plan = plan_test(PlanRequest("running", "km/h", None, steady))
    loads = [step.load for step in plan.steps]
    assert plan.steps[0].gait == "walk"
    assert plan.steps[-1].load >= steady
    assert 0.5 <= plan.step_height <= 1.0
    assert loads == sorted(set(loads))
    assert all(step.gait == ("walk" if step.load < 7 else "run") for step in plan.steps)


def test_a_plan_from_a_test_starts_below_its_floor_and_passes_its_ceiling() -> None:
    last = zones()
    plan = plan_test(PlanRequest("cycling", "W", last=last))
    floor, ceiling = last.edges.floor or 0, last.edges.ceiling or 0
    assert sum(step.load < floor + 2.5 for step in plan.steps) >= 3
    assert plan.steps[-1].load >= ceiling > plan.steps[-3].load
    assert f"{floor:.0f} W" in plan.basis


def test_a_plan_from_a_run_reaches_its_old_ceiling() -> None:
    last = no_easy_zones()
    plan = plan_test(PlanRequest("running", "km/h", last=last))
    assert plan.steps[-1].load_si >= (last.edges.ceiling or 99)
    assert len(plan.steps) <= 8


def test_pace_is_planned_in_kmh() -> None:
    """By hand: 5:00 min/km is 12 km/h."""
    plan = plan_test(PlanRequest("running", "min/km", None, 5.0))
    assert plan.load_unit == "km/h"
    assert "12.0 km/h" in plan.basis


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (PlanRequest("cycling", "W", None, 200), "--mass"),
        (PlanRequest("cycling", "W", 74), "--steady"),
        (PlanRequest("cycling", "W", 74, 60), "is it in W"),
        (PlanRequest("cycling", "W", 740, 200), "25 to 250"),
        (PlanRequest("running", "W", 74, 200), "km/h"),
        (PlanRequest("running", "km/h", 74, 4), "is it in km/h"),
        (PlanRequest("running", "km/h", 74, -4), "above 0"),
        (PlanRequest("running", "km/h", last=zones()), "never carried"),
        (PlanRequest("cycling", "W", last=foot_zones()), "never carried"),
    ],
)
def test_bad_requests_say_what_to_try(asked: PlanRequest, words: str) -> None:
    with pytest.raises(UsageError) as caught:
        plan_test(asked)
    assert words in str(caught.value)


def test_cautions_name_what_can_hurt() -> None:
    """SOURCES S11 and METHOD 9."""
    text = " ".join(CAUTIONS)
    for words in (
        "physician",
        "Chest pain",
        "fainting",
        "breathlessness",
        "single-use lancet",
        "never shared",
        "sharps box",
    ):
        assert words in text
