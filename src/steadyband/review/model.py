"""An athlete folder, and the review of one week of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

from steadyband.audit.model import Audit, Rider
from steadyband.reader import Reader
from steadyband.settings import Settings
from steadyband.steptest.meters import MeterOffset
from steadyband.steptest.model import ZoneSet


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


@dataclass(frozen=True, slots=True)
class SessionLabel:
    """One row of sessions.csv."""

    date: date
    time: str | None  # "HH:MM" local, None: any session of the date
    intent: str
    sport: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Failure:
    """A file that could not be read at all."""

    file: str
    message: str


@dataclass(frozen=True, slots=True)
class TestInForce:
    """The zone set that applies to a sport at the end of the week; None with the reason where there is none."""

    __test__ = False

    sport: str
    zone_set: ZoneSet | None
    age_days: int | None
    freshness: str | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class SportHours:
    """Seconds per band of one sport in the week, all intents; `surges` counts endurance and other sessions alike."""

    sport: str
    sessions: int
    active_s: int
    bands: Mapping[str, int]  # easy, steady, heavy, severe
    not_banded_s: int  # active, but unmeasured or without a usable test


@dataclass(frozen=True, slots=True)
class PlanHours:
    """Hours of one band and sport: planned, done, and whether that is what the plan wanted.

    `at_most`: the plan is a limit (heavy, severe), otherwise it is to be reached within a tenth. `unknown` hours of the
    sport carry no band and may belong here.
    """

    sport: str
    band: str
    planned: float
    done: float
    at_most: bool
    met: bool
    unknown: float


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to change or decide: a few bold words, the sentence, and the numbers it stands on."""

    head: str
    text: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class WeekReview:
    """One ISO week of one athlete (METHOD 8)."""

    athlete: Athlete
    iso_year: int
    iso_week: int
    first_day: date
    last_day: date
    audits: tuple[Audit, ...]
    failures: tuple[Failure, ...]
    judged: int
    held: int
    unsure: int
    answer: str
    subline: str
    sports: tuple[SportHours, ...]
    tests: tuple[TestInForce, ...]
    test_notes: tuple[str, ...]
    changes: tuple[Advice, ...]
    went_well: tuple[Advice, ...]
    decisions: tuple[Advice, ...]
    left_out: tuple[str, ...]
    plan: tuple[PlanHours, ...] = ()
    since_last_week: tuple[str, ...] = ()
    questions: tuple[Advice, ...] = ()  # sessions asked about rather than judged
    fits: tuple[str, ...] = ()  # does the test still fit, one sentence a sport
    fit_by_sport: Mapping[str, str] = field(default_factory=dict)  # the same in a word or two
    creeps: tuple[Advice, ...] = ()  # block drift whose signal fell into this week
