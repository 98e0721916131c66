"""Auditing from Python: any recording, by the tests of a folder, by one test, or by edges of one's own."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from steadyband.athlete.athlete import check_intent, default_athlete
from steadyband.athlete.folder import AthleteFolder, folder_around, open_folder
from steadyband.athlete.guard import guarded
from steadyband.athlete.measured import zone_sets_of
from steadyband.athlete.model import SessionLabel
from steadyband.athlete.sessions import audit_recording
from steadyband.audit.model import Audit
from steadyband.ground.errors import UsageError
from steadyband.ground.settings import Settings
from steadyband.recording import Recording, read
from steadyband.steptest import StepTest, ZoneSet, make_zones

Place = str | os.PathLike[str]
Test = Place | StepTest | ZoneSet
"""A test file, a test that was loaded, or a zone set (made from a test, or `given_edges`)."""


def audit(
    source: Place | Recording,
    folder: Place | AthleteFolder | None = None,
    sport: str | None = None,
    *,
    test: Test | None = None,
    settings: Settings | Mapping[str, Any] | None = None,
    intent: str | None = None,
) -> tuple[Audit, ...]:
    """Every session of a recording, audited.

    Args: source, a path or a recording that was read or made (`recording_from`); folder, an athlete folder, without one
    that around the file, without a test none at all; sport, for recordings that name none; test, judges every session of
    its sport whatever the dates, so that old recordings may be seen by a newer test; settings, `Settings` or
    {"surges": {"window_s": 8}}; intent, what the sessions were for.
    Raises RecordingError where the file cannot be used, UsageError where there is nothing to judge by or an argument is
    wrong, AthleteFileError and TestFileError where a file is faulty.

    In the folder of the project, with the invented athlete:

    >>> ride = "demo_activities/activities/2026-W20/2026-05-16-moor-tracks.fit"
    >>> (found,) = audit(ride)
    >>> found
    Audit(2026-05-16 09:00 cycling, 110 min active: surges; 2026-05-16-moor-tracks.fit)
    >>> found == audit(ride)[0]
    True
    """
    home = _home(source, folder, test)
    if settings is not None:
        home = with_settings(home, settings)
    if test is not None:
        home = judged_by(home, test)
    with guarded():
        recording = source if isinstance(source, Recording) else read(source)
        return audit_recording(recording, _meant(home, recording, intent) if intent else home, sport)


def _meant(home: AthleteFolder, recording: Recording, intent: str) -> AthleteFolder:
    """The folder with a label for the recording's days, those before and after too, wherever on earth it was made."""
    check_intent(intent, "audit", "intent")
    begun = [datetime.fromtimestamp(float(item.time_s[0]), UTC).date() for item in recording.sessions]
    days = sorted({day + timedelta(days=by) for day in begun for by in (-1, 0, 1)})
    return replace(home, labels=tuple(SessionLabel(day, None, intent) for day in days))


def _home(source: Place | Recording, folder: Place | AthleteFolder | None, test: Test | None) -> AthleteFolder:
    if isinstance(folder, AthleteFolder):
        return folder
    around = Path(folder) if folder is not None else None
    if around is None and not isinstance(source, Recording):
        around = folder_around(Path(source))
    if around is not None:
        return open_folder(around)
    if test is None:
        raise UsageError(
            "expected an athlete folder or a test to judge by, found neither.",
            hint="Give folder=..., or test= a test file, a zone set or given_edges(...).",
        )
    return AthleteFolder(Path(), default_athlete(Path()), (), ())


def with_settings(home: AthleteFolder, settings: Settings | Mapping[str, Any]) -> AthleteFolder:
    """The folder by other settings, its zone sets made anew. Raises AthleteFileError for a setting that is none."""
    wanted = settings if isinstance(settings, Settings) else Settings.from_mapping(settings, "settings")
    zones = tuple(make_zones(item.test, wanted.steptest) for item in home.zone_sets)
    return replace(home, athlete=replace(home.athlete, settings=wanted), zone_sets=zones)


def judged_by(home: AthleteFolder, test: Test) -> AthleteFolder:
    """The folder with every session of a test's sport judged by it, whatever the dates."""
    if isinstance(test, StepTest):
        return replace(home, named=(make_zones(test, home.athlete.settings.steptest),))
    return replace(
        home, named=(test,) if isinstance(test, ZoneSet) else zone_sets_of(Path(test), home.athlete.settings)
    )
