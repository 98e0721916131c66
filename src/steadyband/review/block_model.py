"""The review of a block of weeks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.model import Athlete, Failure
from steadyband.review.block_drift import Creep, DriftChart, LevelTrend
from steadyband.review.distribution import Distribution
from steadyband.review.fit_of_test import TestFit
from steadyband.review.model import Advice, PlanHours, SportHours, TestInForce


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
class BlockWeek:
    """One ISO week of a block; `sports` is empty in a week without sessions."""

    iso_year: int
    iso_week: int
    first_day: date
    sessions: int
    judged: int
    held: int
    active_s: int
    sports: tuple[SportWeek, ...]
    plan: tuple[PlanHours, ...] = ()

    @property
    def name(self) -> str:
        """The week as ISO 8601 writes it."""
        return f"{self.iso_year}-W{self.iso_week:02d}"


@dataclass(frozen=True, slots=True)
class Durability:
    """Heart-rate drift against session length in one sport: (hours, drift in %) of each session that has one."""

    sport: str
    points: tuple[tuple[float, float], ...]
    text: str


@dataclass(frozen=True, slots=True)
class Decision:
    """Something to decide before the next block, the numbers it stands on, and what would change the mind."""

    head: str
    text: str
    unless: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BlockReview:
    """Some weeks of one athlete (METHOD 8)."""

    athlete: Athlete
    first_day: date
    last_day: date
    sessions: tuple[Condensed, ...]
    failures: tuple[Failure, ...]
    judged: int
    held: int
    unsure: int
    answer: str
    subline: str
    weeks: tuple[BlockWeek, ...]
    sports: tuple[SportHours, ...]
    tests: tuple[TestInForce, ...]
    charts: tuple[DriftChart, ...]
    creeps: tuple[Creep, ...]
    trends: tuple[LevelTrend, ...]
    drift_notes: tuple[str, ...]
    fits: tuple[TestFit, ...]
    fit_notes: tuple[str, ...]
    distributions: Mapping[str, Distribution]  # sport, and "all sports"
    distribution_notes: tuple[str, ...]
    durability: tuple[Durability, ...]
    load_notes: tuple[str, ...]
    limiters: tuple[Advice, ...]
    went_well: tuple[Advice, ...]
    questions: tuple[Advice, ...]
    decisions: tuple[Decision, ...]
    left_out: tuple[str, ...]
