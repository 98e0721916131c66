"""Positions that are left out, against distances on the ellipsoid."""

from __future__ import annotations

import json

import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_rows, make_zone_set, wavy_ride
from geographiclib.geodesic import Geodesic

from steadyband.audit import audit_session
from steadyband.audit.measure.privacy import told_positions
from steadyband.recording.geo import between_m, step_m
from steadyband.told import audit_to_dict

WGS84 = Geodesic.WGS84


def track(length: int = 1200) -> tuple[np.ndarray, np.ndarray]:
    """Out for 10 min at about 5 m/s, a wiggle, and back again to the start."""
    out = np.concatenate((np.arange(length // 2), np.arange(length // 2)[::-1])) * 4.5e-5
    return 47 + out, 8 + 0.002 * np.sin(out * 900)


def rows_of(lat: np.ndarray, lon: np.ndarray) -> object:
    return make_rows({"lat_deg": lat, "lon_deg": lon, "speed_mps": np.full(len(lat), 5.0)})


@pytest.mark.parametrize("privacy", [0.0, 100.0, 300.0])
def test_the_start_and_the_end_are_left_out_and_nothing_else(privacy: float) -> None:
    """Reference library: geographiclib 2.x, Geodesic.WGS84.Inverse(...)['s12']; the sphere is within 0.6 % of it."""
    lat, lon = track()
    told = told_positions(rows_of(lat, lon), make_info(privacy_m=privacy))  # type: ignore[arg-type]
    away = np.array([WGS84.Inverse(lat[0], lon[0], a, b)["s12"] for a, b in zip(lat, lon, strict=True)])
    assert np.all(np.isnan(told[0][away < privacy * 0.994]))
    assert not np.any(np.isnan(told[0][away > privacy * 1.006]))
    assert np.array_equal(np.isnan(told[0]), np.isnan(told[1]))


def test_every_passage_near_home_is_left_out() -> None:
    lat, lon = (np.concatenate((part, part)) for part in track())
    told, _ = told_positions(rows_of(lat, lon), make_info(privacy_m=300.0))  # type: ignore[arg-type]
    assert np.isnan(told[1195:1205]).all()


def test_no_positions_at_all() -> None:
    lat, lon = track()
    told = told_positions(rows_of(lat, lon), make_info(positions=False))  # type: ignore[arg-type]
    assert np.isnan(told).all()


def test_nothing_written_holds_a_hidden_position() -> None:
    rows = wavy_ride(3000)
    near = (rows.channels["lat_deg"] - 48) * 111_000 < 300
    found = audit_session(rows, make_info(privacy_m=500.0), Chosen(make_zone_set()), SETTINGS)
    assert np.isnan(found.traces.lat_deg[near]).all()
    written = audit_to_dict(found)
    assert written["surges"]["events"][0]["lat"] is None
    assert any(event["lat"] is not None for event in written["surges"]["events"])
    bare = audit_to_dict(found, positions=False)
    assert [event["lat"] for event in bare["surges"]["events"]] == [None] * bare["surges"]["count"]
    assert all(
        climb[key] is None for climb in bare["climbs"] for key in ("start_lat", "start_lon", "end_lat", "end_lon")
    )
    assert "parts" not in json.dumps(written)


@pytest.mark.parametrize("band", [(-89.9, -80), (-60, 60), (80, 89.9)], ids=["south pole", "between", "north pole"])
def test_distances_on_the_earth(band: tuple[float, float]) -> None:
    """Reference library: geographiclib 2.x (Karney's geodesics on WGS84); a sphere of the mean radius is within 0.6 % (0.56 % at worst,
    the difference of the radii along and across the meridian, from memory)."""
    rng = np.random.default_rng(11)
    lat = rng.uniform(*band, 60)
    lon = rng.uniform(-180, 180, 60)
    near_lat = np.clip(lat + rng.normal(0, 0.01, 60), -90, 90)
    near_lon = lon + rng.normal(0, 0.01, 60)
    for a, b, c, d in zip(lat, lon, near_lat, near_lon, strict=True):
        true = WGS84.Inverse(a, b, c, d)["s12"]
        assert step_m(np.array([a, c]), np.array([b, d]))[0] == pytest.approx(true, rel=0.006)
        assert between_m(np.array([c]), np.array([d]), a, b)[0] == pytest.approx(true, rel=0.006)
