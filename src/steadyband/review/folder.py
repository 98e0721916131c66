"""The athlete folder: athlete.toml, tests/, activities/, sessions.csv, reports/."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from steadyband.errors import AthleteFileError, UsageError
from steadyband.review.athlete import NAME, default_athlete, read_athlete
from steadyband.review.labels import read_labels
from steadyband.review.measured import zone_sets_of
from steadyband.review.model import Athlete, SessionLabel
from steadyband.steptest import ZoneSet


@dataclass(frozen=True, slots=True)
class AthleteFolder:
    """Everything known about an athlete but the recordings themselves."""

    path: Path
    athlete: Athlete
    zone_sets: tuple[ZoneSet, ...]
    labels: tuple[SessionLabel, ...]


def open_folder(path: Path) -> AthleteFolder:
    """The athlete folder at `path`.

    Raises UsageError where there is no athlete.toml, AthleteFileError and TestFileError where a file is faulty.
    """
    if not (path / NAME).is_file():
        raise UsageError(
            f"expected an athlete folder with an {NAME}, found none in {path}.",
            hint=f"`steadyband init {path}` writes a starter folder.",
        )
    athlete = read_athlete(path / NAME)
    zone_sets = zone_sets_of(athlete.tests, athlete.settings) if athlete.tests.is_dir() else ()
    return AthleteFolder(path, athlete, zone_sets, read_labels(path / "sessions.csv"))


def folder_around(file: Path) -> Path | None:
    """The nearest parent of `file` that holds an athlete.toml, None without one."""
    return next((parent for parent in file.resolve().parents if (parent / NAME).is_file()), None)


def loose_folder(tests: Path) -> AthleteFolder:
    """A folder of tests, or one test file, without an athlete around it."""
    around = folder_around(tests / "x" if tests.is_dir() else tests)
    athlete = read_athlete(around / NAME) if around else default_athlete(tests.parent)
    labels = read_labels(around / "sessions.csv") if around else ()
    return AthleteFolder(around or tests.parent, athlete, zone_sets_of(tests, athlete.settings), labels)


def recordings_in(folder: Path) -> list[Path]:
    """Every file below `folder`, sorted; hidden files and folders, and links that lead out of it, are left alone."""
    if not folder.is_dir():
        raise AthleteFileError(
            f"expected a folder of recordings, found none at {folder}.", hint="Put FIT and GPX files into it."
        )
    root = folder.resolve()
    found = []
    for parent, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        paths = [Path(parent, name) for name in sorted(files) if not name.startswith(".")]
        found += [path for path in paths if path.resolve().is_relative_to(root)]
    return found
