"""The starter folder: what it explains in comments works when the comment signs go."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from steadyband.athlete.athlete import read_athlete
from steadyband.athlete.starter import write_starter

COMMENTED = re.compile(r"^# (?=\[|[a-z_]+ = )", re.MULTILINE)


def uncommented(path: Path) -> str:
    """Every commented line of TOML made a line of TOML."""
    return COMMENTED.sub("", path.read_text(encoding="utf-8"))


def test_the_starter_as_it_comes_plans_nothing(tmp_path: Path) -> None:
    write_starter(tmp_path)
    assert read_athlete(tmp_path / "athlete.toml").plan == ()


def test_the_starter_parses_with_every_line_uncommented(tmp_path: Path) -> None:
    write_starter(tmp_path)
    path = tmp_path / "athlete.toml"
    text = uncommented(path)
    assert not re.search(r"^# *[a-z_]+ *=", text, re.MULTILINE)
    path.write_text(text, encoding="utf-8")
    found, table = read_athlete(path), tomllib.loads(text)
    assert [(row.sport, row.band, row.hours) for row in found.plan] == [
        ("cycling", "easy", 6.0), ("cycling", "steady", 2.0), ("cycling", "heavy", 0.5), ("running", "total", 2.0),
    ]  # fmt: skip
    assert {row.week for row in found.plan} == {None}
    assert found.rider.mass_kg == table["body"]["mass_kg"] + table["bike"]["mass_kg"]
    assert found.settings.block.hot_c == 25.0


def test_the_line_of_plan_csv_that_the_starter_shows_is_one(tmp_path: Path) -> None:
    from steadyband.athlete.training_plan import read_plan

    write_starter(tmp_path)
    text = (tmp_path / "athlete.toml").read_text(encoding="utf-8")
    head = re.search(r"columns (week,[a-z,]+) ", text)
    line = re.search(r"^# (\d{4}-W\d\d,\S+)", text, re.MULTILINE)
    assert head
    assert line
    (tmp_path / "plan.csv").write_text(f"{head[1]}\n{line[1]}\n", encoding="utf-8")
    (row,) = read_plan(tmp_path / "plan.csv")
    assert (row.week, row.sport, row.band, row.hours) == ("2026-W20", "cycling", "easy", 4.0)
