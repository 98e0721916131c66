"""One athlete folder while it is open: its season, read in the background as files change, and what waits for the athlete."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from steadyband.athlete.athlete import NAME, read_athlete
from steadyband.athlete.condensed import Condensed
from steadyband.athlete.folder import AthleteFolder, open_folder, recordings_in
from steadyband.athlete.labelling import Answer, append_label, label_of, remove_label, unlabelled
from steadyband.athlete.model import Athlete, SessionLabel
from steadyband.athlete.noting import note_session, note_week
from steadyband.athlete.season import Season, load_season
from steadyband.athlete.store import open_store
from steadyband.athlete.watch import is_finished_name, stamp_of
from steadyband.ground.errors import SteadybandError
from steadyband.open.arrivals import Shelf
from steadyband.open.missing import MissingError
from steadyband.open.taking import Taking
from steadyband.report.common.beside import session_names
from steadyband.review.hours import monday_of
from steadyband.review.model import week_name

Stamp = tuple[object, ...]


PAGES_KEPT = 200
"""Pages kept while nothing on the disk changes."""
TAKEN_BACK = 50
"""Labels of this run that can be taken back."""


@dataclass(slots=True)
class Reading:
    """How far the reading is: files done of those that must be read; `stopped` and `fault` say how it ended, where not well."""

    busy: bool = False
    done: int = 0
    total: int = 0
    stopped: bool = False
    fault: str = ""
    wish_to_stop: bool = False

    def judging(self, files: int) -> None:
        """So many files are judged again as they were measured; that is quick, and not counted."""

    def begin(self, to_read: int, known: int) -> None:
        """So many files must be read."""
        self.done, self.total = 0, to_read

    def advance(self, files: int) -> None:
        """So many more are done. Raises KeyboardInterrupt, as Ctrl-C does, where somebody wants it to stop."""
        self.done += files
        if self.wish_to_stop:
            raise KeyboardInterrupt


@dataclass(slots=True)
class Desk:
    """What is open: the folder's path, and what was read of it."""

    path: Path
    reading: Reading = field(default_factory=Reading)
    version: int = 0
    home: AthleteFolder | None = None
    season: Season | None = None
    labelled: list[tuple[str, SessionLabel]] = field(default_factory=list)
    _taking: Taking | None = None
    _read: Stamp = ()
    _pages: dict[str, bytes] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _drawing: threading.Lock = field(default_factory=threading.Lock)
    _idle: threading.Event = field(default_factory=threading.Event)

    def look(self, wait_s: float = 0.0) -> None:
        """Begins to read where the disk holds something else than was read, and waits some seconds for the end of it."""
        with self._lock:
            if not self.reading.busy and not self.reading.stopped and (now := _stamp(self.path)) != self._read:
                self._begin(now)
        self.wait(wait_s)

    def stop(self) -> None:
        """Ends the reading soon; what is done is kept."""
        self.reading.wish_to_stop = True

    def wait(self, wait_s: float) -> None:
        """Waits for the end of the reading, at most so many seconds."""
        if self.reading.busy:
            self._idle.wait(wait_s)

    def go_on(self) -> None:
        """Reads on after a stop."""
        self.reading.stopped = False

    def _begin(self, now: Stamp) -> None:
        self.reading = Reading(busy=True)
        self._idle.clear()
        threading.Thread(target=self._work, args=(self.reading, now), daemon=True).start()

    def _work(self, reading: Reading, now: Stamp) -> None:
        try:
            home = open_folder(self.path)
            paths = [path for path in recordings_in(home.athlete.activities) if is_finished_name(path)]
            season = load_season(paths, home, open_store(home), reading)
            with self._drawing:
                self.home, self.season, self._read = home, season, now
                self._pages.clear()
                self.version += 1
        except KeyboardInterrupt:  # Stopped, wherever in the reading the wish was heard
            reading.stopped = True
        except SteadybandError as fault:
            reading.fault, self._read = str(fault), now
        except OSError as fault:
            reading.fault, self._read = f"{fault.filename or 'a file'}: {fault.strerror or fault}.", now
        finally:
            reading.busy = False
            self._idle.set()

    def page(self, name: str, draw: Callable[[AthleteFolder, Season], str]) -> bytes:
        """A page of what was read, drawn once and kept until something changes. One is drawn at a time."""
        with self._drawing:
            if self.home is None or self.season is None:
                raise MissingError(name)
            if name not in self._pages:
                if len(self._pages) >= PAGES_KEPT:
                    self._pages.clear()
                self._pages[name] = draw(self.home, self.season).encode()
            return self._pages[name]

    def athlete(self) -> Athlete:
        """athlete.toml as it is now."""
        return read_athlete(self.path / NAME)

    def shelf(self) -> Shelf:
        """Where recordings and tests arrive."""
        athlete = self.athlete()
        return Shelf(athlete.activities, athlete.tests, athlete.settings)

    def taking(self) -> Taking:
        """The tests that are being entered."""
        with self._lock:
            if self._taking is None:
                athlete = self.athlete()
                self._taking = Taking(athlete.tests, athlete.settings.steptest)
            return self._taking

    def close(self) -> None:
        """Ends the reading and lets go of the tests that are being entered; all of it is kept."""
        self.stop()
        if self._taking is not None:
            self._taking.close()

    def weeks(self) -> tuple[date, ...]:
        """The Mondays of the weeks that hold a session, in order."""
        return tuple(sorted({monday_of(item.day) for item in self.season.sessions})) if self.season else ()

    def named(self) -> dict[str, Condensed]:
        """Every session by the name of its own page."""
        return names_of(self.season) if self.season else {}

    def to_label(self) -> tuple[tuple[str, Condensed], ...]:
        """The sessions nobody labelled, with their names, the latest first."""
        if self.season is None:
            return ()
        names = {id(item): name for name, item in self.named().items()}
        found = [(names[id(item)], item) for item in unlabelled(self.season.sessions) if id(item) in names]
        return tuple(sorted(found, key=lambda pair: pair[1].audit.info.start, reverse=True))

    def label(self, name: str, intent: str) -> bool:
        """Labels a session by its name, as `steadyband label` does; False where there is none of that name."""
        item = self.named().get(name)
        if item is None:
            return False
        row = label_of(item, Answer("intent", intent))
        append_label(self.path / "sessions.csv", row)
        self.labelled = [*self.labelled[1 - TAKEN_BACK :], (name, row)]
        return True

    def note(self, name: str, text: str) -> bool:
        """Adds a note on a session, by its name; False where there is none of that name."""
        item = self.named().get(name)
        if item is None:
            return False
        row = note_session(self.path / "sessions.csv", item, text)
        self.labelled = [*self.labelled[1 - TAKEN_BACK :], (name, row)]
        return True

    def note_week(self, week: str, text: str) -> bool:
        """Adds a note on a week, by its name; False where it holds no session."""
        if week not in {week_name(day) for day in self.weeks()}:
            return False
        note_week(self.path / "weeks.csv", week, text)
        return True

    def take_back(self) -> str:
        """Takes the last label of this run back; the name of its session, empty where there is none."""
        if not self.labelled:
            return ""
        name, row = self.labelled.pop()
        remove_label(self.path / "sessions.csv", row)
        return name


def names_of(season: Season) -> dict[str, Condensed]:
    """Every session by the name of its own page."""
    by_day: dict[date, list[Condensed]] = {}
    for item in season.sessions:
        by_day.setdefault(item.day, []).append(item)
    named: dict[str, Condensed] = {}
    for items in by_day.values():
        named |= dict(zip(session_names([item.audit for item in items]), items, strict=True))
    return named


def _stamp(home: Path) -> Stamp:
    """What the folder's files look like from outside: changed means that something must be read."""
    own = [home / name for name in ("athlete.toml", "sessions.csv", "plan.csv", "weeks.csv")]
    try:
        athlete = read_athlete(home / NAME)
        tests = sorted(path for path in athlete.tests.rglob("*") if path.is_file() and not path.name.startswith("."))
        own += [*tests, *recordings_in(athlete.activities)]
    except (SteadybandError, OSError):
        pass
    return tuple((str(path), stamp_of(path)) for path in own)
