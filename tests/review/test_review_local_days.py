"""Sessions near midnight, on daylight-saving changes and across the date line: the athlete's time zone decides the day."""

from __future__ import annotations

import dataclasses
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from many_sessions import folder
from test_review_history import GPX, POINT, write_gpx

from steadyband.athlete.labels import read_labels
from steadyband.athlete.sessions import audit_file
from steadyband.ground.errors import NothingToReviewError
from steadyband.review.week import review_week


def ride(home: Path, zone: str, start: datetime, seconds: int = 120) -> object:
    (found,) = audit_file(write_gpx(home / "ride.gpx", start, seconds), folder(home, {"time_zone": zone}))
    return found


@pytest.mark.parametrize(
    ("start", "zone", "last_day"),
    [
        # The local clock read off the zone's published rules (IANA tz database, from memory).
        (datetime(2026, 5, 10, 22, 59, tzinfo=UTC), "Europe/Lisbon", date(2026, 5, 10)),  # Sunday 23:59
        (datetime(2026, 5, 10, 23, 0, tzinfo=UTC), "Europe/Lisbon", date(2026, 5, 17)),  # Monday 00:00
        (
            datetime(2026, 3, 28, 23, 59, 59, tzinfo=UTC),
            "Europe/Lisbon",
            date(2026, 3, 29),
        ),  # Saturday, in the same week
        (datetime(2026, 3, 29, 22, 30, tzinfo=UTC), "Europe/Lisbon", date(2026, 3, 29)),  # 23:30 on the day of 23 hours
        (datetime(2026, 3, 29, 23, 30, tzinfo=UTC), "Europe/Lisbon", date(2026, 4, 5)),  # Monday 00:30, summer time
        (datetime(2026, 10, 25, 23, 30, tzinfo=UTC), "Europe/Lisbon", date(2026, 10, 25)),  # the day of 25 hours
        (datetime(2026, 10, 26, 0, 0, tzinfo=UTC), "Europe/Lisbon", date(2026, 11, 1)),
        (datetime(2026, 5, 10, 10, 30, tzinfo=UTC), "Pacific/Kiritimati", date(2026, 5, 17)),  # Monday there
        (datetime(2026, 5, 11, 10, 30, tzinfo=UTC), "Pacific/Pago_Pago", date(2026, 5, 10)),  # still Sunday there
        (datetime(2011, 12, 30, 9, 30, tzinfo=UTC), "Pacific/Apia", date(2012, 1, 1)),  # Thursday 29 December, 23:30
    ],
)
def test_the_week_review_takes_the_local_day(tmp_path: Path, start: datetime, zone: str, last_day: date) -> None:
    """Reference library: pandas, Timestamp.tz_convert, beside the days by hand."""
    found = ride(tmp_path, zone, start)
    review = review_week(folder(tmp_path, {"time_zone": zone}), [found])
    assert review.last_day == last_day
    local = pd.Timestamp(start).tz_convert(zone)
    assert review.name == f"{local:%G-W%V}"
    with pytest.raises(NothingToReviewError):
        review_week(folder(tmp_path, {"time_zone": zone}), [found], ending=last_day + timedelta(days=1))


def test_the_day_that_samoa_left_out(tmp_path: Path) -> None:
    """Published, from memory: Samoa crossed the date line by leaving 30 December 2011 out; an hour leads to the 31st."""
    before = ride(tmp_path, "Pacific/Apia", datetime(2011, 12, 30, 9, 30, tzinfo=UTC))
    after = ride(tmp_path, "Pacific/Apia", datetime(2011, 12, 30, 10, 30, tzinfo=UTC))
    assert [item.info.local_start.date() for item in (before, after)] == [date(2011, 12, 29), date(2011, 12, 31)]


@pytest.mark.parametrize("start", [datetime(2026, 3, 29, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)])
def test_a_ride_over_the_clock_change_is_as_long_as_it_was(tmp_path: Path, start: datetime) -> None:
    found = ride(tmp_path, "Europe/Lisbon", start, 3601)
    assert found.seconds.elapsed == 3601  # an hour of riding, whatever the clock on the wall did
    assert len(review_week(folder(tmp_path, {"time_zone": "Europe/Lisbon"}), [found]).audits) == 1


def test_both_half_past_ones_of_the_autumn_night_follow_each_other(tmp_path: Path) -> None:
    zone = "Europe/Lisbon"
    rides = [ride(tmp_path, zone, datetime(2026, 10, 25, hour, 30, tzinfo=UTC)) for hour in (1, 0)]
    review = review_week(folder(tmp_path, {"time_zone": zone}), rides)
    assert [item.info.start.hour for item in review.audits] == [0, 1]
    assert [item.info.local_start.strftime("%H:%M") for item in review.audits] == ["01:30", "01:30"]


@pytest.mark.parametrize(
    ("day", "at", "start"),
    [
        ("2026-05-10", "23:55", datetime(2026, 5, 10, 22, 55, tzinfo=UTC)),  # Lisbon, summer time: one hour ahead
        ("2026-05-11", "00:05", datetime(2026, 5, 10, 23, 5, tzinfo=UTC)),
        ("2026-03-29", "02:30", datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),  # just after the clocks went forward
        ("2026-10-25", "01:30", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),  # the first of two
        ("2026-10-25", "01:30", datetime(2026, 10, 25, 1, 30, tzinfo=UTC)),  # and the second
    ],
)
def test_labels_go_by_the_local_clock(tmp_path: Path, day: str, at: str, start: datetime) -> None:
    (tmp_path / "sessions.csv").write_text(f"date,time,intent\n{day},{at},race\n", encoding="utf-8")
    home = folder(tmp_path, {"time_zone": "Europe/Lisbon"})
    home = dataclasses.replace(home, labels=read_labels(tmp_path / "sessions.csv"))
    (found,) = audit_file(write_gpx(tmp_path / "ride.gpx", start), home)
    assert found.info.intent == "race"


def test_a_track_over_the_date_line_is_one_short_session(tmp_path: Path) -> None:
    """From 179.998 degrees east to 179.998 west: 445 m at the equator by hand (0.004 degrees of 111.32 km), not 40,000 km."""
    start = datetime(2026, 5, 10, 11, 59, tzinfo=UTC)
    east = [179.998 + 0.004 * n / 120 for n in range(121)]
    points = "".join(
        POINT.replace("-9.1", f"{lon if lon <= 180 else lon - 360:.6f}").format(
            lat=0.0, time=(start + timedelta(seconds=n)).strftime("%Y-%m-%dT%H:%M:%SZ")
        )
        for n, lon in enumerate(east)
    )
    path = tmp_path / "ride.gpx"
    path.write_text(GPX.format(points=points), encoding="utf-8")
    (found,) = audit_file(path, folder(tmp_path, {"time_zone": "Pacific/Fiji"}))
    assert float(found.traces.distance_m[-1]) == pytest.approx(445, abs=5)
    # Fiji lies 12 hours ahead: 23:59 on Sunday; the day is that of the start though most of it is on Monday.
    assert found.info.local_start.date() == date(2026, 5, 10)
    assert found.info.local_start.tzinfo == ZoneInfo("Pacific/Fiji")
