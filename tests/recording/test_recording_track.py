"""Faults of position, distance and speed planted in clean tracks: taken out, counted; honest tracks are left alone."""

from __future__ import annotations

import dataclasses
import sys

import numpy as np
import pytest

from conftest import ROOT
from steadyband.ground.settings import Settings
from steadyband.recording import SessionRecords, to_rows
from steadyband.recording.cleaning import prepared_rows
from steadyband.recording.geo import step_m
from steadyband.recording.gpx.activity import read as read_gpx
from steadyband.recording.model import FloatArray
from steadyband.recording.track import with_sound_track

N = 1800
DEFAULT = Settings()
METRE = 1 / 111_195.0
"""A metre of latitude in degrees, on the sphere of the mean radius (by hand: 6,371,009 m x pi / 180 = 111,195 m)."""


def gpx_of(lat: FloatArray, lon: FloatArray, every_s: int = 1, sport: str = "running") -> bytes:
    """A track of ours as a file, so that distance and speed are worked out by the reader."""
    base = np.datetime64("2026-05-02T06:00:00")
    points = "".join(
        f'<trkpt lat="{a:.8f}" lon="{b:.8f}"><ele>100</ele><time>{base + np.timedelta64(int(i * every_s), "s")}Z</time></trkpt>'
        for i, (a, b) in enumerate(zip(lat, lon, strict=True))
    )
    head = '<gpx version="1.1" creator="ours" xmlns="http://www.topografix.com/GPX/1/1"><trk>'
    return f"{head}<type>{sport}</type><trkseg>{points}</trkseg></trk></gpx>".encode()


def way(speed_mps: float = 3.0, every_s: int = 1, count: int = N) -> tuple[FloatArray, FloatArray]:
    """An even run round a wide bend, half a metre of scatter."""
    rng = np.random.default_rng(11)
    turn = np.arange(count) * speed_mps * every_s / 900.0
    lat = 50 + (900 * np.sin(turn) + np.cumsum(rng.normal(0, 0.1, count))) * METRE
    lon = 8 + (900 * np.cos(turn)) * METRE / np.cos(np.radians(50))
    return lat, lon


def session_of(lat: FloatArray, lon: FloatArray, every_s: int = 1, sport: str = "running") -> SessionRecords:
    return read_gpx(gpx_of(lat, lon, every_s, sport), "x.gpx").sessions[0]


def counts(session: SessionRecords, sport: str | None = None) -> dict[tuple[str, str | None], int]:
    _, repairs = with_sound_track(session, sport or session.sport, DEFAULT.cleaning)
    return {(item.what, item.channel): item.count for item in repairs}


def test_a_clean_run_is_left_alone() -> None:
    session = session_of(*way())
    assert with_sound_track(session, "running", DEFAULT.cleaning) == (session, ())


