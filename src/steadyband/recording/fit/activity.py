"""FIT activities (one file, or several chained), read through fitdecode."""

from __future__ import annotations

import hashlib

import numpy as np

from steadyband.ground.errors import DamagedRecordingError, NotAnActivityError, NoTimedTrackError, RecordingError
from steadyband.ground.units import FIT_EPOCH_UNIX_S
from steadyband.recording.fit.frames import Part, Stream, read_stream
from steadyband.recording.fit.sessions import device_of, sessions_of
from steadyband.recording.limits import SESSIONS_MAX, check_count, check_time
from steadyband.recording.model import FALLBACK, Note, Recording, SessionRecords

DATED_FROM = FIT_EPOCH_UNIX_S + 0x10000000
"""Smaller date_time values count seconds since the device was switched on (FIT profile, type date_time)."""

_KINDS = {
    "device": "a device description",
    "settings": "device settings",
    "sport": "sport settings",
    "workout": "a planned workout",
    "course": "a course",
    "schedules": "a training schedule",
    "weight": "weight scale readings",
    "totals": "totals",
    "goals": "goals",
    "blood_pressure": "blood pressure readings",
    "monitoring_a": "day-long monitoring",
    "monitoring_b": "day-long monitoring",
    "monitoring_daily": "day-long monitoring",
    "activity_summary": "the summary of an activity",
    "segment": "a course segment",
    "segment_list": "a list of course segments",
    "exd_configuration": "display settings",
}
_HINT = "Give the recording of a session instead."


def sniff(head: bytes) -> bool:
    """True where the bytes begin with a FIT header (SOURCES S9)."""
    return len(head) >= 12 and head[8:12] == b".FIT"


def read(data: bytes, name: str) -> Recording:
    """Read a FIT stream up to its end or its damage.

    Raises NotAnActivityError for other kinds of FIT files, NoTimedTrackError for an activity without a timed record,
    DamagedRecordingError where damage comes before the first record.
    """
    stream = read_stream(data)
    parts = [part for part in stream.parts if _is_activity(part)]
    sessions: list[SessionRecords] = []
    notes: list[Note] = []
    for part in parts:
        check_time()
        found, said = sessions_of(part, cut=bool(stream.damage))
        sessions += found
        check_count(len(sessions), SESSIONS_MAX, "sessions")
        notes += said
    if not sessions:
        raise _refusal(stream, name)
    notes += _undated(sessions, name) + _left_out(stream)
    return Recording(
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        format="fit",
        sessions=tuple(sorted(sessions, key=lambda s: s.time_s[0])),
        notes=tuple(notes),
        damage="; ".join(stream.damage) or None,
        device=device_of(parts[0]),
    )


def _kind(part: Part) -> str:
    return str(part.file_id.get("type", ""))


def _is_activity(part: Part) -> bool:
    return _kind(part) not in _KINDS and bool(part.records)


def _refusal(stream: Stream, name: str) -> RecordingError:
    others = sorted({_KINDS[_kind(part)] for part in stream.parts if _kind(part) in _KINDS})
    if others:
        found = " and ".join(others)
        return NotAnActivityError(f"expected an activity, found a FIT file that holds {found}.", file=name, hint=_HINT)
    if stream.damage:
        return DamagedRecordingError(
            f"damaged before the first usable record: {stream.damage[0]}.", file=name, hint="Copy or export it again."
        )
    records = sum(len(part.records) for part in stream.parts)
    found = f"{records} records, none with a time" if records else "no records"
    return NoTimedTrackError(f"expected timed records, found {found}.", file=name, hint=_HINT)


def _undated(sessions: list[SessionRecords], name: str) -> list[Note]:
    if any(np.nanmax(session.time_s) >= DATED_FROM for session in sessions):
        return []
    carried = {channel for session in sessions for channel in session.channels}
    if carried <= {"heart_rate_bpm", "temperature_c"}:
        raise NotAnActivityError(
            "expected an activity, found a heart-rate log of a device without a clock: its times count from switching "
            "on and it has no speed, distance, power or position, so no step test can be matched to it.",
            file=name,
            hint="Set the device's date and time before recording.",
        )
    text = "The device's clock was not set: times count from switching it on, so the date is not known."
    return [Note("undated", "warn", text)]


def _left_out(stream: Stream) -> list[Note]:
    notes = []
    if stream.fallback:
        notes.append(Note("fallback", "info", f"{FALLBACK} {stream.fallback}."))
    others = [part for part in stream.parts if _kind(part) in _KINDS]
    if others:
        names = ", ".join(sorted({_KINDS[_kind(part)] for part in others}))
        notes.append(Note("chained_other", "info", f"The file also holds {names}; left out.", len(others)))
    beats = sum(part.heart_beats for part in stream.parts)
    if beats:
        text = f"{beats} messages of heart rate stored apart from the records (sent later by the strap) are left out."
        notes.append(Note("stored_heart_rate", "warn", text, beats, "heart_rate_bpm"))
    return notes
