"""A span of an athlete's weeks, reviewed: one model for a week, a block and the season, with parts switched on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from steadyband.athlete.condensed import STRIP_S, Condensed
from steadyband.athlete.model import Athlete, Failure
from steadyband.athlete.own_words import NOTHING, OwnWords
from steadyband.audit.model import Audit
from steadyband.review.block_drift import Creep, DriftChart, LevelTrend
from steadyband.review.distribution import Distribution
from steadyband.review.fit_of_test import TestFit
from steadyband.steptest.model import ZoneSet


@dataclass(frozen=True, slots=True)
class TestInForce:
    """The zone set that applies to a sport at the end of the span; None with the reason where there is none."""

    __test__ = False

    sport: str
    zone_set: ZoneSet | None
    age_days: int | None
    freshness: str | None
    reason: str | None = None
    same_day: tuple[ZoneSet, ...] = ()  # other tests of that sport and day


@dataclass(frozen=True, slots=True)
class SportHours:
    """Seconds per band of one sport in the span, all intents; `surges` counts endurance and other sessions alike."""

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
    """One thing to change or decide: a few bold words, the sentence, the numbers behind it, and what would change it.

    `behind` is the same at length, a text a session; `starts` are the beginnings of the sessions that the sentence names;
    `idle` where it says that there is nothing to decide.
    """

    head: str
    text: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    unless: str = ""
    idle: bool = False
    behind: tuple[str, ...] = ()
    starts: tuple[datetime, ...] = ()


@dataclass(frozen=True, slots=True)
class SportWeek:
    """One sport in one week; None where nothing tells it.

    `load_ratio` is mean load over target top of the endurance sessions, `surges_per_hour` theirs as well, `hr_shift`
    [bpm] heart rate above the test's in steady stretches.
    """

    sport: str
    hours: SportHours
    heavy_share: float | None
    load_ratio: float | None
    surges_per_hour: float | None
    hr_shift: float | None


@dataclass(frozen=True, slots=True)
class Week:
    """One ISO week: its sessions in time order, the tests made in it, hours by sport.

    `sports` (a block's table) and `plan` are filled where they are asked for.
    """

    first_day: date
    sessions: tuple[Condensed, ...]
    tests: tuple[ZoneSet, ...]
    hours: tuple[SportHours, ...]
    sports: tuple[SportWeek, ...] = ()
    plan: tuple[PlanHours, ...] = ()

    @property
    def name(self) -> str:
        """The week as ISO 8601 writes it: "2026-W20"."""
        return week_name(self.first_day)

    @property
    def judged(self) -> int:
        """How many sessions were judged."""
        return sum(item.audit.verdict.in_band is not None for item in self.sessions)

    @property
    def held(self) -> int:
        """How many held the band."""
        return sum(item.audit.verdict.in_band is True for item in self.sessions)

    @property
    def active_s(self) -> int:
        """Active time [s]."""
        return sum(item.audit.seconds.active for item in self.sessions)


def week_name(day: date) -> str:
    """The ISO week of a day as ISO 8601 writes it.

    >>> week_name(date(2026, 5, 17))
    '2026-W20'
    """
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


@dataclass(frozen=True, slots=True)
class Gap:
    """Weeks on end without a session or a test."""

    first_day: date
    last_day: date
    weeks: int


@dataclass(frozen=True, slots=True)
class Durability:
    """Heart-rate drift against session length in one sport: (hours, drift in %) of each session that has one."""

    sport: str
    points: tuple[tuple[float, float], ...]
    text: str


@dataclass(frozen=True, slots=True)
class Background:
    """What only many sessions can tell, as it stood on the last day: charts, what crept in the span, trends, how the tests fit."""

    charts: tuple[DriftChart, ...] = ()
    creeps: tuple[Creep, ...] = ()
    trends: tuple[LevelTrend, ...] = ()
    fits: tuple[TestFit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Review:
    """Some weeks of one athlete (METHOD 8).

    Every span has the first block of fields. A single week adds its audits with their rows, what to change and the comparison
    with the week before; a block adds distribution, durability and limiters. `notes` holds sentences by topic: "test", "fit",
    "drift", "load", "distribution".
    """

    athlete: Athlete
    first_day: date
    last_day: date
    weeks: tuple[Week | Gap, ...]
    failures: tuple[Failure, ...] = ()  # every file that could not be read
    unreadable: tuple[Failure, ...] = ()  # those of them that are named here
    named_before: tuple[tuple[str, int], ...] = ()  # week whose page named others, and how many
    judged: int
    held: int
    unsure: int = 0
    answer: str
    subline: str = ""
    sports: tuple[SportHours, ...] = ()
    tests: tuple[TestInForce, ...] = ()
    behind: Background = Background()
    notes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    questions: tuple[Advice, ...] = ()  # sessions asked about rather than judged
    went_well: tuple[Advice, ...] = ()
    decisions: tuple[Advice, ...] = ()
    creeps: tuple[Advice, ...] = ()  # what crept from session to session, as things to look at
    left_out: tuple[str, ...] = ()
    set_aside: int = 0  # recordings whose clock cannot be right
    # one week
    audits: tuple[Audit, ...] = ()
    own_words: tuple[OwnWords, ...] = ()  # what the athlete told of each of `audits`, beside its verdict
    week_note: str = ""
    changes: tuple[Advice, ...] = ()
    plan: tuple[PlanHours, ...] = ()
    since_last_week: tuple[str, ...] = ()
    # a block
    distributions: Mapping[str, Distribution] = field(default_factory=dict)  # sport, and "all sports"
    durability: tuple[Durability, ...] = ()
    limiters: tuple[Advice, ...] = ()

    def __repr__(self) -> str:
        return f"Review({self.first_day} to {self.last_day}: {self.answer})"

    @property
    def name(self) -> str:
        """The ISO week it begins with: "2026-W20"."""
        return week_name(self.first_day)

    @property
    def sessions(self) -> tuple[Condensed, ...]:
        """Every session of its weeks, in the order of the weeks."""
        return tuple(item for week in self.weeks if isinstance(week, Week) for item in week.sessions)

    @property
    def words_told(self) -> tuple[OwnWords, ...]:
        """What the athlete told of each of its audits; nothing where nothing was read."""
        return self.own_words or (NOTHING,) * len(self.audits)

    @property
    def longest_s(self) -> int:
        """Seconds of the longest session, the width of a full ribbon."""
        return max((STRIP_S * len(item.strip) for item in self.sessions), default=STRIP_S)

    @property
    def longest_week_s(self) -> int:
        """Seconds of all sessions of the fullest week, end to end: the width of a full row."""
        weeks = [week for week in self.weeks if isinstance(week, Week)]
        return max((STRIP_S * sum(len(item.strip) for item in week.sessions) for week in weeks), default=0) or STRIP_S

    @property
    def fit_by_sport(self) -> dict[str, str]:
        """Whether each sport's test still fits, in a word or two."""
        return {fit.sport: fit.fit for fit in self.behind.fits}
