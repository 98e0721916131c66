"""Tracks of a parsed GPX file to sessions."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import numpy as np

from steadyband.recording.deriving import speed_to_next
from steadyband.recording.geo import step_m
from steadyband.recording.gpx.stream import GpxColumns
from steadyband.recording.model import FloatArray, Note, SessionRecords
from steadyband.recording.timeline import own_start, time_order

APART_S = 3600.0
"""Tracks further apart than this are sessions of their own (design choice)."""

TIMES_S = (-2_208_988_800.0, 7_258_118_400.0)
"""Times from 1900 to 2199 [Unix s]; no calendar in other years is sure to hold, so they count as no time (design choice)."""

_OF_ALL = ("time_s", "lat_deg", "lon_deg", "altitude_m")

CHANNELS_BY_NAME = {
    "hr": "heart_rate_bpm",
    "heartrate": "heart_rate_bpm",
    "heart_rate": "heart_rate_bpm",
    "cad": "cadence_rpm",
    "cadence": "cadence_rpm",
    "power": "power_w",
    "watts": "power_w",
    "powerinwatts": "power_w",
    "speed": "speed_mps",
    "atemp": "temperature_c",
    "temp": "temperature_c",
}
"""Local names of the usual track-point extension elements, in lower case (common practice, no source)."""

_WORDS = {
    "cycling": ("cycl", "bik", "rid"),
    "running": ("run", "jog"),
    "walking": ("walk",),
    "hiking": ("hik",),
    "swimming": ("swim",),
    "rowing": ("row",),
}
_UNCLEAR = frozenset(
    {"e", "ebike", "ebiking", "electric", "motor", "motorcycle", "motorcycling", "horse", "car", "drive"}
)


@dataclass(slots=True)
class Track:
    """One track: its timed points by segment, as columns."""

    sport: str
    name: str | None
    segments: list[dict[str, FloatArray]] = field(default_factory=list)
    untimed: int = 0

    @property
    def first_s(self) -> float:
        """Unix seconds of its first point."""
        return min(float(segment["time_s"][0]) for segment in self.segments)

    @property
    def last_s(self) -> float:
        """Unix seconds of its last point."""
        return max(float(segment["time_s"][-1]) for segment in self.segments)


def sport_of(words: str | None) -> str:
    """The sport that a track's type names clearly in plain words, else "unknown"."""
    tokens = re.findall(r"[a-z]+", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", words or "").lower())
    if _UNCLEAR.intersection(tokens):
        return "unknown"
    found = {sport for sport, stems in _WORDS.items() if any(token.startswith(stems) for token in tokens)}
    return found.pop() if len(found) == 1 else "unknown"


def tracks_of(gpx: Any, xml: str | bytes) -> tuple[list[Track], int]:
    """(every track of a parsed GPX file, how many points stood before an earlier one).

    `xml` is the text as gpxpy parsed it: extension elements are taken from there, since gpxpy keeps none of GPX 1.0.
    """
    elements = iter(ElementTree.fromstring(xml).iterfind("trk/trkseg/trkpt"))
    tracks, backwards = [], 0
    for parsed in gpx.tracks:
        track = Track(sport_of(parsed.type), parsed.name)
        for segment in parsed.segments:
            rows = [_row(point, next(elements)) for point in segment.points]
            backwards += _add(track, _by_name(rows))
        tracks.append(track)
    return tracks, backwards


def tracks_from(columns: GpxColumns) -> tuple[list[Track], int]:
    """The same from the fast reader's columns."""
    tracks, backwards = [], 0
    for read in columns.tracks:
        track = Track(sport_of(read.kind), read.name)
        backwards += sum(_add(track, segment) for segment in read.segments)
        tracks.append(track)
    return tracks, backwards


def _add(track: Track, columns: Mapping[str, FloatArray]) -> int:
    """Add a segment's timed points to a track; returns how many stood before an earlier one."""
    if not columns:
        return 0
    time_s = columns["time_s"]
    timed = (time_s >= TIMES_S[0]) & (time_s < TIMES_S[1])
    track.untimed += int(np.count_nonzero(~timed))
    if not timed.any():
        return 0
    kept = {name: columns[name][timed] for name in sorted(columns)}
    kept = {name: values for name, values in kept.items() if name in _OF_ALL or np.isfinite(values).any()}
    finished, backwards = _finished(kept)
    track.segments.append(finished)
    return backwards


def _by_name(rows: Sequence[dict[str, float]]) -> dict[str, FloatArray]:
    names = {name for row in rows for name in row}
    return {name: np.array([row.get(name, np.nan) for row in rows], dtype=np.float64) for name in names}


def _row(point: Any, element: ElementTree.Element) -> dict[str, float]:
    row = {
        "time_s": _unix(point.time),
        "lat_deg": point.latitude,
        "lon_deg": point.longitude,
        "altitude_m": np.nan if point.elevation is None else point.elevation,
    }
    for item in element.iter():
        channel = CHANNELS_BY_NAME.get(str(item.tag).rpartition("}")[2].lower())
        if channel:
            row[channel] = _number(item.text)
    return row


def _unix(time: datetime | None) -> float:
    """Unix seconds; a time without a zone is UTC by the standard (SOURCES S9)."""
    if time is None:
        return np.nan
    try:
        return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return np.nan


def _number(text: str | None) -> float:
    try:
        number = float(text or "nan")
    except ValueError:
        return np.nan
    return number if np.isfinite(number) else np.nan


def _finished(columns: dict[str, FloatArray]) -> tuple[dict[str, FloatArray], int]:
    on_earth = (np.abs(columns["lat_deg"]) <= 90) & (np.abs(columns["lon_deg"]) <= 180)
    for name in ("lat_deg", "lon_deg"):
        columns[name] = np.where(on_earth, columns[name], np.nan)
    columns["altitude_m"] = np.where(np.isfinite(columns["altitude_m"]), columns["altitude_m"], np.nan)
    order, backwards = time_order(columns["time_s"])
    columns = {name: values[order] for name, values in columns.items()}
    steps = step_m(columns["lat_deg"], columns["lon_deg"])
    columns["step_m"] = np.concatenate((np.nan_to_num(steps), [0.0]))
    columns["derived_speed"] = speed_to_next(steps, np.diff(columns["time_s"]))
    return columns, backwards


def grouped(tracks: Iterable[Track]) -> list[list[Track]]:
    """Tracks in time order, together where they are of one sport and less than an hour apart."""
    groups: list[list[Track]] = []
    for track in sorted((t for t in tracks if t.segments), key=lambda t: t.first_s):
        last = groups[-1] if groups else None
        if last and last[-1].sport == track.sport and track.first_s - max(t.last_s for t in last) <= APART_S:
            last.append(track)
        else:
            groups.append([track])
    return groups


def session_of(tracks: Sequence[Track], dropped: int) -> tuple[SessionRecords, list[Note]]:
    """One session of tracks that belong together, with distance and speed from positions where the file has none."""
    segments = sorted((s for track in tracks for s in track.segments), key=lambda s: float(s["time_s"][0]))
    names = sorted({name for segment in segments for name in segment} - {"time_s"})
    time_s = np.concatenate([segment["time_s"] for segment in segments])
    order, _ = time_order(time_s)
    columns = {name: np.concatenate([_or_nan(s, name) for s in segments])[order] for name in names}
    notes = _derive(columns)
    channels = {name: values for name, values in columns.items() if np.isfinite(values).any()}
    session = SessionRecords(
        sport=tracks[0].sport,
        sub_sport=None,
        name=tracks[0].name,
        time_s=time_s[order],
        channels=channels,
        breaks=tuple(float(segment["time_s"][0]) for segment in segments[1:]),
        dropped=dropped,
        origin_s=own_start((float(time_s[0]),), time_s),
        derived=frozenset(note.channel for note in notes if note.channel),
    )
    return session, notes


def _or_nan(segment: dict[str, FloatArray], name: str) -> FloatArray:
    return segment[name] if name in segment else np.full(len(segment["time_s"]), np.nan)


def _derive(columns: dict[str, FloatArray]) -> list[Note]:
    steps, speed = columns.pop("step_m"), columns.pop("derived_speed")
    columns["distance_m"] = np.concatenate(([0.0], np.cumsum(steps)[:-1]))
    notes = [_derived("distance_m")]
    if not np.isfinite(columns.get("speed_mps", np.array([np.nan]))).any() and np.isfinite(speed).any():
        columns["speed_mps"] = speed
        notes.append(_derived("speed_mps"))
    return notes


def _derived(channel: str) -> Note:
    text = f"{channel} was worked out from the positions within each track segment, as the file has none."
    return Note("derived", "info", text, channel=channel)
