"""Tests over time: what changed beyond the ranges, and what did not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from field_data import BIKE, foot_zones, step_test, zones

from steadyband.steptest import ZoneSet, make_zones
from steadyband.steptest.history import change_sentence, compare_tests, history


def shifted(watts: float, day: date = date(2026, 6, 20), **changes: object) -> ZoneSet:
    rows = [(load + watts, value, hr) for load, value, hr in BIKE]
    return zones(rows, date=day, file=f"{day}.toml", **changes)


def test_the_same_test_again_shows_no_change() -> None:
    """Two draws of one test differ by noise alone; equal seeds must not make them look equal either."""
    found = compare_tests(zones(), shifted(0))
    assert {change.way for change in found.changes} == {"same"}
    ceiling = found.changes[2]
    assert ceiling.higher == pytest.approx(0.5, abs=0.06)
    assert ceiling.lower == pytest.approx(0.5, abs=0.06)


def test_a_step_of_40_w_is_beyond_the_ranges_both_ways() -> None:
    up, down = compare_tests(zones(), shifted(40)), compare_tests(shifted(40), zones(date=date(2026, 9, 1)))
    assert {change.way for change in up.changes} == {"up"}
    assert {change.way for change in down.changes} == {"down"}
    assert "up beyond the ranges" in change_sentence(up.changes[2], "W")


def test_a_small_change_beyond_the_ranges_names_day_to_day_variation() -> None:
    """15 W on a ceiling of about 205 W is 7.3 %, inside the 3.4-8.1 % CV of Heuberger 2018 (SOURCES S2, read)."""
    change = compare_tests(zones(), shifted(15)).changes[2]
    percent = 100 * ((change.now or 0) / (change.before or 1) - 1)
    assert 6.5 < percent < 8
    assert "3.4-8.1 %" in change_sentence(replace(change, way="up"), "W")
    assert f"{percent:.1f} %" in change_sentence(replace(change, way="up"), "W")
    assert "3.4" not in change_sentence(compare_tests(zones(), shifted(40)).changes[2], "W")


def test_an_edge_that_was_not_found_is_not_compared() -> None:
    early = zones(BIKE[:4])
    change = compare_tests(early, shifted(0)).changes[2]
    assert change.way == "unknown"
    assert "not found" in change_sentence(change, "W")


def test_mixed_analysers_meters_and_step_lengths_are_said() -> None:
    """SOURCES S1: mean bias by brand -10 to +42 %."""
    old = zones(analyser="unit A", meter="trainer")
    cautions = " ".join(compare_tests(old, shifted(0, analyser="unit B", meter="pedals", step_minutes=8)).cautions)
    assert "-10 to +42 %" in cautions
    assert "unit A, then unit B" in cautions
    assert "compare-meters" in cautions
    assert "10, then 8 minutes" in cautions
    assert compare_tests(old, shifted(0, analyser="unit A", meter="trainer")).cautions == ()


def test_groups_by_sport_state_and_kind_of_load_in_order_of_date() -> None:
    fasted = zones(state="fasted", file="fasted.toml")
    blocked = make_zones(step_test(baseline=(1.9,), date=date(2026, 5, 10), file="blocked.toml"))
    groups = history([shifted(0), foot_zones(), fasted, blocked, zones()])
    assert [(group.sport, group.state, len(group.zone_sets)) for group in groups] == [
        ("cycling", "fasted", 1),
        ("cycling", "fed", 3),
        ("running", "fed", 1),
    ]
    fed = groups[1]
    assert [item.test.file for item in fed.zone_sets] == ["made.toml", "blocked.toml", "2026-06-20.toml"]
    assert [(c.before.test.file, c.now.test.file) for c in fed.comparisons] == [("made.toml", "2026-06-20.toml")]


def test_an_override_is_said() -> None:
    forced = make_zones(step_test(baseline=(1.6,), override="only slot", date=date(2026, 5, 1)))
    assert any("only slot" in text for text in compare_tests(zones(), forced).cautions)
