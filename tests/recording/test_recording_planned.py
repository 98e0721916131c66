"""Planned ways: routes and tracks without times, old recordings, and files that hold no way."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import gpxpy
import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from conftest import DEMO, recording_files
from steadyband.ground.errors import RecordingError
from steadyband.recording.planned import read_planned

LATS = [47.0 + 0.001 * number for number in range(12)]


def gpx(kind: str, heights: bool = True, points: int = 12) -> bytes:
    """Written by gpxpy: a way north, rising 5 m a point."""
    made = gpxpy.gpx.GPX()
    if kind == "route":
        route = gpxpy.gpx.GPXRoute(name="To the dam (invented)")
        route.points = [
            gpxpy.gpx.GPXRoutePoint(lat, 8.0, 400 + 5 * number if heights else None)
            for number, lat in enumerate(LATS[:points])
        ]
        made.routes.append(route)
    else:
        segment = gpxpy.gpx.GPXTrackSegment(
            [
                gpxpy.gpx.GPXTrackPoint(lat, 8.0, 400 + 5 * number if heights else None)
                for number, lat in enumerate(LATS[:points])
            ]
        )
        made.tracks.append(gpxpy.gpx.GPXTrack(name="To the dam (invented)"))
        made.tracks[0].segments.append(segment)
    return made.to_xml().encode()


@pytest.mark.parametrize("kind", ["route", "track"])
def test_a_way_without_times(kind: str) -> None:
    """Reference library: geographiclib 2.x, Geodesic.WGS84.Inverse(...)['s12'], summed; the sphere is within 0.6 %."""
    way = read_planned(gpx(kind), "dam.gpx")
    true = sum(Geodesic.WGS84.Inverse(a, 8.0, b, 8.0)["s12"] for a, b in itertools.pairwise(LATS))
    assert way.along_m[-1] == pytest.approx(true, rel=0.006)
    assert way.height_m.tolist() == [400 + 5 * number for number in range(12)]
    assert (way.name, way.file) == ("To the dam (invented)", "dam.gpx")


def test_an_old_recording_is_a_way_too(tmp_path: Path) -> None:
    way = read_planned(DEMO / "activities/2026-W20/2026-05-16-moor-tracks.fit")
    assert way.along_m[0] == 0
    assert np.all(np.diff(way.along_m) >= 0)
    assert np.ptp(way.height_m) == pytest.approx(100, abs=5)  # regression pin: the demo's highest climb


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (gpx("route", heights=False), "expected heights along the way, found 0 at 12 points"),
        (gpx("track", points=1), "expected a way of at least 100 m, found 1 points"),
        (b"<gpx></gpx>", "found 0 points over 0 m"),
        (b"<gpx><trk><trkseg><trkpt lat='x'", "the XML is broken at character 18"),
    ],
)
def test_what_holds_no_way_is_told(data: bytes, told: str) -> None:
    with pytest.raises(RecordingError, match=told):
        read_planned(data, "x.gpx")


def test_heights_of_zero_throughout_are_none() -> None:
    flat = re.sub(rb"<ele>[^<]*</ele>", b"<ele>0</ele>", gpx("track"))
    with pytest.raises(RecordingError, match="expected heights"):
        read_planned(flat, "flat.gpx")


@pytest.mark.parametrize("path", recording_files("gpx") or [None], ids=lambda path: path.name if path else "absent")
def test_real_gpx_files_give_a_way_or_a_sentence(path: Path | None) -> None:
    if path is None:
        pytest.skip("no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)")
    try:
        way = read_planned(path)
    except RecordingError as fault:
        told = str(fault)
    else:
        told = ""
    if told:
        assert path.name in told
        return
    assert np.all(np.isfinite(way.height_m))
    assert np.all(np.diff(way.along_m) >= 0)
