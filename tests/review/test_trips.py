"""The machine's zone proposed, and days abroad kept as local days. Clocks by hand from the IANA rules, from memory."""

from __future__ import annotations

import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from many_sessions import folder

import console
from steadyband.athlete.athlete import parse_athlete, read_athlete
from steadyband.athlete.labels import read_labels
from steadyband.athlete.sessions import audit_file
from steadyband.athlete.store.keys import Inputs
from steadyband.athlete.zones import machine_zone
from steadyband.ground.errors import AthleteFileError

sys.path.insert(0, str(Path(__file__).resolve().parent))
from test_review_history import write_gpx

TOKYO = {"from": date(2026, 5, 10), "to": date(2026, 5, 24), "time_zone": "Asia/Tokyo"}


@pytest.mark.parametrize(
    ("moment", "local"),
    [
        ("2026-05-09T14:59:00", "2026-05-09 15:59 Europe/Lisbon"),  # 23:59 in Tokyo, the day before the trip
        ("2026-05-09T15:00:00", "2026-05-10 00:00 Asia/Tokyo"),
        ("2026-05-24T14:59:00", "2026-05-24 23:59 Asia/Tokyo"),
        ("2026-05-24T15:00:00", "2026-05-24 16:00 Europe/Lisbon"),
        ("2026-10-25T01:30:00", "2026-10-25 01:30 Europe/Lisbon"),  # the second 01:30 of the day of 25 hours
    ],
)
def test_local_time_on_and_off_a_trip(tmp_path: Path, moment: str, local: str) -> None:
    athlete = folder(tmp_path, {"trip": [TOKYO]}).athlete
    found = athlete.local(datetime.fromisoformat(moment).replace(tzinfo=UTC))
    assert f"{found:%Y-%m-%d %H:%M} {found.tzinfo}" == local


def test_a_label_written_abroad_finds_its_session(tmp_path: Path) -> None:
    """A ride at 07:00 in Tokyo on 12 May is 23:00 of 11 May in Lisbon."""
    file = write_gpx(tmp_path / "ride.gpx", datetime(2026, 5, 11, 22, 0, tzinfo=UTC), 120)
    (tmp_path / "sessions.csv").write_text("date,time,intent\n2026-05-12,07:00,race\n")
    at_home = folder(tmp_path)
    abroad = folder(tmp_path, {"trip": [TOKYO]})
    found = []
    for home in (at_home, abroad):
        from dataclasses import replace

        (audit,) = audit_file(file, replace(home, labels=read_labels(tmp_path / "sessions.csv")))
        found.append((str(audit.info.local_start.date()), audit.info.intent_source))
    assert found == [("2026-05-11", "assumed"), ("2026-05-12", "sessions.csv")]
    assert Inputs(at_home).base != Inputs(abroad).base


@pytest.mark.parametrize(
    ("trips", "part"),
    [
        ([TOKYO | {"to": date(2026, 5, 9)}], "from 2026-05-10 on"),
        ([TOKYO, TOKYO | {"from": date(2026, 5, 24), "to": date(2026, 6, 1)}], "share 2026-05-24"),
        ([TOKYO | {"time_zone": "Tokyo"}], "IANA"),
        ([TOKYO | {"from": "soon"}], "expected a date"),
        ([{"from": date(2026, 5, 9)}], "from, to, time_zone"),
        ([3], "from, to, time_zone"),
        ("x", "tables"),
    ],
)
def test_faults_of_a_trip_are_named(tmp_path: Path, trips: object, part: str) -> None:
    with pytest.raises(AthleteFileError, match=part):
        parse_athlete({"trip": trips}, tmp_path, "athlete.toml")


def test_init_proposes_the_zone_of_the_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "America/Halifax")
    done = console.run("init", tmp_path / "mine")
    assert "time zone: America/Halifax, that of this machine" in done.stdout
    assert str(read_athlete(tmp_path / "mine" / "athlete.toml").time_zone) == "America/Halifax"
    monkeypatch.setenv("TZ", "Nowhere/Atall")
    assert machine_zone() != "Nowhere/Atall"
