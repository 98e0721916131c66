"""The first month of somebody new: weeks named as people name them, recordings in the wrong place, exports that cannot be read."""

from __future__ import annotations

import json
import re
import zipfile
from datetime import date
from pathlib import Path

import pytest
from season_files import DAY, FIRST, make_folder, ride_bytes

from console import run
from steadyband.ground.errors import UsageError
from steadyband.review.weeks import day_of_week

TODAY = date(2026, 5, 4)  # a Monday


@pytest.mark.parametrize(
    ("text", "week"),
    [
        ("2026-W17", (2026, 17)),
        ("2026W17", (2026, 17)),
        ("2026-w7", (2026, 7)),
        ("last", (2026, 18)),
        ("This", (2026, 19)),
        ("2026-04-24", (2026, 17)),
        ("24.4.2026", (2026, 17)),
        ("24 April 2026", (2026, 17)),
    ],
)
def test_a_week_is_named_as_people_do(text: str, week: tuple[int, int]) -> None:
    assert day_of_week(text, TODAY).isocalendar()[:2] == week


@pytest.mark.parametrize("text", ["2026-W60", "3/4/2026", "soon", "2026-02-30", ""])
def test_what_names_no_week_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        day_of_week(text, TODAY)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rides on the evenings of 24 to 28 April 2026 (weeks 17 and 18), nineteen files that are none, and three in the wrong place."""
    place = make_folder(tmp_path_factory.mktemp("month") / "home", rides=5, seconds=120)
    for number in range(19):
        (place / "activities" / f"export-{number:02d}.fit").write_bytes(b"\x0e\x20 no recording")
    for number in range(2):
        (place / "tests" / f"stray-{number}.fit").write_bytes(ride_bytes(FIRST + DAY * number, 120))
    with zipfile.ZipFile(place / "shared.zip", "w") as archive:
        archive.writestr("ride.gpx", "<gpx/>")
    return place


def told(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_nineteen_files_are_one_line_with_a_fold_once(home: Path) -> None:
    first, again, other = (run("week", home, "--ending", week) for week in ("2026-W18", "2026-W18", "2026-W17"))
    line = "19 files could not be read: export-00.fit, export-01.fit, export-02.fit and 16 more."
    assert (first.returncode, again.returncode, other.returncode) == (1, 1, 1)
    assert line in told(first.stdout)
    assert line in told(again.stdout)
    assert "export-" not in other.stdout
    assert other.stderr.strip().splitlines()[-1] == "19 files could not be read; week-2026-W18.html lists them."
    pages = {week: (home / "reports" / f"week-{week}.html").read_text() for week in ("2026-W17", "2026-W18")}
    assert f"<summary>{line}</summary>" in pages["2026-W18"]
    assert pages["2026-W18"].count("export-07.fit") == 1
    assert "export-" not in pages["2026-W17"]
    assert "19 files on the page of 2026-W18" in pages["2026-W17"]


def test_recordings_in_the_wrong_folder_are_named(home: Path) -> None:
    done = run("week", home, "--ending", "2026-W18")
    assert "Found 2 recordings in tests/: stray-0.fit, stray-1.fit." in told(done.stdout)
    assert "Found 1 recording in the athlete folder itself: shared.zip." in told(done.stdout)
    assert "Found 2 recordings in tests/" in (home / "reports" / "week-2026-W18.html").read_text()
    found = json.loads(run("week", home, "--ending", "2026-W18", "--format", "json").stdout)
    assert any("stray-0.fit" in line for line in found["left_out"])


def test_an_empty_folder_says_where_the_recordings_lie(tmp_path: Path) -> None:
    place = make_folder(tmp_path / "home", rides=0)
    (place / "tests" / "ride.fit").write_bytes(ride_bytes(FIRST, 120))
    done = run("week", place)
    assert done.returncode == 2
    assert "Found 1 recording in tests/: ride.fit." in done.stderr
    assert "no session could be read" in done.stderr
