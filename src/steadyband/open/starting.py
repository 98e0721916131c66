"""Where to keep a folder: offered by name, so that no path has to be typed and none comes from the browser."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from zoneinfo import available_timezones

from steadyband.athlete.athlete import NAME
from steadyband.athlete.demo import write_demo
from steadyband.athlete.edit import set_values
from steadyband.athlete.starter import write_starter

FOLDER, DEMO = "steadyband", "steadyband-demo"


@dataclass(frozen=True, slots=True)
class Start:
    """One place to begin: what its button says, a line below it, and what makes it, given the browser's time zone."""

    words: str
    note: str
    make: Callable[[str], Path]


def starts_at(folder: Path) -> tuple[Start, ...]:
    """The one place that was named on the command line, and the invented athlete beside it."""
    return (_new(folder), _demo(folder.parent / DEMO))


def starts_anywhere(home: Path, here: Path) -> tuple[Start, ...]:
    """Places to begin where none was named: in the documents, in the user's own folder, in this one; folders that are there first."""
    around = [place for place in (home / "Documents", home, here) if place.is_dir()]
    places = list(dict.fromkeys((place / FOLDER).absolute() for place in around))
    known = [_known(place) for place in places if (place / NAME).is_file()]
    new = [_new(place) for place in places if not place.exists()]
    return (*known, *new, _demo((home / DEMO).absolute()))


def _known(place: Path) -> Start:
    return Start(f"Open {place}", "An athlete folder that is there already.", lambda _: place)


def _new(place: Path) -> Start:
    note = "A new folder for your recordings, step tests and pages. Nothing in it leaves this computer."
    return Start(f"Keep it in {place}", note, partial(_made, place))


def _made(place: Path, zone: str) -> Path:
    write_starter(place)
    if zone in available_timezones():
        set_values(place / NAME, {("time_zone",): zone})
    return place


def _demo(place: Path) -> Start:
    note = f"Nothing of it is real. It goes into {place}; delete that folder when you are done."
    return Start("Look at an invented athlete first", note, partial(_shown, place))


def _shown(place: Path, zone: str) -> Path:
    if not (place / NAME).is_file():
        write_demo(place)
    return place
