"""One page of every kind the tool writes, made from the builders of the other tests and from the demo folder."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from conftest import DEMO, ROOT

sys.path.extend(str(ROOT / "tests" / room) for room in ("report", "steptest", "review"))

from field_data import BIKE, foot_zones, no_easy_zones, zones
from many_sessions import folder, series, session
from report_builders import hard_session, week

from steadyband.athlete.folder import open_folder
from steadyband.athlete.sessions import audit_file
from steadyband.audit.edges import edges_for
from steadyband.audit.route import course_of, plan_route
from steadyband.ground.settings import StepTestSettings
from steadyband.recording.planned import read_planned
from steadyband.report.block.page import block_page
from steadyband.report.common.words import Loads
from steadyband.report.roster.page import roster_page
from steadyband.report.roster.work import Task, look_after
from steadyband.report.route.page import route_page
from steadyband.report.season.page import history_page
from steadyband.report.session.page import session_page
from steadyband.report.test.pages import card_page, meters_page, plan_page, step_test_page
from steadyband.report.test.pages import history_page as tests_page
from steadyband.report.week.page import week_page
from steadyband.review.block import review_block
from steadyband.review.history import history
from steadyband.review.model import Review
from steadyband.review.repeat_climbs import repeat_climbs
from steadyband.review.roster import make_roster
from steadyband.review.roster_folders import find_homes
from steadyband.steptest.dialogue.plan import PlanRequest, plan_test
from steadyband.steptest.meters import MeterSeries, compare_meters

TEMPLATES = ROOT / "src" / "steadyband" / "report"
KINDS = {
    "week": "week.html.j2",
    "week-empty": "week.html.j2",
    "block": "block.html.j2",
    "season": "history.html.j2",
    "session": "session.html.j2",
    "session-run": "session.html.j2",
    "route": "route.html.j2",
    "test": "test.html.j2",
    "test-stopped": "test.html.j2",
    "tests": "tests_over_time.html.j2",
    "meters": "meters.html.j2",
    "card": "card.html.j2",
    "plan": "plan.html.j2",
    "plan-foot": "plan.html.j2",
    "roster": "roster.html.j2",
}
"""The pages made here, and the template of each. `test_every_kind_is_made` holds this list to the templates folder."""
DRAWN = tuple(name for name in KINDS if name not in ("card", "plan", "plan-foot"))
"""The pages of the family with scripts; the others are sheets to print."""
MONDAY = date(2026, 1, 12)
STEADY = [0.93, 0.94, 0.92, 0.93, 0.94, 0.93, 0.92, 0.93, 0.93, 0.92]


def write_pages(place: Path) -> dict[str, Path]:
    """Every page as a file in `place`."""
    made = {}
    for name, text in _pages(place):
        made[name] = place / f"{name}.html"
        made[name].write_text(text, encoding="utf-8")
    return made


def _pages(place: Path) -> Iterator[tuple[str, str]]:
    review = week(hard_session())
    yield "week", week_page(review)
    yield "week-empty", week_page(replace(review, audits=(), sports=(), tests=(), changes=(), went_well=(), plan=()))
    yield from _seasons(place)
    yield from _ground()
    yield "roster", _roster(place / "coach")
    yield from _tests()


def made_block(place: Path) -> Review:
    """A block whose load creeps, with a session asked about and one too high."""
    sessions = [
        *series([*STEADY, *[0.985] * 4], first=MONDAY, shifts=(2.0,), hr_drift=3.0),
        session(MONDAY + timedelta(days=5), hour=17, guess="hard", in_band=None, agreement=None),
        session(MONDAY + timedelta(days=6), 1.02, in_band=False, codes=("too_high",), agreement=0.6),
    ]
    return review_block(folder(place), sorted(sessions, key=lambda item: item.audit.info.start))


def _seasons(place: Path) -> Iterator[tuple[str, str]]:
    block = made_block(place)
    yield "block", block_page(block)
    yield "season", history_page(history(folder(place), block.sessions))


def demo_session(name: str) -> Any:
    """A session of the demo folder."""
    (path,) = DEMO.glob(f"activities/*/{name}.*")
    return audit_file(path, open_folder(DEMO))[0]


def _ground() -> Iterator[tuple[str, str]]:
    hills = demo_session("2026-05-16-moor-tracks")
    yield "session", session_page(hills, repeat_climbs([hills]))
    yield "session-run", session_page(demo_session("2026-05-17-dune-run"))
    (path,) = DEMO.glob("activities/*/2026-05-16-moor-tracks.*")
    athlete, way = open_folder(DEMO), read_planned(path)
    bike = next(item for item in athlete.zone_sets if item.test.sport == "cycling")
    terrain = athlete.athlete.settings.terrain
    course = course_of(way.along_m, way.height_m, terrain)
    plan = plan_route(course, edges_for(bike, "power", None), "cycling", athlete.athlete.rider, terrain)
    yield "route", route_page(plan, way, Loads("W"), "By the test of 20 April 2026.", 300.0)


def _roster(place: Path) -> str:
    """Two invented athletes with the last week of the demo folder, and one folder that cannot be used."""
    for name in ("ada", "bo"):
        home = place / name
        shutil.copytree(DEMO / "tests", home / "tests")
        shutil.copytree(DEMO / "activities" / "2026-W20", home / "activities")
        (home / "athlete.toml").write_text(
            f'name = "{name.title()} (invented)"\ntime_zone = "Europe/Lisbon"\n', encoding="utf-8"
        )
    (place / "ada" / "activities" / "cut.fit").write_bytes(b"not a recording")
    (place / "cy").mkdir()
    (place / "cy" / "athlete.toml").write_text("name = 3", encoding="utf-8")
    page = place / "roster.html"
    seen = [look_after(home, Task(None, page)) for home in find_homes(place).homes]
    return roster_page(make_roster(place, [item.entry for item in seen]), seen, page)


def _tests() -> Iterator[tuple[str, str]]:
    later = zones([(load + 20, value, hr) for load, value, hr in BIKE], date=date(2026, 7, 1), analyser="another")
    yield "test", step_test_page(zones())
    yield "test-stopped", step_test_page(zones(baseline=(1.9,)))
    yield "tests", tests_page([zones(), later, foot_zones(), zones(baseline=(1.9,))])
    yield "meters", meters_page(made_meters())
    yield "card", card_page([zones(), no_easy_zones()], date(2026, 9, 1), StepTestSettings())
    yield "plan", plan_page(plan_test(PlanRequest("cycling", "W", 74, 200)))
    yield "plan-foot", plan_page(plan_test(PlanRequest("running", "km/h", None, 11.0)))


def made_meters() -> Any:
    """Two invented meters, one reading 6 W more."""
    rng = np.random.default_rng(3)
    base = np.repeat(rng.uniform(90, 260, 60), 60) + rng.normal(0, 10, 3600)
    return compare_meters(MeterSeries("trainer", 0, base), MeterSeries("pedals", 0, base + 6 + rng.normal(0, 2, 3600)))
