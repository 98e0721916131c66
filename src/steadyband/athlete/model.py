"""What an athlete folder says about its owner."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from steadyband.athlete.zones import Trip, local_time
from steadyband.audit.model import Rider
from steadyband.ground.reader import Reader
from steadyband.ground.settings import Settings
from steadyband.steptest.meters import MeterOffset


@dataclass(frozen=True, slots=True)
class IntentRule:
    """A word (compared without case) in a recording's own name that tells an intent."""

    word: str
    intent: str


@dataclass(frozen=True, slots=True)
class PlanRow:
    """Planned hours a week of one band of a sport ("total": all its active time); `week` None for every week."""

    week: str | None
    sport: str
    band: str
    hours: float


@dataclass(frozen=True, slots=True)
class NamedOffset:
    """One [[meter_offset]]: `device` is a word of the recording's device name, `test_meter` the `meter` of the test."""

    device: str
    test_meter: str
    offset: MeterOffset


@dataclass(frozen=True, slots=True)
class Athlete:
    """athlete.toml as read."""

    name: str
    time_zone: ZoneInfo
    reader: Reader  # units and clock of everything written for the athlete
    reports: Path
    thresholds: Mapping[str, float | str]  # sport -> upper threshold as typed, in the unit of the sport's test
    intent_rules: tuple[IntentRule, ...]
    settings: Settings
    tests: Path
    activities: Path
    plan: tuple[PlanRow, ...] = ()
    rider: Rider = field(default_factory=Rider)
    privacy_m: float = 300.0  # track left out at both ends
    positions: bool = True
    meter_offsets: tuple[NamedOffset, ...] = ()
    trips: tuple[Trip, ...] = ()

    def local(self, moment: datetime) -> datetime:
        """A moment on the athlete's own clock: that of a trip during it, else that of `time_zone`."""
        return local_time(moment, self.time_zone, self.trips)


@dataclass(frozen=True, slots=True)
class SessionLabel:
    """One row of sessions.csv; `line` is where it stands in the file, 0 where it was never in one."""

    date: date
    time: str | None  # "HH:MM" local, None: any session of the date
    intent: str  # "" for a row that only tells something else
    sport: str | None = None
    note: str = ""
    effort: float | None = None  # as felt, 0 to 10
    sleep_h: float | None = None  # hours slept the night before
    illness: str = ""
    line: int = field(default=0, compare=False, repr=False)

    @property
    def judging_part(self) -> SessionLabel:
        """The label without the athlete's own words, which no number depends on."""
        return replace(self, note="", effort=None, sleep_h=None, illness="", line=0)


@dataclass(frozen=True, slots=True)
class WeekNote:
    """One row of weeks.csv: a note on a whole ISO week such as "2026-W20"."""

    week: str
    note: str


@dataclass(frozen=True, slots=True)
class Failure:
    """A file that could not be read at all."""

    file: str
    message: str
