"""Recordings that lie in the wrong folder of an athlete: found by name, told, never moved."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from steadyband.athlete.athlete import NAME
from steadyband.athlete.folder import AthleteFolder
from steadyband.recording.archives import list_sources
from steadyband.recording.formats import FORMATS, PACKED

DEEPEST = 3
"""How far below the athlete folder is looked (design choice: further down is somebody else's business)."""
MOST = 5000
"""Most files looked at (design choice): a folder with more is no athlete folder."""
NAMED = 3
ARCHIVE_MAX = 2**26
"""Largest archive that is looked into [bytes] (design choice): one of photographs would cost every command its time."""


def misplaced(home: AthleteFolder) -> tuple[str, ...]:
    """A sentence on each folder of the athlete's that holds recordings and is not the one for them.

    What a test names as its own recording belongs beside it; links and other athletes' folders are left alone.
    """
    if Path(os.path.realpath(home.path)).is_relative_to(os.path.realpath(home.athlete.activities)):
        return ()
    found: dict[Path, list[str]] = {}
    own = {Path(zones.test.recording).name for zones in home.zone_sets if zones.test.recording}
    for path in _files(home):
        if path.name not in own and _is_recording(path):
            found.setdefault(path.parent, []).append(path.name)
    return tuple(_sentence(folder, names, home) for folder, names in sorted(found.items()))


def _files(home: AthleteFolder) -> Iterator[Path]:
    root = Path(os.path.realpath(home.path))
    closed = {os.path.realpath(home.athlete.activities), os.path.realpath(home.athlete.reports)}
    looked = 0
    for parent, folders, files in os.walk(root):
        here = Path(parent)
        deep = len(here.relative_to(root).parts) >= DEEPEST
        folders[:] = [] if deep else sorted(name for name in folders if _is_open(here / name, closed))
        for name in sorted(files):
            looked += 1
            if looked > MOST:
                return
            if not name.startswith(".") and not (here / name).is_symlink():
                yield here / name


def _is_open(folder: Path, closed: set[str]) -> bool:
    hidden = folder.name.startswith(".") or folder.is_symlink()
    return not hidden and os.path.realpath(folder) not in closed and not (folder / NAME).exists()


def _is_recording(path: Path) -> bool:
    """By name alone, an archive by the names in it."""
    suffixes = [suffix.lstrip(".").casefold() for suffix in path.suffixes[-2:]]
    if suffixes[-1:] == ["zip"]:
        small = path.stat().st_size <= ARCHIVE_MAX
        return small and any(_is_recording(Path(source.name)) for source in list_sources(path).sources if source.inside)
    return any(
        suffix in FORMATS for suffix in (suffixes if suffixes[-1:] and suffixes[-1] in PACKED else suffixes[-1:])
    )


def _sentence(folder: Path, names: list[str], home: AthleteFolder) -> str:
    place = folder.relative_to(os.path.realpath(home.path))
    where = "the athlete folder itself" if not place.parts else f"{place}/"
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    what = "recording" if len(names) == 1 else "recordings"
    right = Path(os.path.relpath(home.athlete.activities, home.path))
    listed = f"{', '.join(names[:NAMED])}{more}"
    return f"Found {len(names)} {what} in {where}: {listed}. Only those in {right}/ are reviewed: move {'it' if len(names) == 1 else 'them'} there."
