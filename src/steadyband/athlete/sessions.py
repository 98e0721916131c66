"""From one file to the audits of its sessions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.guard import guarded
from steadyband.athlete.labels import find_label, intent_by_name
from steadyband.athlete.measuring import Measured, measured
from steadyband.athlete.meters import to_test_meter
from steadyband.audit import audit_session
from steadyband.audit.model import Audit, SessionInfo
from steadyband.ground.convert import load_to_si, parse_load
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.said import Said
from steadyband.recording import Recording, SessionRecords, read
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
    return tuple(audit_measured(item, folder) for item in measure(recording, folder, sport))


def measure(recording: Recording, folder: AthleteFolder, sport: str | None = None) -> tuple[Measured, ...]:
    """Every session of a recording as measured: of the athlete only the settings of grid and cleaning have a say, and
    what sport an unnamed session is taken as."""
    settings = folder.athlete.settings
    found = []
    for session in recording.sessions:
        start_s = first_second(session, settings.grid)
        found.append(measured(recording, session, sport_of(session, start_s, folder, sport), settings))
    return tuple(found)


def audit_measured(session: Measured, folder: AthleteFolder) -> Audit:
    """The audit of a session that was measured, now or in an earlier run."""
    settings = folder.athlete.settings
    start = datetime.fromtimestamp(session.start_s, UTC)
    local = folder.athlete.local(start)
    choice = folder.choice(session.taken_as, local.date())
    rows, moved = to_test_meter(session.rows, session.device, choice.zone_set, folder.athlete.meter_offsets)
    intent, source = _intent(session, rows, folder, local)
    info = SessionInfo(
        file=session.file,
        sha256=session.sha256,
        sport=session.taken_as,
        sub_sport=session.sub_sport,
        start=start,
        local_start=local,
        intent=intent,
        intent_source=source,
        threshold=_threshold(folder, session.taken_as, choice),
        damage=session.damage,
        name=session.name,
        rider=folder.athlete.rider,
        privacy_m=folder.athlete.privacy_m,
        positions=folder.athlete.positions,
    )
    read_notes = (Said(note.code, {"text": note.text}) for note in session.notes)
    notes = (*read_notes, *([moved] if moved else []))
    return audit_session(rows, info, choice, settings, notes)


def sport_of(session: SessionRecords | Measured, start_s: int, folder: AthleteFolder, given: str | None) -> str:
    """The sport a session is taken as: the file's own, else the one `given`, a label's, or a guess.

    `start_s` is its first second in Unix time.
    """
    if session.sport != "unknown" and not session.guessed:
        return session.sport
    local = folder.athlete.local(datetime.fromtimestamp(start_s, UTC))
    label = find_label(folder.labels, local, "unknown")
    labelled = next((item.sport for item in folder.labels if item.date == local.date() and item.sport), None)
    return given or (label.sport if label else None) or labelled or session.sport


def _intent(session: Measured, rows: Rows, folder: AthleteFolder, local: datetime) -> tuple[str, str]:
    """`rows` are those of the session as the test's meter would have read it."""
    label = find_label(folder.labels, local, session.taken_as)
    if label:
        return label.intent, "sessions.csv"
    if session.file in _test_recordings(folder):
        return "test", "test file"
    made = tests_made_on(folder.zone_sets, session.taken_as, local.date())
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
