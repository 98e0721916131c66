"""What a session is taken for where nobody said it, and which test it is judged by, on the demo's recordings."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from steadyband.athlete.folder import AthleteFolder, by_test, open_folder
from steadyband.athlete.sessions import audit_file
from steadyband.audit.model import Audit
from steadyband.report.session.hills import answer_text, changes, place_lines
from steadyband.report.session.page import session_page
from steadyband.review.taken import taken_for_granted
from steadyband.told.output import audit_to_dict

DEMO = Path(__file__).parents[2] / "demo_activities"
TESTS = ("2026-W17/2026-04-20-bike-test.fit", "2026-W17/2026-04-22-run-test.fit")


def unlabelled() -> AthleteFolder:
    """The demo without a label, no test naming its recording."""
    home = open_folder(DEMO)
    nameless = tuple(replace(item, test=replace(item.test, recording=None)) for item in home.zone_sets)
    return replace(home, labels=(), zone_sets=nameless)


def only(file: str, home: AthleteFolder) -> Audit:
    (found,) = audit_file(DEMO / "activities" / file, home)
    return found


@pytest.mark.parametrize("file", TESTS)
def test_a_recording_of_a_tests_day_sport_and_loads_is_that_test(file: str) -> None:
    found = only(file, unlabelled())
    assert (found.info.intent, found.info.intent_source) == ("test", "test loads")


def test_another_ride_of_that_day_is_no_test() -> None:
    home, ride = unlabelled(), "2026-W18/2026-04-28-trainer-hour.fit"
    day = only(ride, home).info.local_start.date()
    moved = tuple(replace(item, test=replace(item.test, date=day)) for item in home.zone_sets)
    assert only(ride, replace(home, zone_sets=moved)).info.intent != "test"


def test_whoever_tested_later_sees_the_weeks_before_marked_so() -> None:
    home, run = unlabelled(), "2026-W17/2026-04-26-dune-run.fit"
    later = tuple(
        replace(item, test=replace(item.test, date=item.test.date.replace(month=5)))
        for item in home.zone_sets
        if item.test.sport == "running"
    )
    found = only(run, replace(home, zone_sets=later))
    assert found.verdict.in_band is not None
    # By hand: from 26 April to 22 May are 26 days.
    assert audit_to_dict(found)["zones"]["age_days"] == -26
    assert any("26 days later" in note for note in audit_to_dict(found)["quality"]["notes"])
    assert "made 26 days later" in session_page(found)
    assert "One session was before the first usable test, of 22 May 2026" in taken_for_granted([found])[0]


def test_a_named_test_judges_sessions_of_its_sport_alone_and_its_pages_stand_apart() -> None:
    home = open_folder(DEMO)
    named = by_test(home, DEMO / "tests" / "2026-02-09-bike.toml")
    ride, run = only("2026-W20/2026-05-14-last-ferry.fit", named), only("2026-W17/2026-04-26-dune-run.fit", named)
    assert ride.zones is not None
    assert run.zones is not None
    assert (ride.zones.test, run.zones.test) == ("2026-02-09-bike.toml", "2026-04-22-run.toml")
    assert taken_for_granted([ride, run]) == (
        "Judged by the test that was named (2026-02-09-bike.toml), whatever its date.",
    )
    assert named.athlete.reports == home.athlete.reports / "by-2026-02-09-bike"


@pytest.mark.parametrize(
    ("file", "number", "seconds", "watts"),
    [("2026-W18/2026-04-30-long-repeats.fit", 4, 270, 209), ("2026-W19/2026-05-05-minute-repeats.fit", 9, 50, 242)],
)
def test_the_demos_intervals_are_told_and_not_advised_on(file: str, number: int, seconds: int, watts: float) -> None:
    # Planted in the simulation, see demo_activities/truth.json.
    found = only(file, open_folder(DEMO))
    assert found.repeats is not None
    assert (found.repeats.number, found.repeats.others) == (number, 0)
    assert found.repeats.length_s == pytest.approx(seconds, abs=2)
    assert found.repeats.mean == pytest.approx(watts, rel=0.02)
    assert answer_text(found).startswith(f"Hard session: {number} efforts of about ")
    assert changes(found) == []
    assert place_lines(found) == []
    assert audit_to_dict(found)["repeats"]["number"] == number
    assert f"Every effort ({number})" in session_page(found)
