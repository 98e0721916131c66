"""Where tests find things: the repository root, the demo folder and, if present, a folder of real device files."""

from __future__ import annotations

import os
from pathlib import Path

import hypothesis
import pytest

hypothesis.settings.register_profile("steadyband", deadline=None, derandomize="CI" in os.environ)
hypothesis.settings.load_profile("steadyband")

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo_activities"


def recordings_dir() -> Path | None:
    """The folder of real device files, or None: STEADYBAND_RECORDINGS, else ../shared/recordings."""
    named = os.environ.get("STEADYBAND_RECORDINGS")
    folder = Path(named) if named else ROOT.parent / "shared" / "recordings"
    return folder if folder.is_dir() else None


def recording_files(kind: str) -> list[Path]:
    """Sorted real device files of one kind (fit, gpx, fit_damaged, fit_other); empty where the folder is absent."""
    folder = recordings_dir()
    return sorted(p for p in (folder / kind).iterdir() if p.is_file()) if folder else []


@pytest.fixture
def recordings() -> Path:
    """The folder of real device files; skips where it is absent."""
    folder = recordings_dir()
    if folder is None:
        pytest.skip("no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)")
    return folder
