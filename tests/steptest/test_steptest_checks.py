"""Every check of METHOD 1.1 and 1.2: raised where it should be, silent next to its limit, naming step and value."""

from __future__ import annotations

from pathlib import Path

import pytest
from steptest_data import bike, curve_test, run, step

from steadyband.steptest import StepTest, make_zones
from steadyband.steptest.model import Check


def checks(test: StepTest, code: str) -> list[Check]:
    return [check for check in make_zones(test).checks if check.code == code]


def the_check(test: StepTest, code: str) -> Check:
    (check,) = checks(test, code)
    assert check.text[0].isupper()
    assert check.text.endswith(".")
    return check


def test_baseline_of_1_6_is_refused_and_1_5_accepted(tmp_path: Path) -> None:
    # Common practice, no source: a test starts from at most 1.5 mmol/L.
    check = the_check(high := bike(tmp_path, baseline="[1.6]"), "baseline_high")
    assert (check.severity, check.step, check.numbers["baseline"]) == ("block", 0, 1.6)
    assert "1.6 mmol/L" in check.text
    assert "15-20 minutes" in check.text
    assert not make_zones(high).usable
    assert make_zones(bike(tmp_path, baseline="[1.5]")).usable


def test_the_last_baseline_sample_counts(tmp_path: Path) -> None:
    assert make_zones(bike(tmp_path, baseline="[1.9, 1.3]")).usable
    assert not make_zones(bike(tmp_path, baseline="[1.3, 1.9]")).usable
    assert make_zones(bike(tmp_path, baseline="[1.9, 1.3]")).curve[0].lactate == 1.3


def test_an_override_by_name_makes_a_blocked_test_usable_and_keeps_the_check(tmp_path: Path) -> None:
    test = bike(tmp_path, baseline="[1.6]", override='"always high"')
    assert make_zones(test).usable
    assert the_check(test, "baseline_high").severity == "block"


def test_few_flat_steps(tmp_path: Path) -> None:
    check = the_check(curve_test(tmp_path, [1.0, 1.0, 1.7, 2.7], baseline="[1.0]"), "few_flat_steps")
    assert "Only 2 steps lie below the floor" in check.text
    assert not checks(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.5, 2.5], baseline="[1.0]"), "few_flat_steps")


def test_step_height(tmp_path: Path) -> None:
    # By hand: 26 W / 74 kg = 0.351 W/kg warns, 25 W / 74 kg = 0.338 does not.
    steps = [step(load, 1.0, hr=100) for load in (100, 120, 146)]
    check = the_check(bike(tmp_path, steps), "step_height")
    assert check.numbers["w_per_kg"] == pytest.approx(26 / 74)
    assert "step 3 (146 W)" in check.text
    assert "0.35 W/kg" in check.text
    assert not checks(bike(tmp_path, [step(load, 1.0, hr=100) for load in (100, 125, 150)]), "step_height")
    assert not checks(bike(tmp_path, steps, mass_kg=None), "step_height")


def test_step_length(tmp_path: Path) -> None:
    steps = [f"[[step]]\nload = {load}\nsamples = [{{minute = 4, lactate = 1.0}}]\n" for load in (100, 120, 140)]
    assert "4 minutes" in the_check(bike(tmp_path, steps, step_minutes="4"), "step_length").text
    assert not checks(bike(tmp_path, steps, step_minutes="5"), "step_length")


def test_a_bad_drop_is_called_suspect(tmp_path: Path) -> None:
    """A first drop of 2.1 beside 1.1 on an easy step; two good drops 0.2 apart are not."""

    def test(first: float) -> StepTest:
        easy = [step(100, 1.0, 1.0), step(120, 1.0, 1.0), step(140, first, 1.1)]
        return bike(tmp_path, [*easy, step(160, 1.2, 1.2), step(180, 1.7, 1.7), step(200, 2.3, 2.3)])

    check = the_check(test(2.1), "suspect_sample")
    assert check.step == 3
    assert "The sample of 2.1 mmol/L at step 3 (140 W) does not sit with the others: probably a bad drop" in check.text
    assert not checks(test(1.3), "suspect_sample")


