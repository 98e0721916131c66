"""What a stored session depends on, as short digests: the code, the athlete's inputs, and what applies to one session.

Its measured rows depend on less than its audit: on the modules that read and clean, and on two groups of settings.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Iterable
from datetime import date
from functools import cache
from pathlib import Path

from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.model import SessionLabel
from steadyband.recording.model import READER_VERSION
from steadyband.steptest.choose import tests_made_on
from steadyband.steptest.model import ZoneSet

STORE_VERSION = 3
"""Layout of the store's files."""

MEASURE = ("recording", "athlete/measuring.py", "athlete/outline.py", "athlete/parts.py", "athlete/codec.py")
"""Folders and modules whose code decides what a recording is measured as: a change has every recording read again."""
MAKE_NUMBERS = (
    *MEASURE,
    *("ground/convert.py", "ground/said.py", "ground/road.py", "ground/robust.py", "ground/slope.py"),
    *("steptest/curve", "steptest/meters.py", "steptest/measure.py", "audit"),
    *("athlete/sessions.py", "athlete/labels.py", "athlete/meters.py", "athlete/zones.py", "athlete/work.py"),
    *("athlete/condensed.py", "athlete/guess.py", "athlete/store/tables.py"),
)
"""Folders and modules whose code decides what is stored. Words, pages and commands are not among them; the values of
settings, the test in force and the labels are keys of their own."""
OUTSIDE = frozenset({"name", "reader", "reports", "tests", "activities", "plan"})
"""Fields of the athlete file that no audit depends on."""
KNOWN = frozenset({"path", "athlete", "zone_sets", "labels", "named", "week_notes", "label_faults"})


def digest(*parts: object) -> str:
    """A short stable digest of the parts, printed in full."""
    made = hashlib.blake2b(digest_size=12)
    for part in parts:
        made.update(repr(_in_full(part)).encode())
        made.update(b"\x00")
    return made.hexdigest()


def _in_full(part: object) -> object:
    """A part with every field of its dataclasses, which may show themselves shorter."""
    if dataclasses.is_dataclass(part) and not isinstance(part, type):
        return type(part).__name__, [(f.name, _in_full(getattr(part, f.name))) for f in dataclasses.fields(part)]
    if isinstance(part, (list, tuple)):
        return [_in_full(item) for item in part]
    return {key: _in_full(value) for key, value in part.items()} if isinstance(part, dict) else part


@cache
def code_digest() -> str:
    """Digest of every module that has a hand in an audit's numbers: a new version never shows an old version's."""
    return _digest_of(MAKE_NUMBERS)


@cache
def measuring_digest() -> str:
    """Digest of every module that has a hand in what a recording is measured as."""
    return _digest_of(MEASURE)


def _digest_of(names: Iterable[str]) -> str:
    root = Path(__file__).resolve().parents[2]
    made = hashlib.blake2b(digest_size=12)
    for path in modules_of(names):
        made.update(str(path.relative_to(root)).encode() + b"\x00" + path.read_bytes() + b"\x00")
    return made.hexdigest()


def modules_of(names: Iterable[str]) -> list[Path]:
    """The modules of folders and files below the package, sorted."""
    places = [Path(__file__).resolve().parents[2] / name for name in names]
    return sorted(path for place in places for path in ([place] if place.is_file() else place.rglob("*.py")))


class Inputs:
    """The digests of one athlete folder; `sport` stands in for one that files do not name.

    `measured` is what the measured rows of all its sessions depend on, `base` what all its audits do.
    """

    def __init__(self, folder: AthleteFolder, sport: str | None = None) -> None:
        self._folder = folder
        self._labels: dict[date, list[SessionLabel]] = {}
        for label in folder.labels:
            self._labels.setdefault(label.date, []).append(label.judging_part)
        self._tests = {id(zones.test): _test_digest(zones) for zones in (*folder.zone_sets, *folder.named)}
        self._recordings = {Path(zones.test.recording).name for zones in folder.zone_sets if zones.test.recording}
        self._seen: dict[tuple[str, date, bool], str] = {}
        settings = folder.athlete.settings
        self.measured = digest(STORE_VERSION, READER_VERSION, measuring_digest(), settings.grid, settings.cleaning)
        self.base = digest(STORE_VERSION, READER_VERSION, code_digest(), sport, *_athlete_parts(folder), *self._named())

    def of_session(self, sport: str, day: date, file: str) -> str:
        """Digest of what applies to a session of a sport on a local day: its labels and the test it is judged by."""
        key = (sport, day, file in self._recordings)
        if key not in self._seen:
            self._seen[key] = digest(
                *key, self._labels.get(day, []), *self._choice(sport, day), *self._made_that_day(sport, day)
            )
        return self._seen[key]

    def _choice(self, sport: str, day: date) -> Iterable[object]:
        choice = self._folder.choice(sport, day)
        test = self._tests[id(choice.zone_set.test)] if choice.zone_set else None
        return test, choice.age_days, choice.freshness, choice.why, choice.passed_over, choice.named

    def _named(self) -> list[str]:
        """Tests named for all sessions are one of the inputs: with and without them a session's audits are kept apart."""
        return [self._tests[id(zones.test)] for zones in self._folder.named]

    def _made_that_day(self, sport: str, day: date) -> list[str]:
        """Tests of that sport and day: a recording may be one of them."""
        made = tests_made_on(self._folder.zone_sets, sport, day)
        return [self._tests[id(zones.test)] for zones in made]


def _test_digest(zones: ZoneSet) -> str:
    """Digest of a test without its notes, which no number depends on."""
    steps = tuple(dataclasses.replace(step, note="") for step in zones.test.steps)
    test = dataclasses.replace(zones.test, note="", position="", analyser="", steps=steps)
    return digest(test, zones.usable, zones.edges, zones.ranges, zones.hr, zones.settings)


def _athlete_parts(folder: AthleteFolder) -> list[object]:
    athlete = folder.athlete
    inside = [(f.name, getattr(athlete, f.name)) for f in dataclasses.fields(athlete) if f.name not in OUTSIDE]
    beside = [(f.name, getattr(folder, f.name)) for f in dataclasses.fields(folder) if f.name not in KNOWN]
    return [*inside, *beside]
