"""The review of one week of an athlete."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from steadyband.athlete.model import Athlete, Failure
from steadyband.audit.model import Audit
from steadyband.steptest.model import ZoneSet


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
