"""The review of a block of weeks (METHOD 8), and what the week review takes from more than one week."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from steadyband.athlete.condensed import Condensed, in_order
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.model import Failure
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.athlete.training_plan import read_plan
from steadyband.audit.model import BAND_NAMES
from steadyband.ground.errors import NothingToReviewError
from steadyband.ground.settings import BlockSettings
from steadyband.recording.formats import formats_text
from steadyband.review import block_decisions, block_sentences, sentences
from steadyband.review.block_drift import (
    charted,
    creeps_within,
    drift_charts,
    level_trends,
    load_ratio_of,
)
from steadyband.review.distribution import Distribution, distribution
from steadyband.review.drift_sentences import creep_advices, drift_notes, fit_text
from steadyband.review.fit_of_test import TestFit, judge_fit, session_shift
from steadyband.review.hours import sport_hours, tests_in_force, week_of
from steadyband.review.model import Background, Review, SportHours, SportWeek, TestInForce, Week
from steadyband.review.plan_met import against_plan
from steadyband.review.surge_rate import surge_rate
from steadyband.review.taken import taken_for_granted

WEEKS = 4
ALL = "all sports"


def background(
    sessions: Sequence[Condensed], tests: Sequence[TestInForce], first: date, last: date, limits: BlockSettings
) -> Background:
    """Charts and trends over every session up to `last`, the signals raised from `first` to `last`, the tests checked."""
    known = [item for item in sessions if item.day <= last]
    charts = drift_charts(known, limits)
    fits = tuple(check_test(item, known, last, limits) for item in tests if item.zone_set is not None)
    return Background(charts, creeps_within(charts, first, last), level_trends(known, last, limits), fits)


def check_test(item: TestInForce, sessions: Sequence[Condensed], last: date, limits: BlockSettings) -> TestFit:
    """Whether a test in force fits the sessions of the `fit_days` up to `last` that were judged by it."""
    first = last - timedelta(days=limits.fit_days - 1)
    name = item.zone_set.test.file if item.zone_set else ""
    chosen = [
        session
        for session in sessions
        if session.audit.zones is not None
        and session.audit.zones.test == name
        and session.audit.info.sport == item.sport
        and session.audit.info.intent != "test"
        and first <= session.day <= last
    ]
    shifts = [session_shift(session.audit, session.stretches) for session in chosen]
    return judge_fit(item.sport, [shift for shift in shifts if shift is not None], limits)


def block_days(days: Sequence[date], weeks: int, ending: date | None) -> tuple[date, date]:
    """Monday of the first and Sunday of the last of `weeks` ISO weeks, the last one that of `ending` or of the latest day.

    Raises NothingToReviewError where no session lies in them.
    """
    if not days:
        raise NothingToReviewError(
            "no session could be read.", hint=f"Put {formats_text()} recordings into activities/."
        )
    end = ending or max(days)
    last = end + timedelta(days=7 - end.isoweekday())
    first = last - timedelta(days=7 * weeks - 1)
    if not any(first <= day <= last for day in days):
        raise NothingToReviewError(
            f"no session from {first} to {last}; sessions run from {min(days)} to {max(days)}.",
            hint="Name a date of a block with sessions, or leave --ending out for the latest.",
        )
    return first, last


@as_the_athlete_reads
def review_block(
    folder: AthleteFolder,
    sessions: Sequence[Condensed],
    failures: Sequence[Failure] = (),
    weeks: int = WEEKS,
    ending: date | None = None,
) -> Review:
    """The review of `weeks` weeks up to the one of `ending`, or of the latest session.

    `sessions` are all of the folder's: charts reach back beyond the block. Raises NothingToReviewError where no session
    lies in the block, AthleteFileError where plan.csv is faulty.
    """
    first, last = block_days([item.day for item in sessions], weeks, ending)
    chosen = in_order(item for item in sessions if first <= item.day <= last)
    audits = [item.audit for item in chosen]
    tests = tests_in_force(folder, audits, last)
    limits = folder.athlete.settings.block
    behind = background(sessions, tests, first, last, limits)
    rows = block_weeks(folder, chosen, first, weeks)
    spread = distributions(chosen)
    judged = [item.audit for item in chosen if item.audit.verdict.in_band is not None]
    held = sum(audit.verdict.in_band is True for audit in judged)
    return Review(
        athlete=folder.athlete,
        first_day=first,
        last_day=last,
        weeks=rows,
        failures=tuple(failures),
        judged=len(judged),
        held=held,
        unsure=sum(sentences.is_unsure(audit) for audit in judged),
        answer=block_sentences.answer(judged, held, weeks, behind.creeps, behind.trends),
        subline=block_sentences.subline(first, last, audits),
        sports=sport_hours(audits),
        tests=tests,
        behind=behind,
        creeps=creep_advices(behind),
        notes={
            "drift": drift_notes(behind.charts, behind.trends, first, last),
            "fit": tuple(fit_text(fit) for fit in behind.fits),
            "load": block_sentences.load_notes(rows, limits),
            "distribution": block_sentences.distribution_notes(spread),
            "taken": taken_for_granted(audits),
        },
        distributions=spread,
        durability=block_sentences.durability(
            chosen, folder.athlete.settings.drift.hr_drift_percent, folder.athlete.settings.block
        ),
        limiters=block_sentences.limiters(chosen, tests, spread, limits),
        went_well=block_sentences.went_well(chosen),
        questions=block_sentences.questions(chosen),
        decisions=block_decisions.decisions(chosen, tests, (behind.creeps, behind.trends), behind.fits, limits),
        unreadable=tuple(failures),
        left_out=sentences.left_out(audits),
    )


def distributions(sessions: Sequence[Condensed]) -> dict[str, Distribution]:
    """The distribution of each sport with bands, and of all of them where there is more than one, all with the same upper border."""
    sports = sorted({item.audit.info.sport for item in sessions if item.audit.bands})
    found = {sport: distribution([item for item in sessions if item.audit.info.sport == sport]) for sport in sports}
    known = {name: item for name, item in found.items() if item is not None}
    alike = len({item.by_threshold for item in known.values()}) == 1
    whole = distribution(sessions) if len(known) > 1 and alike else None
    return known | ({ALL: whole} if whole is not None else {})


def block_weeks(folder: AthleteFolder, sessions: Sequence[Condensed], first: date, weeks: int) -> tuple[Week, ...]:
    """One row a week, empty weeks too, each with its sports and plan."""
    plan = (*folder.athlete.plan, *read_plan(folder.path / "plan.csv"))
    within = folder.athlete.settings.block.plan_within
    rows = [week_of(first + timedelta(weeks=number), sessions, folder.zone_sets) for number in range(weeks)]
    return tuple(
        replace(
            row,
            sports=tuple(
                _sport(item, [s for s in row.sessions if s.audit.info.sport == item.sport]) for item in row.hours
            ),
            plan=against_plan(plan, row.name, row.hours, within),
        )
        for row in rows
    )


def _sport(hours: SportHours, sessions: Sequence[Condensed]) -> SportWeek:
    banded = sum(hours.bands[name] for name in BAND_NAMES)
    heavy = hours.bands["heavy"] + hours.bands["severe"]
    endurance = charted(sessions)
    shifts = [shift.shift for item in endurance if (shift := session_shift(item.audit, item.stretches)) is not None]
    ratios = [ratio for item in endurance if (ratio := load_ratio_of(item.audit)) is not None]
    return SportWeek(
        sport=hours.sport,
        hours=hours,
        heavy_share=heavy / banded if banded else None,
        load_ratio=float(np.mean(ratios)) if ratios else None,
        surges_per_hour=surge_rate(endurance),
        hr_shift=float(np.mean(shifts)) if shifts else None,
    )
