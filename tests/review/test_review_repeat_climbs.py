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
    values: dict[str, Any] = {"surges": 2, "seconds_above": 20, "seconds": 240, "mean_load": 200.0}
    values |= {"above_s": 6.0, "above_scatter_s": 0.8, **changes}
    return Climb(
        5000.0, hill.length, 60.0, 0.06, start_lat=foot[0], start_lon=foot[1], end_lat=top[0], end_lon=top[1], **values
    )


def session(day: int, *climbs: Climb, sport: str = "cycling", unit: str = "W", ceiling: float | None = 200.0) -> Any:
    start = BEGAN + timedelta(days=day)
    info = SimpleNamespace(start=start, local_start=start, sport=sport, file=f"day-{day}.fit")
    channel = "power" if unit == "W" else "flat_equivalent_speed"
    load = SimpleNamespace(unit=unit, channel=channel)
    edges = {"floor": 160.0, "target_top": 180.0, "ceiling": ceiling, "threshold": None, "easy_empty": False}
    zones = SimpleNamespace(**edges, hr_floor=None, hr_target_top=None, hr_ceiling=None)
    return SimpleNamespace(info=info, climbs=climbs, load=load, zones=zones, settings=Settings())


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
    rough, calm = climb(hill, above_s=40.0), climb(hill, above_s=2.0, surges=1)
    last = climb(hill)
    (found,) = repeat_climbs([session(9, last), session(0, rough), session(4, calm)])
    assert [effort.file for effort in found.efforts] == ["day-0.fit", "day-4.fit", "day-9.fit"]
    assert (found.latest.climb, found.smoothest.climb) == (last, calm)
    # by hand: 6 s of 200 W are 1.2 kJ, and the median of 40 and 2 s, 21 s, is 4.2 kJ; scatters of 0.8 s are far less
    assert (
        learnt_text(found)
        == "Smoother than before: 1.2 kJ above the ceiling with 2 surges, after 4.2 kJ (median of 2 before)."
    )
    assert found.name == "1.0 km at 6.0 %"
    written = json.loads(json.dumps(repeat_climbs_to_dict([found]), allow_nan=False))["climbs"][0]
    assert "lat" not in written["efforts"][0]
    assert (written["compared"], written["efforts"][0]["above_s"]) == ("smoother", 40.0)


def learnt(*efforts: float | None, scatter: float = 0.8, **session_changes: Any) -> str:
    """What is said after efforts of so many seconds' worth above the ceiling, a week apart."""
    climbs = [climb(Hill(), above_s=above, above_scatter_s=None if above is None else scatter) for above in efforts]
    (found,) = repeat_climbs([session(7 * week, one, **session_changes) for week, one in enumerate(climbs)])
    return learnt_text(found)


def test_only_beyond_the_scatter_of_the_efforts_is_an_effort_smoother_or_rougher() -> None:
    # by hand: two scatters of 0.8 s make 2 x sqrt(2) x 0.8 = 2.3 s, of 3 s 8.5 s
    assert learnt(6.0, 4.0).startswith("As before, as far as the scatter of the efforts lets one tell: 0.8 kJ")
    assert learnt(6.0, 3.5).startswith("Smoother than before")
    assert learnt(6.0, 8.5).startswith(
        "Rougher than before: 1.7 kJ above the ceiling with 2 surges, after 1.2 kJ the time"
    )
    assert learnt(6.0, 12.0, scatter=3.0).startswith("As before")
    assert learnt(0.0, 0.0) == "As before: nothing above the ceiling."


def test_on_foot_the_work_is_told_in_metres() -> None:
    told = learnt(30.0, 10.0, unit="m/s", ceiling=3.5)
    # by hand: 10 s and 30 s at 3.5 m/s
    assert told == "Smoother than before: 35 m gained on the ceiling's pace with 2 surges, after 105 m the time before."


def test_efforts_that_cannot_be_compared_say_why() -> None:
    hill = Hill()
    assert learnt(6.0, None) == "The latest effort is not compared: its surges could not be judged."
    other = "The latest effort is not compared: no earlier one was judged by the same ceiling."
    assert learnt(None, 6.0) == other
    (found,) = repeat_climbs([session(0, climb(hill, above_s=30.0)), session(7, climb(hill), ceiling=220.0)])
    assert (learnt_text(found), found.compared) == (other, None)
    # a higher ceiling since then is no smoother riding: only the effort under the same ceiling counts
    after = [session(0, climb(hill, above_s=30.0)), *(session(day, climb(hill), ceiling=220.0) for day in (7, 14))]
    (found,) = repeat_climbs(after)
    assert (found.compared, len(found.before)) == ("as_before", 1)


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