def test_steps_sampled_once(tmp_path: Path) -> None:
    assert "In 4 of 4 steps" in the_check(curve_test(tmp_path, [1.0, 1.0, 1.5, 2.5]), "sampled_once").text
    assert not checks(bike(tmp_path), "sampled_once")


def test_lactate_that_still_rises_inside_a_step(tmp_path: Path) -> None:
    flat = [step(100 + 20 * i, 1.0, 1.0) for i in range(3)]
    check = the_check(bike(tmp_path, [*flat, step(160, 1.5, 2.1)]), "rises_inside_step")
    assert (check.severity, check.step) == ("evidence", 4)
    assert "from 1.5 to 2.1" in check.text
    assert not checks(bike(tmp_path, [*flat, step(160, 1.5, 2.0)]), "rises_inside_step")
    # Below the first rise it is no sign of a heavy step.
    assert not checks(bike(tmp_path, [step(100, 0.6, 1.2), *flat[1:], step(160, 1.5, 1.6)]), "rises_inside_step")


def test_heart_rate_missing(tmp_path: Path) -> None:
    steps = [step(100, 1.0, hr=100), step(120, 1.0), step(140, 1.0, hr=110), step(160, 1.5)]
    check = the_check(bike(tmp_path, steps), "heart_rate_missing")
    assert check.step == 2
    assert "step 2 (120 W), step 4 (160 W)" in check.text


def test_heart_rate_fell(tmp_path: Path) -> None:
    steps = [step(load, 1.0, hr=hr) for load, hr in ((100, 100), (120, 131), (140, 112), (160, 120))]
    found = checks(bike(tmp_path, steps), "heart_rate_fell")
    assert [check.step for check in found] == [3, 4]
    assert "step 3 (140 W) is 112 bpm, under the 131 of step 2 (120 W)" in found[0].text


def test_no_sample_in_the_second_half(tmp_path: Path) -> None:
    early = "[[step]]\nload = 120\nsamples = [{minute = 3, lactate = 1.4}, {minute = 4, lactate = 1.2}]\n"
    test = bike(tmp_path, [step(100, 1.0), early, step(140, 1.2)])
    check = the_check(test, "no_second_half_sample")
    assert check.step == 2
    assert "from minute 5" in check.text
    assert make_zones(test).curve[2].lactate == 1.2  # the last sample


def test_a_steps_lactate_is_the_median_of_its_second_half(tmp_path: Path) -> None:
    rows = "{minute = 2, lactate = 9.0}, {minute = 5, lactate = 1.0}, {minute = 8, lactate = 1.2}, {minute = 10, lactate = 2.0}"
    test = bike(tmp_path, [f"[[step]]\nload = 100\nsamples = [{rows}]\n", step(120, 1.2), step(140, 1.2)])
    assert make_zones(test).curve[1].lactate == 1.2  # by hand: median of 1.0, 1.2, 2.0


def test_edges_that_were_not_found(tmp_path: Path) -> None:
    assert "160 W, the last load" in the_check(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.1]), "floor_not_reached").text
    check = the_check(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.6], baseline="[1.0]"), "ceiling_open")
    assert "at least 160 W" in check.text


def test_a_band_between_two_steps_is_untested(tmp_path: Path) -> None:
    check = the_check(curve_test(tmp_path, [1.0, 1.0, 1.0, 3.0], baseline="[1.0]"), "band_untested")
    assert "No step lay inside the steady band from 14" in check.text


def test_no_easy_running(tmp_path: Path) -> None:
    rows = [(4.0, "walk", 1.0), (5.0, "walk", 1.0), (6.0, "walk", 1.1), (8.0, "run", 1.5), (9.0, "run", 2.4)]
    check = the_check(run(tmp_path, rows, baseline="[1.0]"), "no_easy_band")
    assert "step 4 (8.0 km/h)" in check.text
    assert "Every run is at least steady; put easy volume on the bike or on walking." in check.text


def test_a_clean_test_raises_nothing(tmp_path: Path) -> None:
    assert make_zones(bike(tmp_path)).checks == ()
