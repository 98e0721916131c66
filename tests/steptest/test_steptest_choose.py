"""Which test a session is judged by."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from steptest_data import bike

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest import ZoneSet, choose, make_zones
from steadyband.steptest.choose import choose_named

SETTINGS = StepTestSettings(draws=100)


def zones(folder: Path, day: str, **head: str) -> ZoneSet:
    return make_zones(bike(folder, date=day, **head), SETTINGS)


def test_the_latest_test_on_or_before_the_day_applies(tmp_path: Path) -> None:
    tests = [zones(tmp_path, day) for day in ("2026-05-01", "2026-03-01", "2026-06-01")]
    choice = choose(tests, "cycling", date(2026, 5, 1), SETTINGS)
    assert choice.zone_set is tests[0]
    assert (choice.age_days, choice.freshness, choice.reason, choice.note) == (0, "current", None, None)


@pytest.mark.parametrize(("days", "word"), [(56, "current"), (57, "ageing"), (112, "ageing"), (113, "stale")])
def test_freshness(tmp_path: Path, days: int, word: str) -> None:
    # Common practice: retest every 6-8 weeks; older than 56 days is ageing, older than 112 stale.
    on = date.fromordinal(date(2026, 1, 1).toordinal() + days)
    choice = choose([zones(tmp_path, "2026-01-01")], "cycling", on, SETTINGS)
    assert (choice.age_days, choice.freshness) == (days, word)


def test_reasons_where_none_applies(tmp_path: Path) -> None:
    tests = [zones(tmp_path, "2026-05-01")]
    assert choose(tests, "running", date(2026, 5, 2), SETTINGS).reason == "There is no step test for running."
    newer = choose(tests, "cycling", date(2026, 3, 19), SETTINGS)
    assert newer.reason is not None
    assert newer.reason.startswith(
        "The cycling test of 2026-05-01 is newer than the session of 2026-03-19, by more than the 42"
    )
    blocked = choose([zones(tmp_path, "2026-05-01", baseline="[1.9]")], "cycling", date(2026, 5, 2), SETTINGS)
    assert blocked.zone_set is None
    assert blocked.reason is not None
    assert blocked.reason.startswith("The cycling test of 2026-05-01 is blocked: the baseline is 1.9 mmol/L")
    assert (newer.age_days, newer.freshness) == (None, None)


def test_a_blocked_test_is_passed_over_and_named(tmp_path: Path) -> None:
    tests = [zones(tmp_path, "2026-04-01"), zones(tmp_path, "2026-05-01", baseline="[1.9]")]
    choice = choose(tests, "cycling", date(2026, 5, 2), SETTINGS)
    assert choice.zone_set is tests[0]
    assert choice.note is not None
    assert "2026-05-01 is blocked, so the one of 2026-04-01 is used" in choice.note


def test_states_are_kept_apart_when_asked(tmp_path: Path) -> None:
    fed, fasted = zones(tmp_path, "2026-04-01"), zones(tmp_path, "2026-05-01", state='"fasted"')
    assert choose([fed, fasted], "cycling", date(2026, 5, 2), SETTINGS).zone_set is fasted
    assert choose([fed, fasted], "cycling", date(2026, 5, 2), SETTINGS, "fed").zone_set is fed
    reason = choose([fed], "cycling", date(2026, 5, 2), SETTINGS, "fasted").reason
    assert reason == "There is no step test for fasted cycling."


@pytest.mark.parametrize("before", [1, 42])
def test_sessions_of_the_six_weeks_before_a_first_test_are_judged_by_it(tmp_path: Path, before: int) -> None:
    # Six weeks are 42 days.
    first, second = zones(tmp_path, "2026-05-01"), zones(tmp_path, "2026-05-20")
    on = date.fromordinal(date(2026, 5, 1).toordinal() - before)
    choice = choose([second, first], "cycling", on, SETTINGS)
    assert choice.zone_set is first
    assert (choice.age_days, choice.freshness, choice.named) == (-before, "current", False)
    none = StepTestSettings(draws=100, before_first_days=0)
    assert choose([second, first], "cycling", on, none).zone_set is None


def test_a_later_test_never_replaces_an_earlier_one(tmp_path: Path) -> None:
    old, new = zones(tmp_path, "2025-01-01"), zones(tmp_path, "2026-05-01")
    assert choose([old, new], "cycling", date(2026, 4, 30), SETTINGS).zone_set is old


def test_a_blocked_first_test_gives_way_to_the_next_within_reach(tmp_path: Path) -> None:
    blocked, usable = zones(tmp_path, "2026-05-01", baseline="[1.9]"), zones(tmp_path, "2026-05-08")
    assert choose([blocked, usable], "cycling", date(2026, 4, 28), SETTINGS).zone_set is usable
    reason = choose([blocked], "cycling", date(2026, 4, 28), SETTINGS).reason
    assert reason is not None
    assert reason.startswith("The cycling test of 2026-05-01 is blocked")


def test_a_named_test_judges_whatever_its_date(tmp_path: Path) -> None:
    test = zones(tmp_path, "2026-05-01")
    for day, age in ((date(2025, 1, 1), -485), (date(2026, 5, 3), 2)):
        choice = choose_named([test], "cycling", day, SETTINGS)
        assert (choice.zone_set, choice.age_days, choice.named) == (test, age, True)
    assert choose_named([test], "running", date(2026, 5, 3), SETTINGS).zone_set is None
