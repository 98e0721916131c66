"""From one file to the audits of its sessions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.guard import guarded
from steadyband.athlete.labels import find_label, intent_by_name
from steadyband.athlete.meters import to_test_meter
from steadyband.audit import audit_session
from steadyband.audit.model import Audit, SessionInfo
from steadyband.ground.convert import load_to_si, parse_load
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.said import Said
from steadyband.recording import Recording, SessionRecords, read
from steadyband.recording.cleaning import prepared_rows
from steadyband.recording.grid import first_second
from steadyband.recording.model import Rows
from steadyband.steptest.choose import Choice, tests_made_on
from steadyband.steptest.measure import is_recording_of


def audit_file(path: Path, folder: AthleteFolder, sport: str | None = None) -> tuple[Audit, ...]:
    """Every session of one recording, audited. `sport` stands in for one that the file does not name.

    Raises RecordingError where the file cannot be used at all.
    """
    with guarded():
        return audit_recording(read(path), folder, sport)


def audit_recording(recording: Recording, folder: AthleteFolder, sport: str | None = None) -> tuple[Audit, ...]:
    """Every session of a recording that was read already, audited."""
    return tuple(_audit(recording, session, folder, sport) for session in recording.sessions)


def _audit(recording: Recording, session: SessionRecords, folder: AthleteFolder, sport: str | None) -> Audit:
    settings = folder.athlete.settings
    start = datetime.fromtimestamp(first_second(session, settings.grid), UTC)
    local = folder.athlete.local(start)
    named = _sport(session, folder, local, sport)
    choice = folder.choice(named, local.date())
    rows = prepared_rows(session, settings, named)
    rows, moved = to_test_meter(rows, recording.device, choice.zone_set, folder.athlete.meter_offsets)
    intent, source = _intent(recording, (session, rows), folder, local, named)
    info = SessionInfo(
        file=recording.file,
        sha256=recording.sha256,
        sport=named,
        sub_sport=session.sub_sport,
        start=start,
        local_start=local,
        intent=intent,
        intent_source=source,
        threshold=_threshold(folder, named, choice),
        damage=recording.damage,
        name=session.name,
        rider=folder.athlete.rider,
        privacy_m=folder.athlete.privacy_m,
        positions=folder.athlete.positions,
    )
    read_notes = (Said(note.code, {"text": note.text}) for note in recording.notes)
    notes = (*read_notes, *([moved] if moved else []))
    return audit_session(rows, info, choice, settings, notes)


def _sport(session: SessionRecords, folder: AthleteFolder, local: datetime, given: str | None) -> str:
    if session.sport != "unknown" and not session.guessed:
        return session.sport
    label = find_label(folder.labels, local, "unknown")
    labelled = next((item.sport for item in folder.labels if item.date == local.date() and item.sport), None)
    return given or (label.sport if label else None) or labelled or session.sport


def _intent(
    recording: Recording, recorded: tuple[SessionRecords, Rows], folder: AthleteFolder, local: datetime, sport: str
) -> tuple[str, str]:
    session, rows = recorded
    label = find_label(folder.labels, local, sport)
    if label:
        return label.intent, "sessions.csv"
    if recording.file in _test_recordings(folder):
        return "test", "test file"
    made = tests_made_on(folder.zone_sets, sport, local.date())
    if any(is_recording_of(zones.test, rows, session.laps) for zones in made):
        return "test", "test loads"
    named = intent_by_name(session.name, folder.athlete.intent_rules)
    return (named, "recording") if named else ("endurance", "assumed")


def _test_recordings(folder: AthleteFolder) -> set[str]:
    return {Path(zones.test.recording).name for zones in folder.zone_sets if zones.test.recording}


def _threshold(folder: AthleteFolder, sport: str, choice: Choice) -> float | None:
    typed = folder.athlete.thresholds.get(sport)
    if typed is None or choice.zone_set is None:
        return None
    unit = choice.zone_set.test.load_unit
    value = parse_load(typed, unit)
    if value is None:
        raise AthleteFileError(
            f"expected a load in {unit}, the unit of the {sport} test; found {typed!r}.",
            file="athlete.toml",
            place=f"thresholds.{sport}",
        )
    return load_to_si(value, unit)


def in_time_order(audits: Sequence[Audit]) -> tuple[Audit, ...]:
    """Audits by start, then file."""
    return tuple(sorted(audits, key=lambda audit: (audit.info.start, audit.info.file)))
