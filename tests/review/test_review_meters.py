"""Meter offsets named in athlete.toml: applied where device and test meter fit, nowhere else, and said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from conftest import DEMO
from steadyband.athlete.athlete import parse_athlete
from steadyband.athlete.folder import open_folder
from steadyband.athlete.model import NamedOffset
from steadyband.athlete.sessions import audit_file
from steadyband.ground.errors import AthleteFileError
from steadyband.steptest.meters import MeterOffset
from steadyband.told.notes import quality_notes

RIDE = DEMO / "activities" / "2026-W20" / "2026-05-12-shore-gravel.fit"


def test_watts_are_moved_and_the_audit_says_so() -> None:
    """By hand: +10 W on every second of a ride without coasting moves its mean by 10 W."""
    folder = open_folder(DEMO)
    meter = next(zones.test.meter for zones in folder.zone_sets if zones.test.sport == "cycling")
    (plain,) = audit_file(RIDE, folder)

    def mean_with(device: str, test_meter: str) -> float:
        offset = NamedOffset(device, test_meter, MeterOffset(10.0, 1.0))
        moved = replace(folder, athlete=replace(folder.athlete, meter_offsets=(offset,)))
        (found,) = audit_file(RIDE, moved)
        assert found.load is not None
        said = any("turned into that of the test's meter" in note for note in quality_notes(found))
        assert said == (found.load.mean != plain.load.mean)
        return found.load.mean

    assert plain.load is not None
    assert np.count_nonzero(plain.traces.load == 0) == 0
    assert mean_with("development", meter.casefold()) == pytest.approx(plain.load.mean + 10)
    assert mean_with("development", "another meter") == plain.load.mean
    assert mean_with("another device", meter.casefold()) == plain.load.mean


@pytest.mark.parametrize(
    ("table", "parts"),
    [
        ({"device": "", "test_meter": "a", "intercept_w": 1, "slope": 1}, ["device"]),
        ({"device": "b", "test_meter": "a", "intercept_w": 1000, "slope": 1}, ["intercept_w", "-100 to 100", "1000"]),
        ({"device": "b", "test_meter": "a", "intercept_w": 1, "slope": 9}, ["slope", "0.5 to 2"]),
        ({"device": "b", "test_meter": "a", "intercept_w": 1}, ["slope", "None"]),
        ({"devise": "b"}, ["devise", "Did you mean 'device'"]),
    ],
)
def test_faults_name_the_key(table: dict[str, object], parts: list[str]) -> None:
    with pytest.raises(AthleteFileError) as caught:
        parse_athlete({"meter_offset": [table]}, Path(), "athlete.toml")
    assert all(part in str(caught.value) for part in ["meter_offset 1.", *parts]), str(caught.value)
