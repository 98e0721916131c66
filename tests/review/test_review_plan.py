"""plan.csv and [plan] of athlete.toml, and the week against them."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyband.athlete.athlete import read_athlete
from steadyband.athlete.model import PlanRow
from steadyband.athlete.training_plan import parse_plan, plan_of_week, read_plan
from steadyband.ground.errors import AthleteFileError
from steadyband.review.model import SportHours
from steadyband.review.plan_met import against_plan
from steadyband.review.week_sentences import plan_kept, plan_missed, plan_text


def write(folder: Path, text: str) -> Path:
    path = folder / "plan.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_rows_with_and_without_a_week(tmp_path: Path) -> None:
    rows = read_plan(
        write(tmp_path, "week,sport,band,hours\n,cycling,easy,6\n2026-W20,cycling,easy,4\n,cycling,heavy,0.5\n")
    )
    assert rows[0] == PlanRow(None, "cycling", "easy", 6.0)
    assert [row.hours for row in plan_of_week(rows, "2026-W20")] == [4.0, 0.5]
    assert [row.hours for row in plan_of_week(rows, "2026-W21")] == [6.0, 0.5]
    assert read_plan(tmp_path / "absent.csv") == ()


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("sport,band\ncycling,easy\n", ["line 1", "hours"]),
        ("sport,band,hours,colour\n", ["line 1", "colour"]),
        ("sport,band,hours\ncycling,lazy,3\n", ["line 2, band", "lazy", "easy"]),
        ("sport,band,hours\ncycling,easy,many\n", ["line 2, hours", "many"]),
        ("sport,band,hours\ncycling,easy,-1\n", ["line 2, hours", "-1"]),
        ("sport,band,hours\ncycling,easy,nan\n", ["line 2, hours", "nan"]),
        ("sport,band,hours\n,easy,3\n", ["line 2, sport"]),
        ("week,sport,band,hours\n20,cycling,easy,3\n", ["line 2, week", "2026-W20", "'20'"]),
        ("week,sport,band,hours\n2025-W53,cycling,easy,3\n", ["line 2, week", "2025-W53"]),
        ("sport,band,hours\ncycling,easy,3,4\n", ["line 2", "more cells"]),
        ("sport,band,hours\ncycling,easy,3\ncycling,easy,4\n", ["line 3", "twice"]),
    ],
)
def test_faults_name_line_and_value(tmp_path: Path, text: str, parts: list[str]) -> None:
    with pytest.raises(AthleteFileError) as caught:
        read_plan(write(tmp_path, text))
    assert all(part in str(caught.value) for part in ["plan.csv", *parts]), str(caught.value)


def test_the_53rd_week_of_a_long_year_is_one(tmp_path: Path) -> None:
    """Published: ISO 8601, from memory: 2026 has 53 weeks, 2025 has 52 (the fault above)."""
    assert read_plan(write(tmp_path, "week,sport,band,hours\n2026-W53,cycling,easy,3\n"))[0].week == "2026-W53"


def test_plan_in_the_athlete_file(tmp_path: Path) -> None:
    path = tmp_path / "athlete.toml"
    path.write_text("[plan.cycling]\neasy = 6\nheavy = 0.5\n[plan.running]\ntotal = 3\n", encoding="utf-8")
    assert [(row.sport, row.band, row.hours) for row in read_athlete(path).plan] == [
        ("cycling", "easy", 6.0), ("cycling", "heavy", 0.5), ("running", "total", 3.0),
    ]  # fmt: skip
    with pytest.raises(AthleteFileError, match=r"plan\.cycling"):
        parse_plan({"cycling": 6}, "athlete.toml")
    with pytest.raises(AthleteFileError, match=r"plan\.cycling\.easy"):
        parse_plan({"cycling": {"easy": True}}, "athlete.toml")


def test_week_against_the_plan() -> None:
    rows = parse_plan({"cycling": {"easy": 6, "steady": 2, "heavy": 0.5, "total": 9}, "running": {"easy": 1}}, "x")
    done = [SportHours("cycling", 4, 9 * 3600, {"easy": 20000, "steady": 7200, "heavy": 1801, "severe": 0}, 3399)]
    found = {(item.sport, item.band): item for item in against_plan(rows, "2026-W20", done, 0.10)}
    # By hand: 20000 s are 5.56 h, within a tenth of 6; 1801 s are over half an hour; running was not done.
    assert {key: item.met for key, item in found.items()} == {
        ("cycling", "easy"): True,
        ("cycling", "steady"): True,
        ("cycling", "heavy"): False,
        ("cycling", "total"): True,
        ("running", "easy"): False,
    }
    assert found["cycling", "heavy"].unknown == pytest.approx(3399 / 3600)
    assert found["cycling", "total"].unknown == 0
    text = plan_missed(list(found.values()))[0].text
    assert "cycling heavy 30 min, planned at most 30 min" in text
    assert "57 min of cycling carry no band" in text
    assert plan_kept(list(found.values())) == ()
    assert plan_text(found["cycling", "easy"]) == "cycling easy 5 h 33, planned 6 h 00"
