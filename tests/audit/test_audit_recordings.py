"""Audits of real device files: every session gives a valid object, whatever is in it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from audit_builders import SETTINGS, ZONE, Chosen, make_zone_set

from conftest import recording_files
from steadyband.audit import audit_session
from steadyband.audit.model import Audit, SessionInfo
from steadyband.ground.said import Said
from steadyband.recording import read, to_rows
from steadyband.told import audit_to_dict, audit_to_flat, contract_schema

RUN: dict[str, Any] = {"sport": "running", "unit": "min/km", "floor": 2.5, "target_top": 2.8, "ceiling": 3.0}
FILES = recording_files("fit")
VALIDATOR = jsonschema.Draft202012Validator(contract_schema())
CHOICES = {
    "cycling": Chosen(make_zone_set(draws=200, spread=0.03)),
    "running": Chosen(make_zone_set(**RUN, draws=200, spread=0.03)),
}


def audits_of(path: Path) -> list[Audit]:
    recording = read(path)
    found = []
    for session in recording.sessions:
        rows = to_rows(session)
        start = datetime.fromtimestamp(rows.start_s, UTC)
        info = SessionInfo(path.name, recording.sha256, session.sport, session.sub_sport, start, start.astimezone(ZONE))
        choice = CHOICES.get(session.sport, Chosen(None, None, None, Said("no_test_of_sport", {"kind": session.sport})))
        found.append(audit_session(rows, info, choice, SETTINGS))
    return found


@pytest.mark.skipif(not FILES, reason="no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_session_gives_a_valid_object_that_adds_up(path: Path) -> None:
    for found in audits_of(path):
        VALIDATOR.validate(audit_to_dict(found))
        assert None in set(audit_to_flat(found).values())
        seconds = found.seconds
        assert seconds.elapsed == seconds.recorded + seconds.pause + seconds.gap
        assert seconds.active <= seconds.recorded
        if found.bands is not None:
            assert sum(band.seconds for band in found.bands.values()) == seconds.active - seconds.unmeasured
        assert len(found.traces.ribbon) == seconds.elapsed
