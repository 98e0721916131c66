"""bike and cycling, foot and running mean the same wherever a sport is named."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import console
from conftest import ROOT
from steadyband.athlete.athlete import parse_athlete
from steadyband.athlete.labels import read_labels
from steadyband.athlete.training_plan import read_plan
from steadyband.steptest import load_test

sys.path.insert(0, str(ROOT / "tests" / "steptest"))
from field_data import write_test

PAIRS = [("bike", "cycling"), ("cycling", "cycling"), ("foot", "running"), ("running", "running")]


@pytest.mark.parametrize(("word", "sport"), PAIRS)
def test_tables_of_the_folder(tmp_path: Path, word: str, sport: str) -> None:
    (tmp_path / "sessions.csv").write_text(f"date,intent,sport\n2026-05-14,easy,{word}\n")
    (tmp_path / "plan.csv").write_text(f"sport,band,hours\n{word},easy,4\n")
    assert read_labels(tmp_path / "sessions.csv")[0].sport == sport
    assert read_plan(tmp_path / "plan.csv")[0].sport == sport
    athlete = parse_athlete({"thresholds": {word: "5:05"}, "plan": {word: {"easy": 4}}}, tmp_path, "athlete.toml")
    assert list(athlete.thresholds) == [sport]
    assert athlete.plan[0].sport == sport


@pytest.mark.parametrize("word", ["bike", "cycling"])
def test_test_files(tmp_path: Path, word: str) -> None:
    file = write_test(tmp_path, "2026-04-20-bike.toml")
    file.write_text(file.read_text().replace('"cycling"', f'"{word}"'))
    assert load_test(file).sport == "cycling"


@pytest.mark.parametrize(("word", "sport"), PAIRS)
def test_options(tmp_path: Path, word: str, sport: str) -> None:
    steady = "145" if sport == "cycling" else "9.2"
    done = console.run("plan-test", "--sport", word, "--mass", "58", "--steady", steady, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert ("by bike" in done.stdout) is (sport == "cycling")
