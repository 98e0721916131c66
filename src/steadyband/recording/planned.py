"""A planned way, without times: the points of a GPX route or track, or the track of an old recording."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Any, BinaryIO
from xml.etree.ElementTree import ParseError

import numpy as np
from gpxpy.gpx import GPXException
from gpxpy.parser import GPXParser

from steadyband.ground.errors import DamagedRecordingError, RecordingError
from steadyband.ground.settings import Settings
from steadyband.recording.geo import step_m
from steadyband.recording.gpx import activity as gpx_reader
from steadyband.recording.gpx.text import decoded, mended, sound
from steadyband.recording.model import FloatArray
from steadyband.recording.registry import read
from steadyband.recording.source import Content, load
from steadyband.recording.track import with_sound_track

LEAST_M = 100.0
"""Shortest way worth looking at [m] (design choice)."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A way over ground: name, distance along it and height at it [m, n], and positions [deg, n]; heights may be NaN."""

    file: str
    name: str | None
    along_m: FloatArray
    height_m: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray


def read_planned(source: str | os.PathLike[str] | BinaryIO | bytes, name: str | None = None) -> Planned:
    """The way in a GPX file (its longest route, else its track, times or not), or that of a recording.

    Raises RecordingError where the file holds no way, or none with heights.
    """
    content = load(source, name)
    if gpx_reader.sniff(content.data[:4096]):
        return _with_heights(_from_gpx(content), content.name)
    return _with_heights(_from_recording(content), content.name)


def _from_gpx(content: Content) -> Planned:
    parsed = _parsed(content)
    tracks = [point for track in parsed.tracks for segment in track.segments for point in segment.points]
    routes: list[Any] = max((route.points for route in parsed.routes), key=len, default=[])
    points = tracks if len(tracks) >= len(routes) else routes
    titles = [item.name for item in (*parsed.tracks, *parsed.routes) if item.name]
    lat = np.array([point.latitude for point in points], dtype=np.float64)
    lon = np.array([point.longitude for point in points], dtype=np.float64)
    height = np.array([np.nan if point.elevation is None else point.elevation for point in points], dtype=np.float64)
    on_earth = (np.abs(lat) <= 90) & (np.abs(lon) <= 180)
    lat, lon, height = lat[on_earth], lon[on_earth], np.where(np.isfinite(height), height, np.nan)[on_earth]
    along = np.concatenate(([0.0], np.cumsum(step_m(lat, lon)))) if len(lat) else np.empty(0)
    return Planned(content.name, titles[0] if titles else None, along, height, lat, lon)


def _parsed(content: Content) -> Any:
    """The parsed file; values that gpxpy cannot read are taken out on a second try."""
    whole = decoded(content.data, content.name)
    gpx_reader.check_markup(whole.text)
    text = sound(whole, content.name)
    try:
        return _parser(text.text).parse()
    except GPXException:
        pass
    try:
        return _parser(mended(text).text).parse()
    except (GPXException, ParseError) as fault:
        raise DamagedRecordingError(
            f"not readable as GPX: {fault}.", file=content.name, hint="Export the route again."
        ) from fault


def _parser(text: str) -> Any:
    made: Any = GPXParser
    return made(text)


def _from_recording(content: Content) -> Planned:
    recording = read(content.data, content.name)
    longest = max(recording.sessions, key=lambda one: len(one.time_s))
    session, _ = with_sound_track(longest, longest.sport, Settings().cleaning)
    missing = np.full(len(session.time_s), np.nan)
    lat, lon = (session.channels.get(key, missing) for key in ("lat_deg", "lon_deg"))
    along = session.channels.get("distance_m")
    known = np.isfinite(lat) & np.isfinite(lon) if along is None else np.isfinite(along)
    lat, lon, height = lat[known], lon[known], session.channels.get("altitude_m", missing)[known]
    metres = np.concatenate(([0.0], np.cumsum(step_m(lat, lon)))) if along is None and len(lat) else None
    reached = along[known] if along is not None else metres if metres is not None else np.empty(0)
    return Planned(recording.file, session.name, reached, height, lat, lon)


def _with_heights(way: Planned, name: str) -> Planned:
    """The way from its start on, heights filled between known ones."""
    length = float(way.along_m[-1] - way.along_m[0]) if len(way.along_m) else 0.0
    if length < LEAST_M:
        raise RecordingError(
            f"expected a way of at least {LEAST_M:g} m, found {len(way.along_m)} points over {length:.0f} m.",
            file=name,
            hint="Export the route with all of its points as GPX.",
        )
    known = np.isfinite(way.height_m) & bool(np.nan_to_num(way.height_m).any())  # all zero is no height
    if np.count_nonzero(known) < max(2, len(known) / 2):
        raise RecordingError(
            f"expected heights along the way, found {np.count_nonzero(known)} at {len(known)} points.",
            file=name,
            hint="Export the route with elevation; most planners can add it.",
        )
    along = np.maximum.accumulate(way.along_m) - way.along_m[0]
    height = np.interp(along, along[known], way.height_m[known])
    return Planned(way.file, way.name, along, height, way.lat_deg, way.lon_deg)
