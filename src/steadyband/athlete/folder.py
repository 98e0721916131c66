"""The athlete folder: athlete.toml, tests/, activities/, sessions.csv, reports/."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from steadyband.athlete.athlete import NAME, default_athlete, read_athlete
from steadyband.athlete.labels import read_label_file, read_labels
from steadyband.athlete.measured import zone_sets_of
from steadyband.athlete.model import Athlete, SessionLabel, WeekNote
from steadyband.athlete.own_words import read_week_notes
from steadyband.ground.errors import AthleteFileError, UsageError
from steadyband.ground.plain import plain
from steadyband.ground.reader import written_for
from steadyband.steptest import ZoneSet, choose
from steadyband.steptest.choose import Choice, choose_named


@dataclass(frozen=True, slots=True, repr=False)
class AthleteFolder:
    """Everything known about an athlete but the recordings themselves."""

    path: Path
    athlete: Athlete
    zone_sets: tuple[ZoneSet, ...]
    labels: tuple[SessionLabel, ...]
    named: tuple[ZoneSet, ...] = ()
    """Tests named to judge every session of their sport, whatever the dates."""
    week_notes: tuple[WeekNote, ...] = ()
    label_faults: tuple[str, ...] = ()
    """A sentence on each row of sessions.csv that could not be used."""

    def __repr__(self) -> str:
        return f"AthleteFolder({self.path}: {len(self.zone_sets)} step tests, {len(self.labels)} labels)"

    def choice(self, sport: str, on: date) -> Choice:
        """The test that a session of a sport on a local day is judged by."""
        settings = self.athlete.settings.steptest
        if any(zones.test.sport == sport for zones in self.named):
            return choose_named(self.named, sport, on, settings)
        return choose(self.zone_sets, sport, on, settings)


def by_test(folder: AthleteFolder, test: Path) -> AthleteFolder:
    """The folder with every session of a test's sport judged by that test; other sports keep their own tests.

    Its pages go to a folder of their own in the reports folder, so that none replaces a page by the tests in force. Raises
    TestFileError where the test is faulty, AthleteFileError where that folder is a link that leads elsewhere.
    """
    with written_for(folder.athlete.reader):
        named = zone_sets_of(test, folder.athlete.settings)
    reports = folder.athlete.reports / f"by-{test.stem}"
    _check_inside(reports, folder.athlete.reports)
    check_own(folder.path, reports)
    return replace(folder, named=named, athlete=replace(folder.athlete, reports=reports))


def open_folder(path: str | os.PathLike[str]) -> AthleteFolder:
    """The athlete folder at `path`.

    Raises UsageError where there is no athlete.toml, AthleteFileError and TestFileError where a file is faulty.

    In the folder of the project:

    >>> open_folder("demo_activities")
    AthleteFolder(demo_activities: 3 step tests, 8 labels)
    """
    path = Path(path)
    if not (path / NAME).is_file():
        raise UsageError(
            f"expected an athlete folder with an {NAME}, found none in {path}.",
            hint=f"`steadyband init {path}` writes a starter folder.",
        )
    athlete = read_athlete(path / NAME)
    check_own(path, athlete.reports)
    with written_for(athlete.reader):
        zone_sets = zone_sets_of(athlete.tests, athlete.settings) if athlete.tests.is_dir() else ()
    labels = read_label_file(path / "sessions.csv")
    notes = read_week_notes(path / "weeks.csv")
    return AthleteFolder(path, athlete, zone_sets, labels.rows, week_notes=notes, label_faults=labels.faults)


WRITTEN = (".steadyband", "reports", "reports/sessions", "reports/assets", "reports/shared")
"""Folders of an athlete folder that are written to."""


def check_own(home: Path, reports: Path) -> None:
    """Raises AthleteFileError where a folder that is written to is a link that leads out of the athlete folder.

    `reports` is where athlete.toml has the pages go, which may be anywhere; what lies in it may not be led elsewhere.
    """
    inside = [(home / name, home) for name in WRITTEN]
    inside += [(reports / name.removeprefix("reports/"), reports) for name in WRITTEN if name.startswith("reports/")]
    for place, around in inside:
        _check_inside(place, around)


def _check_inside(place: Path, around: Path) -> None:
    if place.is_symlink() and not real_path(place).is_relative_to(real_path(around)):
        raise AthleteFileError(
            f"expected a folder of this athlete's own, found a link that leads to {plain(str(real_path(place)))}; it "
            "is neither read nor written to.",
            file=plain(str(place)),
            hint='Remove the link. Pages may go elsewhere by reports = "..." in athlete.toml.',
        )


def folder_around(file: Path) -> Path | None:
    """The nearest parent of `file` that holds an athlete.toml, None without one."""
    return next((parent for parent in real_path(file).parents if (parent / NAME).is_file()), None)


def loose_folder(tests: Path) -> AthleteFolder:
    """A folder of tests, or one test file, without an athlete around it."""
    around = folder_around(tests / "x" if tests.is_dir() else tests)
    athlete = read_athlete(around / NAME) if around else default_athlete(tests.parent)
    labels = read_labels(around / "sessions.csv") if around else ()
    with written_for(athlete.reader):
        zone_sets = zone_sets_of(tests, athlete.settings)
    return AthleteFolder(around or tests.parent, athlete, zone_sets, labels)


def recordings_in(folder: Path) -> list[Path]:
    """Every file below `folder`, sorted; hidden files and folders, and links that lead out of it, are left alone."""
    if not folder.is_dir():
        raise AthleteFileError(
            f"expected a folder of recordings, found none at {folder}.", hint="Put FIT and GPX files into it."
        )
    return _looked_through(folder)[0]


def left_alone_in(folder: Path) -> tuple[str, ...]:
    """A sentence on each link below `folder` that leads out of it, and on each folder that may not be looked into."""
    return tuple(_looked_through(folder)[1]) if folder.is_dir() else ()


def _looked_through(folder: Path) -> tuple[list[Path], list[str]]:
    """(the files, sentences on what was left alone); links to folders are never followed."""
    root = real_path(folder)
    found: list[Path] = []
    alone: list[str] = []

    def closed(fault: OSError) -> None:
        alone.append(f"{plain(str(fault.filename))} cannot be looked into ({fault.strerror}).")

    for parent, folders, files in os.walk(folder, onerror=closed):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        paths = [Path(parent, name) for name in sorted(files) if not name.startswith(".")]
        links = [path for path in (*paths, *(Path(parent, name) for name in folders)) if path.is_symlink()]
        out = {path for path in links if not real_path(path).is_relative_to(root)}
        nameless = {path for path in paths if not _is_text(path.name)}
        found += [path for path in paths if path not in out and path not in nameless]
        alone += [f"{plain(str(path))}: its name is no UTF-8 text; rename it." for path in sorted(nameless - out)]
        alone += [
            f"{plain(str(path))} is a link that leads out of its folder; it is not followed." for path in sorted(out)
        ]
    return found, alone


def _is_text(name: str) -> bool:
    """False for names in bytes of another encoding: no page, table or store could hold them."""
    return not any("\ud800" <= sign <= "\udfff" for sign in name)


def real_path(path: Path) -> Path:
    """Where a path leads once all links are followed; a loop of links leads to itself."""
    return Path(os.path.realpath(path))
