"""What a folder tells about its owner: collected from recordings, tests and labels, to be removed and then searched for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from steadyband.athlete.folder import AthleteFolder, recordings_in
from steadyband.athlete.season import Entry, Season
from steadyband.ground.errors import RecordingError
from steadyband.recording import Recording, read
from steadyband.recording.archives import Source, contents
from steadyband.recording.identities import Identities, identities
from steadyband.recording.model import FloatArray, SessionRecords

OWN_NOTE = "note of the athlete"
"""The kind of name that is kept or removed as notes, not as names."""


@dataclass(frozen=True, slots=True)
class Track:
    """Every position of one session as recorded, start and end too: degrees [n], none missing."""

    lat_deg: FloatArray
    lon_deg: FloatArray


@dataclass(frozen=True, slots=True)
class Private:
    """Everything that a shared copy may have to leave out, of the sessions it shows and of the whole folder.

    `names` maps what kind of name it is to the texts themselves; `devices` holds, in time order, the names of the devices
    behind each session; `pulses` the heart rates [bpm] of each session that has them, as recorded.
    """

    names: dict[str, frozenset[str]]
    devices: tuple[frozenset[str], ...]
    serials: frozenset[str]
    digests: frozenset[str]
    tracks: tuple[Track, ...]
    pulses: tuple[FloatArray, ...]

    @property
    def positions(self) -> int:
        """Recorded positions in all."""
        return sum(len(track.lat_deg) for track in self.tracks)

    @property
    def beats(self) -> int:
        """Recorded heart rates in all."""
        return sum(len(pulse) for pulse in self.pulses)


def private_of(home: AthleteFolder, season: Season, shown: Sequence[Entry]) -> Private:
    """The private values of a folder; recordings of the sessions in `shown` are read again for theirs.

    Raises RecordingError where one of them is no longer what it was.
    """
    found = [_of_entry(entry) for entry in shown]
    audits = [entry.condensed.audit for entry in season.entries]
    files = {source.name for entry in season.entries for source, _ in entry.sources}
    files |= {path.name for path in recordings_in(home.athlete.activities)} | {audit.info.file for audit in audits}
    names = {
        "athlete's name": {home.athlete.name},
        "file name": files | {zones.test.file for zones in home.zone_sets} | _test_recordings(home),
        "name of a recording": {audit.info.name or "" for audit in audits} | _all(item.texts for item in found),
        "name of a device": _all(item.devices for item in found),
        "name of a meter or analyser": {
            name for zones in home.zone_sets for name in (zones.test.meter, zones.test.analyser)
        },
        "note": _notes(home),
        OWN_NOTE: _own_notes(home),
        "path of a folder": {str(home.path), str(home.path.resolve())},
    }
    return Private(
        names={kind: frozenset(text.strip() for text in texts if text.strip()) for kind, texts in names.items()},
        devices=tuple(item.devices for item in found),
        serials=frozenset(_all(item.serials for item in found)),
        digests=frozenset({audit.info.sha256 for audit in audits} | _all(item.digests for item in found)) - {""},
        tracks=tuple(track for item in found for track in item.tracks),
        pulses=tuple(pulse for item in found for pulse in item.pulses),
    )


@dataclass(frozen=True, slots=True)
class _Found:
    texts: frozenset[str]
    devices: frozenset[str]
    serials: frozenset[str]
    digests: frozenset[str]
    tracks: tuple[Track, ...]
    pulses: tuple[FloatArray, ...]


def _of_entry(entry: Entry) -> _Found:
    read_ones = [_read(source) for source, _ in entry.sources]
    sessions = [session for recording, _ in read_ones for session in recording.sessions]
    told = [identity for _, identity in read_ones]
    return _Found(
        texts=frozenset(_all(item.texts for item in told) | {session.name for session in sessions if session.name}),
        devices=frozenset(_all(item.devices for item in told)),
        serials=frozenset(_all(item.serials for item in told)),
        digests=frozenset(recording.sha256 for recording, _ in read_ones),
        tracks=tuple(track for track in map(_track, sessions) if len(track.lat_deg)),
        pulses=tuple(pulse for pulse in map(_pulse, sessions) if len(pulse)),
    )


def _read(source: Source) -> tuple[Recording, Identities]:
    (_, data), *_ = contents([source])
    if isinstance(data, RecordingError):
        raise data
    recording = read(data, source.name)
    return recording, identities(data, recording.device)


def _track(session: SessionRecords) -> Track:
    lat, lon = session.channels.get("lat_deg"), session.channels.get("lon_deg")
    if lat is None or lon is None:
        return Track(np.empty(0), np.empty(0))
    known = np.isfinite(lat) & np.isfinite(lon)
    return Track(lat[known], lon[known])


def _pulse(session: SessionRecords) -> FloatArray:
    pulse = session.channels.get("heart_rate_bpm", np.empty(0))
    return pulse[np.isfinite(pulse)]


def _notes(home: AthleteFolder) -> set[str]:
    tests = [zones.test for zones in home.zone_sets]
    typed = {text for test in tests for text in (test.note, test.position, test.override or "")}
    return typed | {step.note for test in tests for step in test.steps}


def _own_notes(home: AthleteFolder) -> set[str]:
    """What the athlete typed into sessions.csv and weeks.csv."""
    typed = {text for label in home.labels for text in (label.note, label.illness)}
    return typed | {line for item in home.week_notes for line in item.note.splitlines()}


def _test_recordings(home: AthleteFolder) -> set[str]:
    return {Path(zones.test.recording).name for zones in home.zone_sets if zones.test.recording}


def _all(sets: Iterable[frozenset[str]]) -> set[str]:
    return {text for texts in sets for text in texts}
