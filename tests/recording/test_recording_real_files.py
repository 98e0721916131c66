"""Every real device file at hand is read, read up to its damage, or refused in a sentence.

The expectations come from the folder's own README (what each file is called and holds), not from the reader.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from test_recording_contract import PLAUSIBLE

from conftest import recording_files
from steadyband.ground.errors import DamagedRecordingError, NotAnActivityError, NoTimedTrackError, RecordingError
from steadyband.recording import Recording, read, to_rows

TIMELESS_GPX = {
    "custom_schema_locations.gpx",
    "default_schema_locations.gpx",
    "gpx1.1_with_extensions.gpx",
    "gpx1.1_with_extensions_without_namespaces.gpx",
    "gpx_with_garmin_extension.gpx",
    "route.gpx",
    "track-with-extremes.gpx",
    "track-with-small-floats.gpx",
    "track_with_dilution_errors.gpx",
    "unicode.gpx",
    "unicode2.gpx",
    "unicode_with_bom.gpx",
    "unicode_with_bom_noencoding.gpx",
}
"""Counted by hand with grep: no <trkpt> of theirs holds a <time>."""

# By the file names: sport word, and hours and minutes where the name tells them.
NAMED = {"ride": "cycling", "run": "running", "swim": "swimming", "rowing": "rowing"}


def named(path: Path) -> str:
    return path.name


def check(recording: Recording) -> None:
    assert recording.sessions
    for session in recording.sessions:
        assert np.all(np.diff(session.time_s) >= 0)
        rows = to_rows(session)
        assert np.all(rows.recorded.astype(int) + rows.pause + rows.gap == 1)
        for name, values in rows.channels.items():
            low, high = PLAUSIBLE[name]
            finite = values[np.isfinite(values)]
            assert np.all((finite >= low) & (finite <= high)), name


@pytest.mark.parametrize("path", recording_files("fit"), ids=named)
def test_activities_are_read(path: Path) -> None:
    recording = read(path)
    assert recording.damage is None
    check(recording)
    word = path.name.split("_")[0]
    if word in NAMED:
        assert [session.sport for session in recording.sessions] == [NAMED[word]]


@pytest.mark.parametrize("path", [p for p in recording_files("fit") if "h" in p.stem.rpartition("_")[2]], ids=named)
def test_length_is_the_one_in_the_name(path: Path) -> None:
    hours, _, minutes = path.stem.rpartition("_")[2].partition("h")
    if not (hours.isdigit() and (minutes.isdigit() or not minutes)) or "multisport" in path.name:
        pytest.skip("no length in its name")
    elapsed = sum(len(to_rows(session)) for session in read(path).sessions) / 60
    told = int(hours) * 60 + int(minutes or 0)
    assert elapsed == pytest.approx(told, abs=1 if minutes else 30)


def test_multisport_holds_its_sports_in_order() -> None:
    path = next((p for p in recording_files("fit") if p.name.startswith("multisport")), None)
    if path is None:
        pytest.skip("no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)")
    recording = read(path)
    # Reference library garmin-fit-sdk 21.218.0: session_mesgs of the file, sport.
    sports = ["generic", "transition", "running", "transition", "running", "transition", "cycling"]
    assert [session.sport for session in recording.sessions] == sports
    ends = [session.time_s[-1] for session in recording.sessions[:-1]]
    assert all(end < later.time_s[0] for end, later in zip(ends, recording.sessions[1:], strict=True))


@pytest.mark.parametrize("path", recording_files("fit_other"), ids=named)
def test_other_files_are_refused_in_a_sentence(path: Path) -> None:
    with pytest.raises((NotAnActivityError, NoTimedTrackError)) as error:
        read(path)
    assert "\n" not in str(error.value)
    assert error.value.file == str(path)
    assert error.value.hint


@pytest.mark.parametrize("path", recording_files("fit_damaged"), ids=named)
def test_damaged_files_are_read_up_to_there(path: Path) -> None:
    try:
        recording = read(path)
    except DamagedRecordingError as error:
        assert error.hint  # noqa: PT017
        return
    check(recording)
    # This one is whole: only the identity of a developer is missing from it (a fault that no channel depends on).
    assert (recording.damage is None) == (path.name == "developer-data-without-application-id.fit")


@pytest.mark.parametrize("path", recording_files("gpx"), ids=named)
def test_gpx_is_read_or_says_that_it_holds_no_timed_track(path: Path) -> None:
    if path.name in TIMELESS_GPX:
        with pytest.raises(NoTimedTrackError, match="holds no timed track"):
            read(path)
        return
    recording = read(path)
    assert recording.damage is None
    assert recording.sessions
    for session in recording.sessions:
        to_rows(session)


@pytest.mark.parametrize("path", recording_files("fit") + recording_files("gpx"), ids=named)
def test_cut_anywhere_is_read_up_to_there_or_refused(path: Path) -> None:
    data = path.read_bytes()[:40_000]
    for share in (0.11, 0.52, 0.93):
        try:
            for session in read(data[: int(len(data) * share)]).sessions:
                to_rows(session)
        except RecordingError as error:
            assert "\n" not in str(error)  # noqa: PT017
