"""Zone sets of the tests in a folder, with loads and heart rates measured from a test's own recording where it names one."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from steadyband.ground.errors import RecordingError
from steadyband.ground.settings import Settings
from steadyband.recording import SessionRecords, read
from steadyband.recording.cleaning import prepared_rows
from steadyband.steptest import StepTest, ZoneSet, load_tests, make_zones
from steadyband.steptest.measure import measured_test
from steadyband.steptest.model import Check


def zone_sets_of(tests: Path, settings: Settings) -> tuple[ZoneSet, ...]:
    """The zone set of every test in a folder, or of one test file, sorted by date.

    Raises TestFileError where a test file is faulty; a recording that cannot be used leaves the typed values and a check.
    """
    home = tests if tests.is_dir() else tests.parent
    return tuple(_zones(test, home, settings) for test in load_tests(tests, settings.steptest))


def _zones(test: StepTest, home: Path, settings: Settings) -> ZoneSet:
    measured, checks = _measured(test, home, settings) if test.recording else (test, ())
    zones = make_zones(measured, settings.steptest)
    return replace(zones, checks=(*zones.checks, *checks))


def _measured(test: StepTest, home: Path, settings: Settings) -> tuple[StepTest, tuple[Check, ...]]:
    try:
        recording = read(_at_home(home, str(test.recording)))
        session = _session_of(test, recording.sessions)
        return measured_test(test, prepared_rows(session, settings, test.sport), session.laps)
    except RecordingError as fault:
        text = f"The test's own recording could not be used, so its loads and heart rates are as typed: {fault}"
        return test, (Check("recording_unreadable", "warn", None, text),)


def _at_home(home: Path, name: str) -> Path:
    """The recording a test names, in the folder of the tests or of the athlete around it. Raises RecordingError elsewhere."""
    path = home / name
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(home.parent)):
        raise RecordingError(
            "expected a recording in the athlete folder, found one outside of it, which is not opened.",
            file=name,
            hint="Put it beside the test.",
        )
    return path


def _session_of(test: StepTest, sessions: tuple[SessionRecords, ...]) -> SessionRecords:
    return next((session for session in sessions if session.sport == test.sport), sessions[0])
