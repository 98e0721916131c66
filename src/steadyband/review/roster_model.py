"""A coach's roster: what one week of one athlete comes to, and all athletes of a folder in one order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from steadyband.review.model import PlanHours

Group = Literal["unusable", "left", "creeping", "test", "unread", "asked", "nothing", "held"]
NoteCode = Literal["left", "drift", "creep", "test", "fit", "asked", "cut", "unread"]
GROUPS: tuple[Group, ...] = ("unusable", "left", "creeping", "test", "unread", "asked", "nothing", "held")
"""From the top of the roster to its end: worst first (design choice)."""


@dataclass(frozen=True, slots=True)
class RosterNote:
    """One thing to look at: what kind, a few words, and the evidence in full; `file` is the recording or test it is about."""

    code: NoteCode
    head: str
    text: str
    file: str = ""


@dataclass(frozen=True, slots=True)
class RosterTest:
    """The test in force of a sport done in the week; `fit` says whether it agrees with recent heart rates, None where unknown."""

    sport: str
    test: str | None
    age_days: int | None
    freshness: str | None
    fit: str | None
    reason: str | None
    due: date | None = None  # the day from which it is stale


@dataclass(frozen=True, slots=True)
class RosterWeek:
    """One week of an athlete at a glance: endurance sessions held of those judged, and the active time [s] of all."""

    first_day: date
    sessions: int = 0
    judged: int = 0
    held: int = 0
    active_s: int = 0


@dataclass(frozen=True, slots=True)
class RosterEntry:
    """One athlete in one week, condensed to what the roster shows.

    `folder` is the athlete folder's place below the roster's. The week is that of `first_day`; both are None where there was
    nothing to review, then `fault` or `answer` says why. `page` is the athlete's own page of that week, written or None.
    """

    folder: str
    name: str
    answer: str
    first_day: date | None = None
    last_session: date | None = None
    sessions: int = 0
    judged: int = 0
    held: int = 0
    unsure: int = 0
    active_s: int = 0
    notes: tuple[RosterNote, ...] = ()
    tests: tuple[RosterTest, ...] = ()
    weeks: tuple[RosterWeek, ...] = ()  # up to four, the last is that of `first_day`
    plan: tuple[PlanHours, ...] = ()
    season_sessions: int = 0  # sessions of the whole folder
    page: Path | None = None
    fault: str = ""

    @property
    def lost(self) -> int:
        """Sessions that left the band."""
        return self.judged - self.held

    def count(self, *codes: NoteCode) -> int:
        """How many notes are of these kinds."""
        return sum(note.code in codes for note in self.notes)


@dataclass(frozen=True, slots=True)
class RosterPlace:
    """An athlete in the roster, under the first heading that fits; `weeks` are the roster's last four, `changed` says what
    is new since the last run."""

    group: Group
    entry: RosterEntry
    weeks: tuple[RosterWeek, ...] = ()
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Roster:
    """All athletes of a folder in one ISO week, worst first; the days are None where no folder holds a session."""

    folder: Path
    first_day: date | None
    last_day: date | None
    answer: str
    subline: str
    places: tuple[RosterPlace, ...]
    left_alone: tuple[str, ...] = ()

    @property
    def failed(self) -> int:
        """Athletes whose folder, or a file in it, could not be used."""
        return sum(bool(place.entry.fault or place.entry.count("unread")) for place in self.places)
