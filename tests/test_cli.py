"""The command line as a user meets it: output, exit status, errors of a line or two, never a traceback."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from conftest import DEMO, recording_files
from console import run
from demo_home import copy_demo

BIKE = max((DEMO / "tests").glob("*bike*.toml"))


@pytest.fixture(scope="module")
def demo_ride() -> Path:
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
    return DEMO / "activities" / next(name for name in _files(truth) if name.endswith(".fit"))


def _files(truth: dict[str, object]) -> list[str]:
    sessions = truth["sessions"]
    assert isinstance(sessions, list)
    return [item["file"] for item in sessions if item["sport"] == "cycling"]


def assert_sentence(done: subprocess.CompletedProcess[str], status: int, *parts: str) -> None:
    """Exit status, no traceback, at most three lines, and the parts named."""
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    assert 1 <= len(done.stderr.strip().splitlines()) <= 3, done.stderr
    for part in parts:
        assert part in done.stderr


def test_every_command_has_help_with_an_example() -> None:
    names = ["zones", "audit", "week", "init", "schema", "settings"]
    overview = run("--help").stdout
    for name in names:
        assert name in overview
        assert "Example: steadyband" in run(name, "--help").stdout


def test_zones_for_people_and_as_json() -> None:
    text = run("zones", BIKE)
    assert text.returncode == 0
    assert max(map(len, text.stdout.splitlines())) <= 80
    edges = json.loads(run("zones", BIKE, "--format", "json").stdout)["edges"]
    for name in ("floor", "target_top", "ceiling"):
        assert f"{edges[name]['value']:.0f} W" in text.stdout


def test_audit_lines_validate_against_the_printed_schema(demo_ride: Path) -> None:
    schema = json.loads(run("schema").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    done = run("audit", demo_ride, "--format", "json")
    lines = done.stdout.splitlines()
    assert (done.returncode, len(lines)) == (0, 1)
    jsonschema.validate(json.loads(lines[0]), schema)


def test_a_named_test_judges_a_session_whatever_the_dates(demo_ride: Path) -> None:
    older, plain = (
        DEMO / "tests" / "2026-02-09-bike.toml",
        json.loads(run("audit", demo_ride, "--format", "json").stdout),
    )
    done = run("audit", demo_ride, "--test", older, "--format", "json")
    assert (done.returncode, done.stderr) == (0, "")
    zones, edges = json.loads(done.stdout)["zones"], json.loads(run("zones", older, "--format", "json").stdout)["edges"]
    assert (plain["zones"]["test"], zones["test"]) == ("2026-04-20-bike.toml", older.name)
    assert zones["ceiling"] == pytest.approx(edges["ceiling"]["value"], abs=0.06)
    assert "2026-02-09" in run("audit", demo_ride, "--test", older).stdout
    assert_sentence(run("audit", demo_ride, "--test", DEMO / "tests" / "none.toml"), 2, "none.toml")


def test_audit_for_people_fits_80_columns(demo_ride: Path) -> None:
    done = run("audit", demo_ride)
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_positions_can_be_left_out() -> None:
    hilly = DEMO / "activities" / "2026-W20" / "2026-05-16-moor-tracks.fit"
    shown, hidden = (
        json.loads(run("audit", hilly, "--format", "json", *more).stdout)["surges"]["events"]
        for more in ([], ["--no-positions"])
    )
    assert any(event["lat"] is not None for event in shown)
    assert all(event["lat"] is None and event["lon"] is None for event in hidden)


def test_explain_says_how_files_were_read(demo_ride: Path) -> None:
    done = run("audit", demo_ride, "--format", "json", "--explain")
    assert done.stderr.splitlines() == [
        f"{demo_ride.name}: read by the columnar reader.",
        "0 of 1 files went through the reference library.",
    ]


def test_csv_and_parquet_hold_one_row_a_session(demo_ride: Path, tmp_path: Path) -> None:
    import polars as pl

    rows = list(csv.DictReader(io.StringIO(run("audit", demo_ride, "--format", "csv").stdout)))
    out = tmp_path / "sessions.parquet"
    assert run("audit", demo_ride, "--format", "parquet", "--out", out).returncode == 0
    frame = pl.read_parquet(out)
    assert (len(rows), frame.height) == (1, 1)
    assert list(rows[0]) == frame.columns
    assert_sentence(run("audit", demo_ride, "--format", "parquet"), 2, "--out")


def test_good_files_are_done_beside_an_unreadable_one(demo_ride: Path, tmp_path: Path) -> None:
    bad = tmp_path / "notes.fit"
    bad.write_text("not a recording", encoding="utf-8")
    done = run("audit", bad, demo_ride, "--tests", BIKE, "--format", "json")
    assert done.returncode == 1
    assert len(done.stdout.splitlines()) == 1
    assert done.stderr.strip().splitlines()[-1] == "1 of 2 files could not be read."
    assert "Traceback" not in done.stderr


def test_no_test_anywhere_is_usage(demo_ride: Path, tmp_path: Path) -> None:
    alone = shutil.copy(demo_ride, tmp_path / "ride.fit")
    assert_sentence(run("audit", alone), 2, "athlete.toml", "--test FILE")


def test_a_missing_file_and_a_faulty_test(tmp_path: Path) -> None:
    assert_sentence(run("audit", tmp_path / "no.fit", "--tests", BIKE), 1, "no.fit")
    faulty = tmp_path / "faulty.toml"
    faulty.write_text('date = 2026-04-20\nsport = "cycling"\nload_unit = \n', encoding="utf-8")
    assert_sentence(run("zones", faulty), 2, "faulty.toml", "line 3")
    assert_sentence(run("audit", tmp_path / "no.fit", "--tests", faulty), 2, "faulty.toml")


def test_no_test_of_the_sport_is_not_judged(demo_ride: Path, tmp_path: Path) -> None:
    runs = next(iter(sorted((DEMO / "tests").glob("*run*.toml"))))
    found = json.loads(run("audit", demo_ride, "--tests", runs, "--format", "json").stdout)
    assert found["verdict"]["in_band"] is None
    assert [item["code"] for item in found["verdict"]["findings"]] == ["not_judged"]
    assert "cycling" in found["verdict"]["findings"][0]["text"]


def test_init_then_week_says_what_is_missing(tmp_path: Path) -> None:
    assert run("init", tmp_path / "mine").returncode == 0
    assert_sentence(run("week", tmp_path / "mine"), 2, "activities")
    assert_sentence(run("init", tmp_path / "mine"), 2, "expected a new folder")
    assert_sentence(run("week", tmp_path), 2, "steadyband init")


def test_week_of_a_copied_demo(tmp_path: Path) -> None:
    """The whole job on a copy: page written into its own reports folder, recordings untouched, JSON without a page of text."""
    home = copy_demo(tmp_path / "athlete")
    before = {path: path.read_bytes() for path in (home / "activities").rglob("*.*")}
    done = run("week", home, "--format", "json")
    found = json.loads(done.stdout)
    page = Path(found["page"])
    assert page.parent == home / "reports"
    assert found["week"] == "2026-W20"
    assert found["answer"] in page.read_text(encoding="utf-8").replace("&#39;", "'")
    assert {path: path.read_bytes() for path in before} == before
    assert_sentence(run("week", home, "--ending", "2020-01-01"), 2, "no session in the week")


@pytest.mark.parametrize("path", recording_files("fit_other"), ids=lambda path: path.name)
def test_other_fit_files_are_refused_in_a_sentence(path: Path) -> None:
    assert_sentence(run("audit", path, "--tests", BIKE), 1, path.name)


WARNS = """
import subprocess, sys, typer, warnings
from steadyband.cli.errors import run
app = typer.Typer()
@app.command()
def one() -> None:
    warnings.warn("made up, here")
    subprocess.run([sys.executable, "-c", "import warnings; warnings.warn('made up, there')"])
    print("done")
sys.argv = ["x"]
run(app)
"""


@pytest.mark.parametrize(("asked", "shown"), [([], False), (["-W", "default"], True)])
def test_no_warning_of_a_library_reaches_a_user(asked: list[str], shown: bool) -> None:
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONWARNINGS"}
    done = subprocess.run(
        [sys.executable, *asked, "-c", WARNS], capture_output=True, text=True, env=clean, check=False, timeout=60
    )
    assert done.stdout == "done\n", done.stderr
    assert ("made up, here" in done.stderr) is shown
    assert ("made up" in done.stderr) is shown
