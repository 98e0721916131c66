"""The commands about the ground, as a user meets them."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from conftest import DEMO
from steadyband.cli.terrain import terrain_app
from steadyband.ground.errors import UsageError

HILLS = "activities/2026-W20/2026-05-16-moor-tracks.fit"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(terrain_app, [str(item) for item in arguments], env={"COLUMNS": "160"})


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's athlete with two of its recordings, in a place of its own."""
    home = tmp_path_factory.mktemp("athlete")
    for name in ("tests", "activities/2026-W20"):
        (home / name).mkdir(parents=True, exist_ok=True)
    for path in (DEMO / "tests").iterdir():
        shutil.copy(path, home / "tests")
    for name in (HILLS, "activities/2026-W20/2026-05-17-dune-run.fit"):
        shutil.copy(DEMO / name, home / name)
    text = (DEMO / "athlete.toml").read_text(encoding="utf-8").replace("../reports", "reports")
    (home / "athlete.toml").write_text(text, encoding="utf-8")
    return home


def test_session_writes_its_page(folder: Path) -> None:
    done = run("session", folder / HILLS)
    assert done.exit_code == 0, done.output
    page = folder / "reports/session-2026-05-16-moor-tracks.html"
    assert done.output.strip() == f"Page: {page.resolve()}"
    text = page.read_text(encoding="utf-8")
    assert "The same hills before" in text
    assert 'id="plan"' in text


def test_without_positions_no_plan_is_drawn(folder: Path) -> None:
    assert run("session", folder / HILLS, "--no-positions", "--no-hills").exit_code == 0
    text = (folder / "reports/session-2026-05-16-moor-tracks.html").read_text(encoding="utf-8")
    assert 'id="plan"' not in text
    assert 'id="profile"' in text


def test_climbs_for_people_and_for_programs(folder: Path) -> None:
    shown = run("climbs", folder)
    assert shown.exit_code == 0, shown.output
    assert "Climb 1: 1.9 km at 5.1 %" in shown.output
    assert "Smoother than before" in shown.output
    found = json.loads(run("climbs", folder, "--format", "json").output)
    assert [len(climb["efforts"]) for climb in found["climbs"]] == [2, 2, 2, 2]
    assert not {"start_lat", "lat", "lon"} & set(found["climbs"][0]["efforts"][0])


def test_a_route_by_bike_and_on_foot(folder: Path, tmp_path: Path) -> None:
    page = tmp_path / "route.html"
    done = run("route", folder / HILLS, "--out", page)
    assert done.exit_code == 0, done.output
    assert "the band can be held on all but" in done.output
    assert re.search(r"needs (4[3-9]|5\d) teeth", done.output)  # the bike has 42
    assert "Wind" in done.output
    assert page.exists()
    found = json.loads(run("route", folder / HILLS, "--by", "foot", "--format", "json", "--out", page).output)
    assert found["sport"] == "running"
    assert found["paces"][0]["seconds"] < found["paces"][1]["seconds"]
    assert found["walk_up_to"] > found["limit"]


@pytest.mark.parametrize("command", ["session", "route"])
def test_a_file_without_an_athlete_around_it(command: str, tmp_path: Path) -> None:
    lonely = tmp_path / "way.gpx"
    lonely.write_text("<gpx></gpx>", encoding="utf-8")
    fault = run(command, lonely).exception
    assert isinstance(fault, UsageError)
    assert "--athlete" in str(fault)


def test_a_sport_without_a_test(folder: Path, tmp_path: Path) -> None:
    home = tmp_path / "one"
    shutil.copytree(folder, home, ignore=shutil.ignore_patterns("*run*"))
    fault = run("route", home / HILLS, "--by", "foot").exception
    assert isinstance(fault, UsageError)
    assert "no step test for running" in str(fault)
