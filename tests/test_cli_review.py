"""block, history, export, label and watch as a user meets them."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import signal
import subprocess
import time
from pathlib import Path

import polars as pl
import pytest

from conftest import DEMO, recordings_dir
from console import PLAIN, command, run
from demo_home import copy_read

needs_demo = pytest.mark.skipif(not (DEMO / "athlete.toml").exists(), reason="no demo folder")


@pytest.fixture
def home(read_demo: Path, tmp_path: Path) -> Path:
    """A copy of the demo folder that keeps its reports to itself; its recordings were read before."""
    return copy_read(read_demo, tmp_path)


@pytest.fixture
def unread(home: Path) -> Path:
    """The same as it is before any command."""
    shutil.rmtree(home / ".steadyband")
    return home


@pytest.mark.parametrize("name", ["block", "history", "export", "label", "watch"])
def test_every_command_has_help_with_an_example(name: str) -> None:
    assert name in run("--help").stdout
    assert f"Example: steadyband {name}" in run(name, "--help").stdout


@needs_demo
def test_block_for_people_and_as_json(home: Path) -> None:
    text = run("block", home)
    assert text.returncode == 0, text.stderr
    assert max(map(len, text.stdout.splitlines()[:-1])) <= 80
    page = home / "reports" / "block-2026-04-20-to-2026-05-17.html"
    assert page.is_file()
    found = json.loads(run("block", home, "--format", "json").stdout)
    assert [week["week"] for week in found["weeks"]] == ["2026-W17", "2026-W18", "2026-W19", "2026-W20"]
    assert found["page"] == str(page.resolve())


@needs_demo
def test_the_planted_creep_of_the_demo_is_found_in_its_week_and_not_before(home: Path) -> None:
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
    planted = truth["steady_block"]
    for ending, told in (("2026-05-10", False), ("2026-05-17", True)):
        found = json.loads(run("block", home, "--ending", ending, "--format", "json").stdout)
        raised = [item for item in found["trends"] if item["raised"] and item["sport"] == "cycling"]
        assert bool(raised) is told
    assert {Path(name).name for name in planted["files"]} <= {item["file"] for item in raised[0]["sessions"]}
    assert 100 * raised[0]["rise"] == pytest.approx(planted["rise_percent"], abs=1.0)


@needs_demo
def test_history_and_export(home: Path) -> None:
    done = run("history", home)
    assert done.returncode == 0, done.stderr
    assert (home / "reports" / "history.html").is_file()
    assert "2026-W20" in done.stdout
    table = pl.read_csv(io.StringIO(run("export", home).stdout))
    out = home / "sessions.parquet"
    assert run("export", home, "--format", "parquet", "--out", out).returncode == 0
    copies = 1  # the hour on the trainer as the pedals read it
    assert pl.read_parquet(out).height == table.height == len(list((home / "activities").rglob("*.*"))) - copies
    refused = run("export", home, "--format", "parquet")
    assert (refused.returncode, "--out" in refused.stderr) == (2, True)


@needs_demo
def test_label_shows_guesses_and_stores_only_answers(home: Path) -> None:
    (home / "sessions.csv").write_bytes(b"date,time,intent,sport,note\n2026-04-23,,easy,cycling,kept as it is\n")
    before = (home / "sessions.csv").read_bytes()
    stopped = run("label", home, typed="q\n")
    assert (stopped.returncode, (home / "sessions.csv").read_bytes()) == (0, before)
    assert "May 2026" in re.sub(r"\s+", " ", stopped.stdout).split("looks like")[0]
    week = run("label", home, "--ending", "2026-W18", typed="q\n")
    assert "looks like hard: 4 efforts of about 4 min" in re.sub(r"\s+", " ", week.stdout)
    done = run("label", home, typed="s\n" * 6 + "hard felt it\n\nq\n")
    assert "2 stored" in done.stdout
    after = (home / "sessions.csv").read_bytes()
    assert after.startswith(before)
    noted, guessed = after.removeprefix(before).decode().splitlines()
    assert noted.endswith(",felt it")
    assert noted.split(",")[2] == "hard"
    assert guessed.split(",")[2] in ("easy", "endurance", "hard")
    assert done.stdout.count("(Enter)") >= 8


@needs_demo
def test_block_settings_in_the_athlete_file_change_what_the_block_says(home: Path) -> None:
    before = json.loads(run("block", home, "--format", "json").stdout)
    with (home / "athlete.toml").open("a", encoding="utf-8") as file:
        file.write("\n[settings.block]\nfit_days = 7\ntrend_days = 14\n")
    after = json.loads(run("block", home, "--format", "json").stdout)
    fits = [next(item for item in found["fits"] if item["sport"] == "cycling") for found in (before, after)]
    assert fits[0]["fit"] == "fits"
    assert fits[1]["fit"] == "cannot tell"
    assert "of the last 7 days' sessions" in fits[1]["reason"]
    assert [any(item["raised"] for item in found["trends"]) for found in (before, after)] == [True, False]
    shown = run("settings", home).stdout.splitlines()
    for name, value in (("fit_days", "7 days"), ("trend_days", "14 days")):
        assert any(line.split()[:1] == [name] and value in line for line in shown), name


@needs_demo
def test_the_hot_ride_of_the_demo_is_named_as_hot(home: Path) -> None:
    """The demo's ride of 7 May is planted at 33 to 37 degrees, every other one at 14 to 23."""
    found = json.loads(run("block", home, "--format", "json").stdout)
    fit = next(item for item in found["fits"] if item["sport"] == "cycling")
    assert "1 hot day left out (7 May, 35 °C)" in fit["reason"]
    assert fit["intervals"][0]["hot_sessions"] == 0
    assert fit["intervals"][0]["sessions_with_temperature"] == fit["intervals"][0]["sessions"]
    table = pl.read_csv(io.StringIO(run("export", home).stdout)).filter(pl.col("temperature_c") > 25)
    assert table["file"].to_list() == ["2026-05-07-heat-ride.fit"]
    assert "It was 35 °C by the device" in table["findings_text"][0]


