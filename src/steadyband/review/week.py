"""The review of one ISO week (METHOD 8)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from steadyband.athlete.condensed import Condensed, condense, in_order
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.guess import asked, guess_intent, to_be_asked
from steadyband.athlete.model import Failure
from steadyband.athlete.own_words import own_words, week_note
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.athlete.season import Season
from steadyband.athlete.sessions import in_time_order
from steadyband.athlete.store.unreadable import key_of
from steadyband.athlete.training_plan import read_plan
from steadyband.audit.model import Audit
from steadyband.ground.errors import NothingToReviewError
from steadyband.recording.formats import formats_text
from steadyband.review import sentences, week_sentences
from steadyband.review.block import background
from steadyband.review.block_sentences import questions
from steadyband.review.drift_sentences import creep_advices, fit_text
from steadyband.review.hours import sport_hours, tests_in_force, week_of
from steadyband.review.model import Review, week_name
from steadyband.review.own_rows import unmatched_lines
from steadyband.review.plan_met import against_plan
from steadyband.review.taken import taken_for_granted

__all__ = ["IsoWeek", "iso_week", "review_week", "sport_hours", "tests_in_force", "week_to_review"]

IsoWeek = tuple[int, int]


def iso_week(day: date) -> IsoWeek:
    """(ISO year, ISO week) of a date."""
    year, week, _ = day.isocalendar()
    return year, week


def week_to_review(days: Sequence[date], ending: date | None) -> IsoWeek:
    """The week that holds `ending`, or without it the latest week with a session.

    Raises NothingToReviewError where there is no session in it.
    """
    if not days:
        raise NothingToReviewError(
            "no session could be read.", hint=f"Put {formats_text()} recordings into activities/."
        )
    week = iso_week(ending or max(days))
    if week not in {iso_week(day) for day in days}:
        raise NothingToReviewError(
            f"no session in the week of {ending}; sessions run from {min(days)} to {max(days)}.",
            hint="Name a date of a week with sessions, or leave --ending out for the latest.",
        )
    return week


@as_the_athlete_reads
def review_week(
    folder: AthleteFolder,
    audits: Sequence[Audit],
    failures: Sequence[Failure] = (),
    ending: date | None = None,
    season: Sequence[Condensed] | None = None,
) -> Review:
    """The review of the week that holds `ending`, or of the latest week with a session.

    `audits` are those of the week at least. What needs more than a week (block drift, the check of the test, the week
    before) is taken from `season`, all sessions condensed; without it from `audits`. A session that looks hard and was
    never labelled is asked about rather than judged.
    Raises NothingToReviewError where there is no session in the week, AthleteFileError where plan.csv is faulty.
    """
    known = in_order(season if season is not None else (condense(audit) for audit in audits))
    year, week = week_to_review([item.day for item in known], ending)
    first = date.fromisocalendar(year, week, 1)
    last = first + timedelta(days=6)
    within = [audit for audit in audits if iso_week(audit.info.local_start.date()) == (year, week)]
    chosen = in_time_order([asked_or_judged(audit) for audit in within])
    tests = tests_in_force(folder, chosen, last)
    behind = background(known, tests, first, last, folder.athlete.settings.block)
    judged = [audit for audit in chosen if audit.verdict.in_band is not None]
    held = sum(audit.verdict.in_band is True for audit in judged)
    hours = sport_hours(chosen)
    limits = folder.athlete.settings.block
    plan = against_plan(
        (*folder.athlete.plan, *read_plan(folder.path / "plan.csv")), week_name(first), hours, limits.plan_within
    )
    creeps = creep_advices(behind)
    open_questions = questions([item for item in known if first <= item.day <= last])
    return Review(
        athlete=folder.athlete,
        first_day=first,
        last_day=last,
        weeks=(week_of(first, known, folder.zone_sets),),
        audits=chosen,
        own_words=tuple(own_words(folder.labels, item.info.local_start, item.info.sport) for item in chosen),
        week_note=week_note(folder.week_notes, week_name(first)),
        failures=tuple(failures),
        judged=len(judged),
        held=held,
        unsure=sum(sentences.is_unsure(audit) for audit in judged),
        answer=sentences.answer(judged, held),
        subline=sentences.subline(week, first, last),
        sports=hours,
        tests=tests,
        behind=behind,
        notes={
            "test": sentences.test_notes(tests),
            "fit": tuple(fit_text(fit) for fit in behind.fits),
            "taken": taken_for_granted(chosen),
        },
        changes=sentences.changes(judged),
        went_well=(*sentences.went_well(judged), *week_sentences.plan_kept(plan)),
        decisions=week_sentences.decisions(
            open_questions, creeps, behind.fits, plan, sentences.decisions(tests, judged)
        ),
        unreadable=tuple(failures),
        left_out=sentences.left_out(chosen),
        plan=plan,
        since_last_week=week_sentences.since_last_week(known, first, folder.athlete.settings.block),
        questions=open_questions,
        creeps=creeps,
    )


@as_the_athlete_reads
def review_season(folder: AthleteFolder, season: Season, ending: date | None = None) -> Review:
    """The review of a week out of a whole season, with what was said about the files of its days.

    Raises NothingToReviewError where there is no session in the week.
    """
    year, week = week_to_review([item.day for item in season.sessions], ending)
    first = date.fromisocalendar(year, week, 1)
    last = first + timedelta(days=6)
    review = review_week(folder, season.audits(first, last), season.failures, first, season.sessions)
    rows = (*folder.label_faults, *unmatched_lines(folder.labels, season.sessions, first, last))
    left_out = (*review.left_out, *rows, *season.misplaced, *season.remarks_for(first, last))
    return _named_once(replace(review, left_out=left_out, set_aside=len(season.left_alone)), season)


def _named_once(review: Review, season: Season) -> Review:
    """The review with files that could not be read named where they were first, not on the page of every week."""
    before = season.named_before
    week_of_file = [(item, before.get(key_of(item), review.name)) for item in review.failures]
    others = Counter(week for _, week in week_of_file if week != review.name)
    here = tuple(item for item, week in week_of_file if week == review.name)
    return replace(review, unreadable=here, named_before=tuple(sorted(others.items())))


def asked_or_judged(audit: Audit) -> Audit:
    """The session, asked about rather than judged where it looks hard and nobody said what it was for."""
    if any(reason.code == "asked" for reason in audit.verdict.reasons):
        return audit
    guess = guess_intent(audit)
    return asked(audit, guess) if to_be_asked(audit, guess) else audit
