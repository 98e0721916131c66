"""A clock that cannot be right never chooses the week, nor opens the season."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from console import run
from demo_home import copy_read
from steadyband.athlete.astray import astray

TODAY = date(2026, 5, 20)
DAYS = [date(2026, 5, day) for day in range(1, 18)]


@pytest.mark.parametrize(
    ("odd", "named"),
    [
        ([], []),
        ([date(1901, 1, 1)], [17]),
        ([date(1989, 12, 31), date(2031, 6, 1)], [17, 18]),
        ([TODAY + timedelta(days=3)], []),  # a computer whose clock is some days behind
    ],
)
def test_what_is_set_aside(odd: list[date], named: list[int]) -> None:
    assert sorted(astray([*DAYS, *odd], TODAY)) == named


def test_where_every_session_is_in_the_future_the_computer_is_wrong() -> None:
    assert not astray(DAYS, date(2020, 1, 1))


def test_the_week_is_the_latest_that_can_be_and_names_what_is_set_aside(read_demo: Path, tmp_path: Path) -> None:
    home = copy_read(read_demo, tmp_path / "demo")
    phone = next(home.glob("activities/*/*phone-ride.gpx"))
    text = phone.read_text(encoding="utf-8")
    (home / "activities" / "later.gpx").write_text(text.replace("2026-05-03", "2071-05-03"), encoding="utf-8")
    done = run("week", str(home))
    assert done.returncode == 0, done.stderr
    assert "later.gpx: its clock says 3 May 2071, which cannot be; set aside" in " ".join(done.stderr.split())
    page = (home / "reports" / "week-2026-W20.html").read_text(encoding="utf-8")
    assert "1 recording with a clock that cannot be right is set aside" in page
    assert "later.gpx: its clock says 3 May 2071" in page
