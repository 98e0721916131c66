"""The season: weeks as rows of small ribbons, tests as marks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from steadyband.athlete.condensed import Condensed, in_order
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.model import Athlete, Failure
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.ground.errors import NothingToReviewError
from steadyband.review.hours import sport_hours
from steadyband.review.model import SportHours
from steadyband.steptest import ZoneSet


@dataclass(frozen=True, slots=True)
class HistoryWeek:
    """One ISO week: its sessions in time order, the tests made in it, hours, and how many sessions held the band."""

    iso_year: int
    iso_week: int
    first_day: date
    sessions: tuple[Condensed, ...]
    tests: tuple[ZoneSet, ...]
    hours: tuple[SportHours, ...]
    judged: int
    held: int
    active_s: int


@dataclass(frozen=True, slots=True)
class HistoryGap:
    """Weeks on end without a session or a test."""

    first_day: date
    last_day: date
    weeks: int


@dataclass(frozen=True, slots=True)
class History:
    """The season of one athlete, latest week first."""

    athlete: Athlete
    rows: tuple[HistoryWeek | HistoryGap, ...]
    longest_s: int
    sessions: int
    judged: int
    held: int
    answer: str
    failures: tuple[Failure, ...]

    @property
    def weeks(self) -> tuple[HistoryWeek, ...]:
        """The weeks alone, latest first."""
        return tuple(row for row in self.rows if isinstance(row, HistoryWeek))


@as_the_athlete_reads
def history(folder: AthleteFolder, sessions: Sequence[Condensed], failures: Sequence[Failure] = ()) -> History:
    """All sessions week by week.

    Raises NothingToReviewError where there is none.
    """
    if not sessions:
        raise NothingToReviewError("no session could be read.", hint="Put FIT or GPX recordings into activities/.")
    chosen = in_order(sessions)
    judged = [item for item in chosen if item.audit.verdict.in_band is not None]
    held = sum(item.audit.verdict.in_band is True for item in judged)
    return History(
        athlete=folder.athlete,
        rows=tuple(_rows(chosen, folder.zone_sets, folder.athlete.settings.block.gap_weeks))[::-1],
        longest_s=max(60 * len(item.strip) for item in chosen),
        sessions=len(chosen),
        judged=len(judged),
        held=held,
        answer=_answer(chosen, len(judged), held),
        failures=tuple(failures),
    )


def monday_of(day: date) -> date:
    """The Monday of the ISO week of a day."""
    return day - timedelta(days=day.isoweekday() - 1)


def _rows(
    sessions: Sequence[Condensed], tests: Sequence[ZoneSet], gap_weeks: int
) -> Iterable[HistoryWeek | HistoryGap]:
    mondays = sorted({monday_of(item.day) for item in sessions} | {monday_of(item.test.date) for item in tests})
    before: date | None = None
    for monday in mondays:
        if before is not None:
            yield from _between(before, monday, gap_weeks)
        yield _week(
            monday,
            [item for item in sessions if monday_of(item.day) == monday],
            [item for item in tests if monday_of(item.test.date) == monday],
        )
        before = monday


def _between(before: date, monday: date, gap_weeks: int) -> Iterable[HistoryWeek | HistoryGap]:
    empty = (monday - before).days // 7 - 1
    if empty > gap_weeks:
        yield HistoryGap(before + timedelta(weeks=1), monday - timedelta(days=1), empty)
        return
    for number in range(1, empty + 1):
        yield _week(before + timedelta(weeks=number), [], [])


def _week(monday: date, sessions: Sequence[Condensed], tests: Sequence[ZoneSet]) -> HistoryWeek:
    year, week, _ = monday.isocalendar()
    audits = [item.audit for item in sessions]
    judged = [audit for audit in audits if audit.verdict.in_band is not None]
    return HistoryWeek(
        iso_year=year,
        iso_week=week,
        first_day=monday,
        sessions=tuple(sessions),
        tests=tuple(tests),
        hours=sport_hours(audits),
        judged=len(judged),
        held=sum(audit.verdict.in_band is True for audit in judged),
        active_s=sum(audit.seconds.active for audit in audits),
    )


def _answer(sessions: Sequence[Condensed], judged: int, held: int) -> str:
    count = f"{len(sessions)} session" + ("" if len(sessions) == 1 else "s")
    first, last = sessions[0].day, sessions[-1].day
    span = f"from {first:%-d %B %Y} to {last:%-d %B %Y}" if first != last else f"on {first:%-d %B %Y}"
    if not judged:
        return f"{count} {span}; none of them could be judged."
    return f"{held} of {judged} endurance sessions held the band, in {count} {span}."