@needs_demo
def test_week_shows_hours_against_the_plan_in_terminal_page_and_json(home: Path) -> None:
    (home / "plan.csv").write_text(
        "week,sport,band,hours\n,cycling,heavy,0.25\n2026-W20,cycling,total,6\n", encoding="utf-8"
    )
    with (home / "athlete.toml").open("a", encoding="utf-8") as file:
        file.write("\n[plan.running]\ntotal = 2\n")
    found = json.loads(run("week", home, "--format", "json").stdout)
    told = {(item["sport"], item["band"]): item for item in found["plan"]}
    assert {key: item["planned_h"] for key, item in told.items()} == {
        ("running", "total"): 2.0, ("cycling", "heavy"): 0.25, ("cycling", "total"): 6.0,
    }  # fmt: skip
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
    planted: dict[str, int] = {}
    for item in truth["sessions"]:
        if "2026-05-11" <= item["local_date"] <= "2026-05-17":
            planted[item["sport"]] = planted.get(item["sport"], 0) + item["seconds"]["active"]
    for sport in ("cycling", "running"):
        assert told[sport, "total"]["done_h"] == pytest.approx(planted[sport] / 3600, abs=0.01)
    text, page = run("week", home).stdout, Path(found["page"]).read_text(encoding="utf-8")
    for shown in (text, page):
        assert "Against the plan" in shown
        assert "at most 15 min" in shown
        assert "6 h 00" in shown
    assert "planned at most 15 min" in " ".join(text.split())
    (home / "plan.csv").write_text("sport,band,hours\ncycling,lazy,3\n", encoding="utf-8")
    refused = run("week", home)
    assert (refused.returncode, "line 2, band" in refused.stderr, "Traceback" in refused.stderr) == (2, True, False)


@needs_demo
@pytest.mark.parametrize("at_work", [False, True])
@pytest.mark.kill
def test_watch_ends_with_ctrl_c(unread: Path, at_work: bool) -> None:
    """SIGINT while it waits, and while a ride has just arrived: no traceback, exit status 0, no half page."""
    home = unread
    ride = next((home / "activities").rglob("2026-05-12*.fit"))
    elsewhere = shutil.move(ride, home / "kept.fit")
    process = subprocess.Popen(
        command("watch", home), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ | PLAIN
    )
    try:
        assert process.stderr is not None
        assert "watching" in process.stderr.readline()
        if at_work:
            shutil.copy(elsewhere, ride)
            time.sleep(3.5)  # settled after 2 s, read a moment later
        process.send_signal(signal.SIGINT)
        out, errors = process.communicate(timeout=30)
    finally:
        process.kill()
    assert process.returncode == 0
    assert errors.strip() == "stopped."
    page = home / "reports" / "week-2026-W20.html"
    assert page.exists() == bool(out)
    if page.exists():
        assert re.search(r"</html>(<!-- whole \w+ -->)?$", page.read_text(encoding="utf-8").rstrip())


@needs_demo
@pytest.mark.kill
def test_watch_rewrites_the_week_and_stops_cleanly(unread: Path) -> None:
    home = unread
    ride = next((home / "activities").rglob("2026-05-12*.fit"))
    elsewhere = shutil.move(ride, home / "kept.fit")
    process = subprocess.Popen(
        command("watch", home), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ | PLAIN
    )
    try:
        assert process.stderr is not None
        assert process.stdout is not None
        assert "watching" in process.stderr.readline()
        time.sleep(1)
        (home / "activities" / "broken.fit").write_bytes(b"not a recording")
        shutil.copy(elsewhere, ride)
        line = process.stdout.readline()
        process.send_signal(signal.SIGTERM)
        _, errors = process.communicate(timeout=30)
    finally:
        process.kill()
    assert line.startswith("Two of five endurance sessions held the band.")
    assert "week-2026-W20.html" in line
    assert (home / "reports" / "week-2026-W20.html").is_file()
    assert process.returncode == 0
    assert "broken.fit" in errors
    assert errors.strip().endswith("stopped.")
    assert "Traceback" not in errors


def test_faults_are_sentences(tmp_path: Path) -> None:
    for name in ("block", "history", "export", "label", "watch"):
        done = run(name, tmp_path)
        assert done.returncode == 2
        assert "steadyband init" in done.stderr
        assert "Traceback" not in done.stderr
    (tmp_path / "athlete.toml").write_text("", encoding="utf-8")
    (tmp_path / "activities").mkdir()
    empty = run("block", tmp_path)
    assert (empty.returncode, "no session could be read" in empty.stderr) == (2, True)


def test_a_folder_of_odd_dates_and_devices_gives_pages(tmp_path: Path) -> None:
    folder = recordings_dir()
    if folder is None:
        pytest.skip("no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)")
    text = f'time_zone = "Europe/Lisbon"\nactivities = {json.dumps(str(folder.resolve()))}\n'
    (tmp_path / "athlete.toml").write_text(text, encoding="utf-8")
    for name in ("history", "block"):
        done = run(name, tmp_path)
        assert done.returncode == 1
        assert "Traceback" not in done.stderr
        assert "files could not be read" in done.stderr
    assert len(list((tmp_path / "reports").glob("*.html"))) == 2
