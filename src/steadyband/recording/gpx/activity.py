"""GPX 1.0 and 1.1 tracks, read through gpxpy."""

from __future__ import annotations

import hashlib
import re
from typing import Any
from xml.etree.ElementTree import ParseError

from gpxpy.gpx import GPXException
from gpxpy.parser import GPXParser

from steadyband.ground.errors import DamagedRecordingError, NoTimedTrackError
from steadyband.recording.gpx.stream import read_tracks
from steadyband.recording.gpx.text import Text, decoded, mended, sound, uncommented
from steadyband.recording.gpx.tracks import CHANNELS_BY_NAME, Track, grouped, session_of, tracks_from, tracks_of
from steadyband.recording.limits import (
    MARKUP_MAX,
    RECORDS_MAX,
    SESSIONS_MAX,
    check_count,
    check_time,
)
from steadyband.recording.model import FALLBACK, Note, Recording, SessionRecords
from steadyband.recording.not_covered import NotCovered


def sniff(head: bytes) -> bool:
    """True where the first element is `gpx`, in any of the usual encodings."""
    first = re.search(rb"<([A-Za-z_][\w.:-]*)", uncommented(head.replace(b"\x00", b"")))
    return first is not None and first[1].rpartition(b":")[2] == b"gpx"


def read(data: bytes, name: str) -> Recording:
    """Read the timed tracks of a GPX file, up to its damage if there is any.

    Raises NoTimedTrackError where it has none (and says what it has), DamagedRecordingError where damage comes
    before the first track point, RecordingError for a file with entity declarations.
    """
    text = decoded(data, name)
    check_count(text.text.count("<trkpt"), RECORDS_MAX, "track points")
    try:
        columns = read_tracks(text.text, CHANNELS_BY_NAME)
        tracks, backwards = tracks_from(columns)
        left, creator = [], columns.creator
    except NotCovered as exc:
        tracks = []
        left = [Note("fallback", "info", f"{FALLBACK} {exc}.")]
    groups = grouped(tracks)
    if not groups:
        check_markup(text.text)
        text, gpx, xml = _parsed(sound(text, name), name)
        tracks, backwards = tracks_of(gpx, xml)
        groups, creator = grouped(tracks), gpx.creator
    if not groups:
        raise NoTimedTrackError(
            f"holds no timed track, only {_holds(gpx, tracks, text)}.",
            file=name,
            hint="Export the session itself, with the time of each point.",
        )
    check_count(len(groups), SESSIONS_MAX, "sessions")
    sessions, notes = _sessions(groups, sum(track.untimed for track in tracks))
    return Recording(
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        format="gpx",
        sessions=tuple(sessions),
        notes=tuple(notes + left + _notes(tracks, backwards, text)),
        damage=text.damage,
        device=creator or None,
    )


def check_markup(text: str) -> None:
    """Raises RecordingError where the tree of a text would be larger than a recording's may be."""
    check_time()
    check_count(text.count("<") + text.count("="), MARKUP_MAX, "tags and attributes without a common pattern")


def _parsed(text: Text, name: str) -> tuple[Text, Any, str | bytes]:
    """(text, the parsed file, its XML as parsed); values that gpxpy cannot read are taken out on a second try."""
    try:
        return (text, *_parse(text))
    except GPXException:
        pass
    try:
        text = mended(text)
        return (text, *_parse(text))
    except (GPXException, ParseError) as exc:
        raise DamagedRecordingError(
            f"not readable as GPX: {exc}.", file=name, hint="Export the session again."
        ) from exc


def _parse(text: Text) -> tuple[Any, str | bytes]:
    parser = GPXParser(text.text)
    return parser.parse(), parser.xml


def _holds(gpx: Any, tracks: list[Track], text: Text) -> str:
    routes = sum(len(route.points) for route in gpx.routes)
    counted = (
        (sum(track.untimed for track in tracks), "track point without a time", "track points without times"),
        (routes, "route point", "route points"),
        (len(gpx.waypoints), "waypoint", "waypoints"),
        (text.unreadable, "value or point that is no number", "values or points that are no numbers"),
    )
    named = [f"{count} {one if count == 1 else more}" for count, one, more in counted if count]
    return " and ".join(named) or "a frame without points"


def _sessions(groups: list[list[Track]], untimed: int) -> tuple[list[SessionRecords], list[Note]]:
    """Untimed points are counted as dropped from the session of their track, those of wholly untimed ones from the first."""
    own = [sum(track.untimed for track in group) for group in groups]
    own[0] += untimed - sum(own)
    sessions, notes = [], []
    for group, dropped in zip(groups, own, strict=True):
        session, said = session_of(group, dropped)
        sessions.append(session)
        notes += said
    return sessions, notes


def _notes(tracks: list[Track], backwards: int, text: Text) -> list[Note]:
    untimed = sum(track.untimed for track in tracks)
    counted = (
        ("untimed", untimed, "point(s) without a usable time were dropped."),
        ("order", backwards, "point(s) stood before an earlier one; all were put in order of time."),
        ("unreadable", text.unreadable, "value(s) or point(s) that are no numbers were left out."),
    )
    return [Note(code, "warn", f"{count} {what}", count) for code, count, what in counted if count]
