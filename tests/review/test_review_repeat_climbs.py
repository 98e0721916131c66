"""Climbs recognised across sessions, by made-up climbs placed with geographiclib."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from conftest import DEMO
from steadyband.audit.model import Climb
from steadyband.ground.settings import Settings
from steadyband.review.repeat_climbs import learnt_text, repeat_climbs, repeat_climbs_to_dict

WGS84 = Geodesic.WGS84
BEGAN = datetime(2026, 5, 2, 8, 0, tzinfo=UTC)


@dataclass
class Hill:
    """Foot [deg], direction foot to top [deg], straight distance and length by road [m]."""

    lat: float = 47.0
    lon: float = 8.0
    bearing: float = 40.0
    straight: float = 900.0
    length: float = 1000.0


def moved(lat: float, lon: float, bearing: float, metres: float) -> tuple[float, float]:
    """Reference library: geographiclib 2.x, Geodesic.WGS84.Direct."""
    there = WGS84.Direct(lat, lon, bearing, metres)
    return there["lat2"], there["lon2"]


def climb(hill: Hill, *, off: tuple[float, float] = (0.0, 0.0), at: float = 90.0, **changes: Any) -> Climb:
    """The hill, its foot and top moved by `off` metres towards `at` degrees."""
    foot = moved(hill.lat, hill.lon, at, off[0])
    top = moved(*moved(hill.lat, hill.lon, hill.bearing, hill.straight), at, off[1])
    values: dict[str, Any] = {"surges": 2, "seconds_above": 20, "seconds": 240, "mean_load": 200.0, **changes}
    return Climb(
        5000.0, hill.length, 60.0, 0.06, start_lat=foot[0], start_lon=foot[1], end_lat=top[0], end_lon=top[1], **values
    )


def session(day: int, *climbs: Climb, sport: str = "cycling") -> Any:
    start = BEGAN + timedelta(days=day)
    info = SimpleNamespace(start=start, local_start=start, sport=sport, file=f"day-{day}.fit")
    return SimpleNamespace(info=info, climbs=climbs, load=SimpleNamespace(unit="W"), settings=Settings())


def counts(*sessions: Any) -> list[int]:
    return [len(found.efforts) for found in repeat_climbs(sessions)]


@pytest.mark.parametrize("place", [(47.0, 8.0), (-33.0, 179.9999), (89.99, 12.0), (0.0, 0.0)])
@pytest.mark.parametrize("at", [0.0, 90.0, 200.0])
def test_the_same_hill_is_recognised_wherever_it_lies(place: tuple[float, float], at: float) -> None:
    hill = Hill(*place)
    assert counts(session(0, climb(hill)), session(7, climb(hill, off=(50.0, 50.0), at=at))) == [2]
    assert counts(session(0, climb(hill)), session(7, climb(hill, off=(70.0, 0.0), at=at))) == []
    assert counts(session(0, climb(hill)), session(7, climb(hill, off=(0.0, 70.0), at=at))) == []


def test_down_another_way_or_in_another_sport_is_another_hill() -> None:
    hill = Hill()
    top = moved(hill.lat, hill.lon, hill.bearing, hill.straight)
    back = Hill(*top, bearing=hill.bearing + 180)
    assert counts(session(0, climb(hill)), session(7, climb(back))) == []
    assert counts(session(0, climb(hill)), session(7, climb(hill), sport="running")) == []
    longer = Hill(length=1150.0)
    assert counts(session(0, climb(hill)), session(7, climb(longer))) == []
    assert counts(session(0, climb(hill)), session(7, climb(Hill(length=1090.0)))) == [2]


def test_short_and_turned_is_another_hill() -> None:
    # by hand: a top 80 m away, seen 50 m further to the side, is turned by atan(50 / 80) = 32 degrees
    short = Hill(straight=80.0, bearing=0.0)
    assert counts(session(0, climb(short)), session(7, climb(short, off=(0.0, 50.0)))) == []


def test_hidden_ends_are_left_out_and_laps_are_efforts() -> None:
    hill = Hill()
    hidden = Climb(0.0, 1000.0, 60.0, 0.06, 1, 9)
    assert counts(session(0, climb(hill), hidden), session(3, hidden)) == []
    assert counts(session(0, climb(hill), climb(hill, start_s=4000))) == [2]


def test_efforts_in_time_order_with_the_latest_and_the_smoothest() -> None:
    hill = Hill()
    rough, calm, last = climb(hill, seconds_above=50), climb(hill, seconds_above=5, surges=1), climb(hill)
    (found,) = repeat_climbs([session(9, last), session(0, rough), session(4, calm)])
    assert [effort.file for effort in found.efforts] == ["day-0.fit", "day-4.fit", "day-9.fit"]
    assert (found.latest.climb, found.smoothest.climb) == (last, calm)
    # by hand: the median of 50 and 5 s is 27.5 s
    assert (
        learnt_text(found)
        == "Smoother than before: 20 s above the ceiling with 2 surges, after 28 s (median of 2 before)."
    )
    assert found.name == "1.0 km at 6.0 %"
    written = json.dumps(repeat_climbs_to_dict([found]), allow_nan=False)
    assert "lat" not in json.loads(written)["climbs"][0]["efforts"][0]


def test_2000_climbs_of_400_sessions_are_sorted_to_their_150_hills() -> None:
    rng = np.random.default_rng(5)
    hills = [
        Hill(47 + a, 8 + b, c) for a, b, c in zip(*rng.uniform((0,) * 3, (0.4, 0.4, 360), (150, 3)).T, strict=True)
    ]
    sessions = [
        session(day, *(climb(hills[i], off=tuple(rng.uniform(0, 25, 2)), at=rng.uniform(0, 360)) for i in rng.integers(0, 150, 5)))
        for day in range(400)
    ]  # fmt: skip
    found = repeat_climbs(sessions)
    assert sum(len(one.efforts) for one in found) == pytest.approx(2000, abs=60)
    assert len(found) == pytest.approx(150, abs=3)


def test_the_demos_hills_are_recognised_on_the_second_lap() -> None:
    from steadyband.athlete.folder import open_folder
    from steadyband.athlete.sessions import audit_file

    audits = audit_file(DEMO / "activities/2026-W20/2026-05-16-moor-tracks.fit", open_folder(DEMO))
    found = repeat_climbs(audits)
    # planted in the simulation: three climbs, two laps, fewer efforts on the second
    planned = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["climbs"]
    assert [len(one.efforts) for one in found] == [2, 2, 2]
    assert [one.length_m for one in found] == pytest.approx([climb["length_m"] for climb in planned], abs=20)
    assert "Smoother than before" in learnt_text(found[2])
