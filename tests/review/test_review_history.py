"""The season, frames and export; local weeks as pandas counts them."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest
from many_sessions import folder, session

from steadyband.athlete.season import load_season
from steadyband.ground.errors import NothingToReviewError
from steadyband.review.frames import sessions_frame, weeks
from steadyband.review.history import history
from steadyband.review.model import Gap

GPX = """<?xml version="1.0"?><gpx version="1.1" creator="made up" xmlns="http://www.topografix.com/GPX/1/1"><trk>
<type>cycling</type><trkseg>{points}</trkseg></trk></gpx>"""
POINT = '<trkpt lat="{lat:.6f}" lon="-9.1"><ele>10</ele><time>{time}</time></trkpt>'


def write_gpx(path: Path, start: datetime, seconds: int = 120) -> Path:
    points = "".join(
        POINT.format(lat=38.7 + n * 5e-5, time=(start + timedelta(seconds=n)).strftime("%Y-%m-%dT%H:%M:%SZ"))
        for n in range(seconds)
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(GPX.format(points=points), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("start", "zone"),
    [
        ("2026-01-04T23:30", "Pacific/Auckland"),  # Sunday in London, Monday of the next week in Auckland
        ("2026-01-05T00:30", "America/Los_Angeles"),  # Monday in London, still Sunday there
        ("2026-01-04T23:59", "UTC"),
        ("2026-01-05T00:00", "UTC"),
        ("2026-03-29T00:59", "Europe/Lisbon"),  # clocks go forward at 01:00 UTC
        ("2026-03-29T01:00", "Europe/Lisbon"),
        ("2026-10-24T23:30", "Europe/Lisbon"),  # summer time: 00:30 on Sunday 25 October
        ("2026-10-25T23:30", "Europe/Lisbon"),  # winter time again: still Sunday
        ("2026-12-31T10:30", "Pacific/Kiritimati"),  # 14 hours ahead: already 2027, still ISO 2026-W53
        ("2027-01-04T10:00", "Pacific/Pago_Pago"),  # 11 hours behind: Sunday, ISO 2026-W53
        ("2024-12-29T23:59", "Europe/Berlin"),  # Monday 30 December 2024 is in ISO 2025-W01
    ],
)
def test_a_session_belongs_to_its_local_week(tmp_path: Path, start: str, zone: str) -> None:
    """Reference library: pandas 3.0, Timestamp.tz_convert and isocalendar."""
    begun = datetime.fromisoformat(start).replace(tzinfo=UTC)
    path = write_gpx(tmp_path / "activities" / "ride.gpx", begun)
    home = folder(tmp_path, {"time_zone": zone})
    season = load_season([path], home)
    week = history(home, season.sessions).weeks[0]
    local = pd.Timestamp(begun).tz_convert(zone)
    assert week.name == f"{local:%G-W%V}"
    assert week.sessions[0].day == local.date()


def test_weeks_run_backwards_and_long_gaps_are_one_row(tmp_path: Path) -> None:
    first = date(2026, 1, 5)
    days = [first, first + timedelta(days=1), first + timedelta(weeks=2), first + timedelta(weeks=12)]
    found = history(folder(tmp_path), [session(day) for day in days])
    names = [row.name[5:] if not isinstance(row, Gap) else row.weeks for row in reversed(found.weeks)]
    assert names == ["W14", 9, "W04", "W03", "W02"]
    assert found.weeks[0].active_s == 2 * 90 * 60
    assert (found.judged, found.held) == (4, 4)
    with pytest.raises(NothingToReviewError):
        history(folder(tmp_path), [])


def test_frames_have_one_row_a_session_and_the_same_columns_always() -> None:
    day = date(2026, 1, 5)
    frame = sessions_frame([session(day, 0.9, shifts=(2.0, 4.0)), session(day, zones=None, in_band=None)])
    assert frame.height == 2
    assert frame["load_over_target_top"].to_list() == [pytest.approx(0.9), None]
    assert frame["hr_shift_bpm"].to_list() == [3.0, None]
    assert frame["iso_week"].to_list() == ["2026-W02"] * 2


def test_frames_become_pandas_frames() -> None:
    pytest.importorskip("pyarrow", reason="polars needs pyarrow to make pandas frames")
    frame = sessions_frame([session(date(2026, 1, 5), 0.9)])
    assert list(frame.to_pandas()["sport"]) == ["cycling"]


def test_without_the_extra_python_names_what_is_missing() -> None:
    """In a process of its own, where pyarrow is not to be found: the frame says so, and its columns go to pandas without it."""
    code = (
        "import sys\n"
        "class Hidden:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name.partition('.')[0] == 'pyarrow':\n"
        "            raise ModuleNotFoundError(f'No module named {name!r}', name=name)\n"
        "sys.meta_path.insert(0, Hidden())\n"
        "import pandas, polars\n"
        "frame = polars.DataFrame({'sport': ['cycling']})\n"
        "try:\n"
        "    frame.to_pandas()\n"
        "except ModuleNotFoundError as fault:\n"
        "    print(fault.name or fault)\n"
        "print(pandas.DataFrame(frame.to_dict(as_series=False))['sport'][0])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "pyarrow" in done.stdout.splitlines()[0]
    assert done.stdout.splitlines()[-1] == "cycling"


def test_weeks_frame_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "athlete.toml").write_text("", encoding="utf-8")
    write_gpx(tmp_path / "activities" / "a.gpx", datetime(2026, 1, 5, 8, tzinfo=UTC))
    write_gpx(tmp_path / "activities" / "b.gpx", datetime(2026, 1, 13, 8, tzinfo=UTC))
    frame = weeks(tmp_path)
    assert frame["iso_week"].to_list() == ["2026-W02", "2026-W03"]
    assert frame["sessions"].to_list() == [1, 1]
