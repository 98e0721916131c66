"""GPX 1.1 through gpxpy, with heart rate, cadence and power in a track-point extension of our own namespace."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from datetime import UTC, datetime

import gpxpy.gpx

from simulation.devices import Record

NAMESPACE = "urn:example:invented-track-point"


def gpx_text(name: str, kind: str, start_unix_s: int, records: Sequence[Record]) -> str:
    """One track of one segment; `kind` is its `<type>`."""
    document = gpxpy.gpx.GPX()
    document.creator = "invented demo recorder"
    document.nsmap["trk"] = NAMESPACE
    track = gpxpy.gpx.GPXTrack(name=name)
    track.type = kind  # type: ignore[assignment,unused-ignore]
    segment = gpxpy.gpx.GPXTrackSegment()
    segment.points = [_point(start_unix_s, item) for item in records]
    track.segments.append(segment)
    document.tracks.append(track)
    return str(document.to_xml(version="1.1", prettyprint=False))


def _point(start_unix_s: int, item: Record) -> gpxpy.gpx.GPXTrackPoint:
    if item.lat_deg is None or item.lon_deg is None or item.altitude_m is None:
        raise ValueError("a GPX point needs a position and a height")
    point = gpxpy.gpx.GPXTrackPoint(
        latitude=round(item.lat_deg, 7),
        longitude=round(item.lon_deg, 7),
        elevation=round(round(item.altitude_m * 5.0) / 5.0, 1),
        time=datetime.fromtimestamp(start_unix_s + item.second, UTC),
    )
    point.extensions.append(_extension(item))
    return point


def _extension(item: Record) -> ElementTree.Element:
    outer = ElementTree.Element(f"{{{NAMESPACE}}}TrackPointExtension")
    values = {"hr": item.heart_rate_bpm, "cad": item.cadence_rpm, "power": item.power_w, "atemp": item.temperature_c}
    for name, value in values.items():
        if value is not None:
            ElementTree.SubElement(outer, f"{{{NAMESPACE}}}{name}").text = str(value)
    return outer
