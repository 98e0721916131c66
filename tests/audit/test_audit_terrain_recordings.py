"""Ground and climbs of recordings by real devices: by what can be seen in their profiles, and within their reading time."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_zone_set

from conftest import recording_files
from steadyband.audit import audit_session
from steadyband.audit.measure.climbs import Rise, find_climbs
from steadyband.audit.measure.terrain import courses
from steadyband.audit.model import Audit, Rider
from steadyband.recording import read, to_rows
from steadyband.recording.model import Rows
from steadyband.review.repeat_climbs import repeat_climbs

RIDER = Rider(72.0, 9.0, (50, 34), (11, 13, 15, 17, 19, 21, 24, 28, 32), 2.105, 60.0)
FILES = {path.stem: path for kind in ("fit", "gpx") for path in recording_files(kind)}
ABSENT = "no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)"


@cache
def rows_of(name: str) -> Rows:
    if name not in FILES:
        pytest.skip(ABSENT)
    return to_rows(max(read(FILES[name]).sessions, key=lambda one: len(one.time_s)), SETTINGS.grid)


def rises(rows: Rows) -> list[Rise]:
    return [rise for course in courses(rows, SETTINGS.terrain) for rise in find_climbs(course, SETTINGS.terrain)]


def audited(name: str) -> Audit:
    return audit_session(rows_of(name), make_info(rider=RIDER, privacy_m=0.0), Chosen(make_zone_set()), SETTINGS)


def test_a_rides_two_rounds_have_the_same_climbs() -> None:
    """Seen in the profile: a round of 20.6 km, ridden twice, with a hill of about 800 m at 7 % after its start. Recognition, which knows
    nothing of rounds, pairs climbs 20.6 km apart and no others."""
    found = repeat_climbs([audited("ride_power_hr_gps_1h18")])
    assert len(found) >= 2
    for climb in found:
        first, second = climb.efforts
        assert second.climb.start_m - first.climb.start_m == pytest.approx(20_640, abs=100)
    # the hill itself: its foot is the same both times, its flat top is out by more than the 60 m that recognition allows
    feet = [climb.start_m for climb in audited("ride_power_hr_gps_1h18").climbs if climb.mean_grade > 0.06]
    assert feet[1] - feet[0] == pytest.approx(20_640, abs=30)


def test_a_settling_altimeter_makes_no_climb() -> None:
    """Seen in the profile: a flat city ride whose altimeter rises by 30 m in its first 450 m and falls back while standing."""
    assert rises(rows_of("ride_power_hr_gps_6h33")) == []
    assert any(note.code == "altimeter_leapt" for note in audited("ride_power_hr_gps_6h33").quality.notes)


def test_a_mountain_run_is_one_climb_up() -> None:
    """Seen in the profile: flat for 300 m, then up by some 160 m with one small shelf, then down."""
    (rise,) = rises(rows_of("run_hr_gps_0h43_old_device"))
    assert rise.start_m == pytest.approx(300, abs=60)
    assert rise.height_m == pytest.approx(156, abs=8)


def test_hills_are_kept_where_points_are_far_apart() -> None:
    """Seen in the file: a walk from 753 up to 1017 m with a point every few dozen seconds; most of the height is kept."""
    (rise,) = rises(rows_of("korita-zbevnica"))
    assert rise.height_m == pytest.approx(1017 - 753, rel=0.2)


@pytest.mark.parametrize("path", FILES.values() or [None], ids=lambda path: path.name if path else "absent")
def test_every_climb_keeps_the_rules(path: Path | None) -> None:
    if path is None:
        pytest.skip(ABSENT)
    try:
        sessions = read(path).sessions
    except ValueError:
        pytest.skip("no recording")
    for session in sessions:
        rows = to_rows(session, SETTINGS.grid)
        for rise in rises(rows):
            assert rise.length_m >= 300
            assert rise.mean_grade >= 0.03 - 1e-9
            assert rise.height_m <= np.nanmax(rows.channels["altitude_m"]) - np.nanmin(rows.channels["altitude_m"]) + 15
