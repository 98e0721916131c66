"""The audit against what the simulation planted: causes, forced surges and climbs.

Every expected value is the simulation's plan (truth.json), which shares no code with the package.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from demo_files import ACTIVITIES, FOLDER, messages, session, sessions, truth

from steadyband.athlete.folder import open_folder
from steadyband.athlete.sessions import audit_file
from steadyband.audit.model import Audit


@cache
def audited(file: str) -> Audit:
    (found,) = audit_file(ACTIVITIES / file, open_folder(FOLDER))
    return found


def _pairs() -> list[tuple[Any, Any]]:
    pairs: list[tuple[Any, Any]] = []
    for item in sessions():
        found = audited(item["file"]).surges
        events = found.events if found else ()
        pairs += zip(events, item["surges"]["events"], strict=True)
    return pairs


def test_planted_causes_are_recovered() -> None:
    pairs = _pairs()
    assert len(pairs) >= 50
    right = [event.cause == planted["planted"]["cause"] for event, planted in pairs]
    assert sum(right) >= 0.95 * len(pairs)


def test_planted_forced_surges_are_recovered_and_no_others() -> None:
    pairs = _pairs()
    assert [event.forced for event, _ in pairs] == [planted["planted"]["forced"] for _, planted in pairs]
    assert sum(event.forced is True for event, _ in pairs) == 2


@pytest.mark.parametrize("lap", [0, 1])
@pytest.mark.parametrize("number", [0, 1, 2])
def test_climbs_of_the_hilly_ride(number: int, lap: int) -> None:
    planned = truth()["climbs"]
    course_m = 22_345  # by hand: the lengths of the seventeen parts of the course added up
    climb = audited(session("moor-tracks")["file"]).climbs[number + 3 * lap]
    assert climb.start_m == pytest.approx(planned[number]["start_m"] + lap * course_m, abs=20)
    assert climb.length_m == pytest.approx(planned[number]["length_m"], abs=20)
    assert climb.height_m == pytest.approx(planned[number]["height_m"], abs=1.0)


def test_the_ramp_needs_a_lower_gear_than_the_bike_has() -> None:
    steep = audited(session("moor-tracks")["file"]).climbs[1]
    assert steep.gear_cog is not None
    assert steep.gear_cog > max(truth()["rider"]["cassette"])
    assert steep.forced == 1


def test_flat_and_indoor_sessions_have_no_climb() -> None:
    for part in ("shore-gravel", "causeway-jog", "trainer-hour"):
        assert audited(session(part)["file"]).climbs == ()


def test_no_position_near_start_or_end_is_told() -> None:
    from steadyband.recording.geo import between_m

    found = audited(session("moor-tracks")["file"])
    first = found.traces.lat_deg, found.traces.lon_deg
    record = found.info
    assert record.privacy_m == 300

    start = messages(session("moor-tracks")["file"])[0]["record_mesgs"][0]
    lat, lon = (start[key] * 180 / 2**31 for key in ("position_lat", "position_long"))
    away = between_m(*first, lat, lon)
    assert np.nanmin(away) >= 300


@pytest.mark.parametrize("part", ["shore-gravel", "ferry-wait", "heat-ride", "last-ferry", "moor-tracks"])
def test_the_road_model_takes_the_time_the_simulation_took(part: str) -> None:
    """The simulation steps through time by whole seconds (explicit Euler), the package through distance by energy."""
    price = audited(session(part)["file"]).price
    assert price is not None
    assert price.model_error is not None
    assert abs(price.model_error) < 0.03
    # the simulation's own drag area and rolling; its air is 1.19 kg/m3, ours 1.2, and it has no spokes (0.0044 m2)
    rider = truth()["rider"]
    assert price.cda_m2 == pytest.approx(rider["cda_m2"] * rider["air_kg_m3"] / 1.2 - 0.0044, abs=0.015)
    assert price.crr == pytest.approx(rider["crr"], abs=0.0005)


def test_the_price_of_the_hilly_ride_is_that_of_the_simulation_ridden_smooth() -> None:
    """The simulated bike is sent over the same power, place for place, as ridden and clipped at the ceiling: the difference in time."""
    found = audited(session("moor-tracks")["file"])
    assert found.price is not None
    assert found.surges is not None
    records = messages(session("moor-tracks")["file"])[0]["record_mesgs"]
    first = records[0]["timestamp"]
    seconds = np.array([record["timestamp"] - first for record in records])
    watts = np.array([record["power"] for record in records], dtype=float)
    metres = np.array([record["distance"] for record in records])
    ceiling, clipped = truth()["tests"]["cycling"]["ceiling"], watts.copy()
    for event in found.surges.events:
        inside = (seconds >= event.start_s) & (seconds < event.start_s + event.length_s)
        clipped[inside] = np.minimum(clipped[inside], ceiling if event.forced is False else np.inf)
    lost = _simulated(metres, clipped) - _simulated(metres, watts)
    assert found.price.seconds_lost == pytest.approx(lost, rel=0.1)


def _simulated(metres: Any, watts: Any) -> int:
    """Seconds the simulation's bike takes to the last metre with the power of each place; stops are ridden through."""
    from simulation.athlete import BIKE
    from simulation.courses import moor

    course, place, speed, time = moor(), float(metres[0]), 3.0, 0
    while place < metres[-1]:
        power = float(watts[min(int(np.searchsorted(metres, place)), len(watts) - 1)])
        speed = BIKE.speed_after(speed, power, course.at(course.grade, place))
        place += speed
        time += 1
    return time
