"""A coach's Sunday: four weeks at a glance, what is new, tests due, hours against the plan, recordings cut short."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from roster_club import Ride, athlete, run

SHORT = 1500


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("sunday")
    athlete(
        root / "alba",
        "Alba",
        [Ride(1, seconds=SHORT), Ride(8, seconds=SHORT), Ride(22, seconds=SHORT)],
        more="[plan.cycling]\ntotal = 2\n",
    )
    cut = athlete(root / "cut", "Cora", [Ride(1, seconds=SHORT), Ride(3, seconds=7020)])
    whole = cut / "activities" / "cut-001.fit"
    whole.write_bytes(whole.read_bytes()[:1000])
    hal = athlete(root / "hal", "Hal", [Ride(2, seconds=SHORT, meter=False, heart_rate=176)])
    (hal / "sessions.csv").write_text("date,intent\n2026-05-14,endurance\n", encoding="utf-8")
    return root


@pytest.fixture(scope="module")
def told(club: Path) -> dict[str, dict[str, Any]]:
    found = json.loads(run("roster", club, "--format", "json").stdout)
    return {item["folder"]: item for item in found["athletes"]} | {"page": found}


def test_four_weeks_at_a_glance(told: dict[str, dict[str, Any]]) -> None:
    weeks = told["alba"]["weeks"]
    assert [(week["week"], week["held"], week["judged"]) for week in weeks] == [
        ("2026-W17", 1, 1),
        ("2026-W18", 0, 0),
        ("2026-W19", 1, 1),
        ("2026-W20", 1, 1),
    ]
    assert [round(week["active_s"] / SHORT, 2) for week in weeks] == [1, 0, 1, 1]


def test_hours_against_the_plan(told: dict[str, dict[str, Any]]) -> None:
    (row,) = told["alba"]["plan"]
    assert (row["planned_h"], row["met"]) == (2.0, False)
    assert row["done_h"] == pytest.approx(SHORT / 3600, abs=0.01)


def test_a_recording_cut_short_is_something_to_look_at(told: dict[str, dict[str, Any]]) -> None:
    """1 h 57 of riding cut to 1,000 bytes."""
    assert told["cut"]["group"] == "unread"
    (note,) = told["cut"]["notes"]
    assert note["code"] == "cut"
    assert note["head"].startswith("Wednesday's ride is cut short:")
    assert note["file"] == "cut-001.fit"


def test_when_tests_are_due(told: dict[str, dict[str, Any]]) -> None:
    """The demo's bike test is of 20 April 2026; stale is older than 112 days, so from day 113: 11 August (by hand)."""
    assert [test["due"] for test in told["alba"]["tests"]] == ["2026-08-11"]


def test_by_heart_rate_alone_in_beats(told: dict[str, dict[str, Any]]) -> None:
    text = " ".join(note["text"] for note in told["hal"]["notes"])
    assert "bpm" in text
    assert " W" not in text


def test_what_is_new_since_the_last_run(told: dict[str, dict[str, Any]], club: Path) -> None:
    assert told["alba"]["changed"] == []
    (club / "alba" / "activities" / "new.fit").write_bytes(Ride(2, power=148, surges=20).content(9))
    shown = run("roster", club).stdout
    text = " ".join(shown.split())
    assert (
        "Since the last run: One session more than at the last run. Stood under “Held the band” at the last run, of 2026-W20."
        in text
    )
    assert "None within four weeks; the first: Alba, by bike: on 11 August 2026, in 12 weeks." in text
    assert "Plan: cycling in all 2 h 00 planned, 1 h 15 done." in text
    assert "week 18: nothing; week 19: 1 of 1 held, 25 min" in text
    page = next((club / "reports").glob("roster-*.html")).read_text(encoding="utf-8")
    assert "One session more than at the last run." in page
    assert "Tests due" in page


def test_a_memory_that_is_none_is_said_and_written_anew(told: dict[str, dict[str, Any]], club: Path) -> None:
    memory = club / "reports" / ".roster-last.json"
    memory.write_text('{"schema": 1, "athletes": [1]}', encoding="utf-8")
    assert "cannot tell what changed" in run("roster", club).stderr
    assert "cannot tell what changed" not in run("roster", club).stderr
