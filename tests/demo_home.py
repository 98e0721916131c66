"""Copies of the demo's athlete folder for tests that write into one."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from conftest import DEMO

NOT_THE_ATHLETES = shutil.ignore_patterns("simulation", "*.py", "__pycache__", ".steadyband", "reports", ".*.lock")
RECORDINGS = (".fit", ".gpx")


def copy_demo(to: Path, source: Path = DEMO) -> Path:
    """The demo as an athlete folder at `to`, its pages going into its own `reports/`. Nothing has been read in it."""
    shutil.copytree(source, to, ignore=NOT_THE_ATHLETES)
    athlete = to / "athlete.toml"
    athlete.write_text(athlete.read_text(encoding="utf-8").replace('"../reports"', '"reports"'), encoding="utf-8")
    return to


def copy_read(read: Path, to: Path) -> Path:
    """A copy of a folder whose recordings were read (the fixture `read_demo`): its commands find them in the store."""
    shutil.copytree(read, to, copy_function=copy_or_link, dirs_exist_ok=True)
    return to


def copy_or_link(source: str, target: str) -> str:
    """Copies a file; a recording, which nothing ever writes to, is linked where the disk can."""
    if Path(source).suffix in RECORDINGS:
        try:
            os.link(source, target)
        except OSError:
            return shutil.copy2(source, target)
        return target
    return shutil.copy2(source, target)