@pytest.mark.parametrize("every_s", [1, 5, 8])
@pytest.mark.parametrize(("length", "metres"), [(1, 1500.0), (5, 150.0), (20, 700.0)])
def test_a_place_the_track_leaps_to_and_back_from_is_missing(length: int, metres: float, every_s: int) -> None:
    lat, lon = way(every_s=every_s)
    true = to_rows(session_of(lat, lon, every_s))
    length = max(1, length // every_s)
    lat[700 : 700 + length] += metres * METRE
    rows = prepared_rows(session_of(lat, lon, every_s), DEFAULT)
    assert counts(session_of(lat, lon, every_s)) == {("impossible", "lat_deg"): length}
    assert ("impossible", "lat_deg", length) in [dataclasses.astuple(item) for item in rows.repairs]
    # by hand: the way over the hole is a chord of a bend of 900 m radius, under 0.1 m short
    assert rows.channels["distance_m"][-2] == pytest.approx(true.channels["distance_m"][-2], abs=0.5)
    assert np.nanmax(rows.channels["speed_mps"]) < 3.6


def test_a_fix_at_zero_zero_is_missing() -> None:
    lat, lon = way()
    lat[[0, 900, 901]], lon[[0, 900, 901]] = 0.0, 0.0
    rows = prepared_rows(session_of(lat, lon), DEFAULT)
    assert counts(session_of(lat, lon)) == {("impossible", "lat_deg"): 3}
    assert np.nanmin(rows.channels["lat_deg"]) > 49.9
    assert np.nanmax(rows.channels["speed_mps"]) < 3.6


def test_a_jump_that_stays_is_no_way() -> None:
    lat, lon = way()
    true = to_rows(session_of(lat, lon)).channels["distance_m"][-1]
    lat[900:] += 400 * METRE
    rows = prepared_rows(session_of(lat, lon), DEFAULT)
    assert counts(session_of(lat, lon)) == {("jump", "lat_deg"): 1}
    assert rows.channels["distance_m"][-1] == pytest.approx(
        true - 3.0, abs=0.5
    )  # the one second of the jump is not known
    assert np.nanmax(rows.channels["speed_mps"]) < 3.6
    assert np.isfinite(rows.channels["lat_deg"]).all()


def test_a_receiver_that_stood_still_in_a_tunnel_loses_no_way() -> None:
    """80 s at one place, then 240 m at once: the way is right, and no second of it has a made-up speed."""
    lat, lon = way()
    true = to_rows(session_of(lat, lon)).channels["distance_m"][-1]
    lat[801:880], lon[801:880] = lat[800], lon[800]
    rows = prepared_rows(session_of(lat, lon), DEFAULT)
    assert counts(session_of(lat, lon)) == {("impossible", "lat_deg"): 79}
    assert rows.channels["distance_m"][-1] == pytest.approx(true, abs=2)
    assert np.isnan(rows.channels["speed_mps"][801:879]).all()
    assert rows.active[801:879].all(), "they were run, only not measured"


def test_a_stop_is_a_stop() -> None:
    """A minute at a crossing, places held by the receiver, and 6 m at once when it lets go."""
    step = np.full(N - 1, 3.0)
    step[600:660], step[660] = 0.0, 6.0
    lat = 50 + np.concatenate(([0.0], np.cumsum(step))) * METRE
    session = session_of(lat, np.full(N, 8.0))
    assert counts(session) == {}


def test_a_sprint_and_a_fast_descent_stay() -> None:
    """8.5 m/s for ten seconds by foot; 27 m/s downhill by bike, then braking at 6 m/s² (common practice, no source)."""
    run = np.full(N - 1, 3.0)
    run[600:612] = [4.5, 6.0, 7.5, 8.2, 8.5, 8.5, 8.5, 8.5, 7.0, 5.5, 4.0, 3.2]
    ride = np.full(N - 1, 8.0)
    ride[500:560] = np.minimum(8 + 0.6 * np.arange(60), 27)
    ride[560:564] = [21, 15, 9, 8]
    for steps, sport in ((run, "running"), (ride, "cycling")):
        lat = 50 + np.concatenate(([0.0], np.cumsum(steps))) * METRE
        assert counts(session_of(lat, np.full(N, 8.0), sport=sport)) == {}


def test_two_seconds_written_as_one_are_no_jump() -> None:
    """A device that skips a second and puts two at one time (as real ones do)."""
    lat, lon = way(speed_mps=9.0)
    session = session_of(lat, lon, sport="cycling")
    times = session.time_s.copy()
    times[400] = times[399]
    assert counts(dataclasses.replace(session, time_s=times)) == {}


def test_the_sport_decides() -> None:
    """15 m/s is riding and no running; where the sport is not known, it may be a descent on skis."""
    lat = 50 + np.arange(N) * 15 * METRE
    session = session_of(lat, np.full(N, 8.0), sport="")
    assert session.sport == "unknown"
    assert counts(session) == counts(session, "cycling") == {}
    rows = prepared_rows(session_of(50 + np.arange(N) * 30 * METRE, np.full(N, 8.0), sport=""), DEFAULT, "running")
    assert rows.repairs[0].what == "impossible"


def test_a_segment_of_its_own_is_no_jump() -> None:
    lat, lon = way()
    lat[900:] += 5000 * METRE
    session = session_of(lat, lon)
    apart = dataclasses.replace(session, breaks=(float(session.time_s[900]),))
    assert counts(apart) == {}


def records(**channels: FloatArray) -> SessionRecords:
    return SessionRecords("cycling", None, None, 1.7e9 + np.arange(N, dtype=np.float64), channels)


def test_speed_of_a_device_passes_the_same_gate() -> None:
    speed = np.full(N, 8.0) + np.random.default_rng(3).normal(0, 0.2, N)
    speed[300], speed[500:503], speed[700], speed[900] = 65.535, 24.0, 0.0, -3.0
    session = records(speed_mps=speed, distance_m=np.arange(N) * 8.0)
    rows = prepared_rows(session, DEFAULT)
    assert counts(session) == {("impossible", "speed_mps"): 6}
    assert np.nanmax(rows.channels["speed_mps"]) < 9
    assert np.nanmin(rows.channels["speed_mps"]) > 7


def test_a_stop_and_a_start_of_a_device_stay() -> None:
    speed = np.full(N, 8.0)
    speed[600:640] = 0.0
    speed[596:600] = [6.0, 4.0, 2.0, 1.0]
    speed[640:643] = [2.0, 5.0, 7.0]
    assert counts(records(speed_mps=speed, distance_m=np.cumsum(speed))) == {}


def test_a_counter_that_leaps_is_moved_back() -> None:
    distance = np.arange(N) * 8.0
    distance[700:] += 5000
    distance[900:903] = 0.0
    session = records(distance_m=distance, speed_mps=np.full(N, 8.0))
    assert counts(session) == {("impossible", "distance_m"): 3, ("jump", "distance_m"): 1}
    rows = prepared_rows(session, DEFAULT)
    assert rows.channels["distance_m"][-1] == pytest.approx(8.0 * (N - 1) - 8.0)
    assert np.nanmin(np.diff(rows.channels["distance_m"])) >= 0


def test_a_counter_that_starts_again_is_left_alone() -> None:
    distance = np.arange(N) * 8.0
    distance[700:] -= distance[700]
    assert counts(records(distance_m=distance, speed_mps=np.full(N, 8.0))) == {}


def test_a_track_of_leaps_alone_is_none() -> None:
    rng = np.random.default_rng(1)
    session = records(lat_deg=rng.uniform(-60, 60, N), lon_deg=rng.uniform(-170, 170, N))
    sound, _ = with_sound_track(session, "running", DEFAULT.cleaning)
    assert np.count_nonzero(np.isfinite(sound.channels["lat_deg"])) <= 5


def test_the_gate_can_be_switched_off_and_its_limits_moved() -> None:
    lat, lon = way()
    lat[700] += 1500 * METRE
    session = session_of(lat, lon)
    off = dataclasses.replace(DEFAULT.cleaning, impossible_track=0)
    assert with_sound_track(session, "running", off) == (session, ())
    wide = dataclasses.replace(DEFAULT.cleaning, fastest_foot_mps=1e4, sudden_foot_mps2=1e4)
    assert with_sound_track(session, "running", wide) == (session, ())


def test_half_an_hour_astray_is_kept_but_not_its_jumps() -> None:
    lat, lon = way()
    lat[600:1200] += 300 * METRE
    session = session_of(lat, lon)
    assert counts(session) == {("jump", "lat_deg"): 2}
    sound, _ = with_sound_track(session, "running", DEFAULT.cleaning)
    assert np.isfinite(sound.channels["lat_deg"]).all()
    assert np.nanmax(sound.channels["speed_mps"]) < 3.6
    steps = step_m(sound.channels["lat_deg"], sound.channels["lon_deg"])
    assert np.nanmax(steps) > 290


def test_planted_faults_change_no_verdict() -> None:
    """The short form of benchmarks/track_faults.py; without the gate these very runs lose theirs.

    A verdict that its own agreement calls a near toss may fall the other way for the metres that a fault takes.
    """
    sys.path.insert(0, str(ROOT / "benchmarks"))
    import track_faults

    found = track_faults.trial(24, seed=3)
    runs = found["running"]
    for counts in found.values():
        assert counts.untouched == counts.sessions
        assert counts.kept >= counts.sessions - 1
        assert all(agreement < 0.75 for agreement in counts.lost)
        assert max(counts.distance_off) < 0.06
    assert runs.kept_without < runs.sessions
