"""One athlete's week condensed for the roster, and the roster's order (docs/method.md, section 8)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.model import Failure
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.athlete.season import Season
from steadyband.audit.model import Audit, Finding
from steadyband.ground.plain import plain
from steadyband.ground.settings import StepTestSettings
from steadyband.review import roster_sentences as say
from steadyband.review.block import check_test
from steadyband.review.drift_sentences import fit_text
from steadyband.review.fit_of_test import TestFit
from steadyband.review.hours import week_of
from steadyband.review.model import Review, TestInForce
from steadyband.review.roster_folders import Home
from steadyband.review.roster_model import (
    GROUPS,
    Group,
    NoteCode,
    Roster,
    RosterEntry,
    RosterNote,
    RosterPlace,
    RosterTest,
    RosterWeek,
)
from steadyband.told.findings import finding_text, rank_of

DRIFTS = ("zone_3_drift", "heart_rate_drift")
WEEKS = 4
"""Weeks shown at a glance: the roster's own and the three before (design choice)."""
DOUBTED = ("fitter than the test", "tired, hot or ill")


def day_to_review(days: Sequence[date], ending: date | None) -> date | None:
    """A day of the week to review: the latest with a session, not after the week of `ending`; None where there is none."""
    sunday = ending + timedelta(days=7 - ending.isoweekday()) if ending else date.max
    return max((day for day in days if day <= sunday), default=None)


def unusable(home: Home, fault: str) -> RosterEntry:
    """An athlete whose folder could not be used."""
    told = fault.replace(f"{plain(str(home.path))}/", "")
    return RosterEntry(home.name, home.name, told, fault=told)


def without_sessions(home: Home, folder: AthleteFolder, season: Season) -> RosterEntry:
    """An athlete without a session to review."""
    notes = tuple(_unread(failure, home) for failure in season.failures)
    first = min((item.day for item in season.sessions), default=None)
    return RosterEntry(home.name, _name(home, folder), say.no_session(first), notes=notes)


@as_the_athlete_reads
def entry_of(folder: AthleteFolder, home: Home, season: Season, review: Review, page: Path) -> RosterEntry:
    """The week of one athlete, condensed; `page` is the athlete's own page of it."""
    tests = tuple(_checked(folder, season, review))
    notes = [
        *_sessions(review.audits),
        *(RosterNote("creep", item.head, item.text) for item in review.creeps),
        *(RosterNote("asked", item.head, item.text) for item in review.questions),
        *(_cut(audit) for audit in review.audits if audit.info.damage),
        *(note for test, fit in tests for note in _test_notes(test, fit)),
        *(_unread(failure, home) for failure in season.failures),
    ]
    return RosterEntry(
        folder=home.name,
        name=_name(home, folder),
        answer=review.answer,
        first_day=review.first_day,
        last_session=max(audit.info.local_start.date() for audit in review.audits),
        sessions=len(review.audits),
        judged=review.judged,
        held=review.held,
        unsure=review.unsure,
        active_s=sum(audit.seconds.active for audit in review.audits),
        notes=tuple(notes),
        tests=tuple(_test(test, fit, folder.athlete.settings.steptest) for test, fit in tests),
        weeks=tuple(_weeks(season, review.first_day)),
        plan=review.plan,
        season_sessions=len(season.sessions),
        page=page,
    )


def _weeks(season: Season, last: date) -> Iterable[RosterWeek]:
    """The four weeks that end with the one of Monday `last`."""
    for monday in (last - timedelta(weeks=back) for back in reversed(range(WEEKS))):
        own = week_of(monday, season.sessions, ())
        yield RosterWeek(monday, len(own.sessions), own.judged, own.held, own.active_s)


def _cut(audit: Audit) -> RosterNote:
    """A recording of which a part alone could be read."""
    return RosterNote("cut", say.cut_head(audit), say.cut_text(audit), audit.info.file)


def _name(home: Home, folder: AthleteFolder) -> str:
    return plain(folder.athlete.name) or home.name


def _sessions(audits: Iterable[Audit]) -> Iterable[RosterNote]:
    for audit in audits:
        if audit.verdict.in_band is False:
            finding = min(audit.verdict.findings, key=rank_of)
            code: NoteCode = "drift" if finding.code in DRIFTS else "left"
            yield RosterNote(code, say.lost_head(audit), _finding_text(finding, audit), audit.info.file)


def _finding_text(finding: Finding, audit: Audit) -> str:
    more = [item for item in audit.verdict.findings if item is not finding]
    return " ".join(finding_text(audit, item) for item in (finding, *more))


def _checked(folder: AthleteFolder, season: Season, review: Review) -> Iterable[tuple[TestInForce, TestFit | None]]:
    """The tests of the sports done in the week, with the check of each against recent heart rates."""
    done = {audit.info.sport for audit in review.audits}
    for item in review.tests:
        if item.sport in done:
            limits = folder.athlete.settings.block
            fit = check_test(item, season.sessions, review.last_day, limits) if item.zone_set else None
            yield item, fit


def _test_notes(item: TestInForce, fit: TestFit | None) -> Iterable[RosterNote]:
    file = item.zone_set.test.file if item.zone_set else ""
    if item.zone_set is None or item.freshness == "stale":
        yield RosterNote("test", say.test_head(item), say.test_text(item), file)
    if fit is not None and fit.fit in DOUBTED:
        yield RosterNote("fit", say.fit_head(fit), fit_text(fit), file)


def _test(item: TestInForce, fit: TestFit | None, limits: StepTestSettings) -> RosterTest:
    test = item.zone_set.test if item.zone_set else None
    due = test.date + timedelta(days=limits.stale_days + 1) if test else None
    told = fit.fit if fit else None
    return RosterTest(item.sport, test.file if test else None, item.age_days, item.freshness, told, item.reason, due)


def _unread(failure: Failure, home: Home) -> RosterNote:
    """A file that could not be read, named from its athlete folder on."""
    file = failure.file.removeprefix(f"{plain(str(home.path))}/")
    return RosterNote("unread", f"{file} could not be read.", failure.message, file)


def make_roster(
    folder: Path, entries: Iterable[RosterEntry], ending: date | None = None, left_alone: Sequence[str] = ()
) -> Roster:
    """All athletes in one week, that of `ending` or the latest with a session of anybody, worst first (METHOD 8)."""
    found = list(entries)
    within = ending or max((entry.first_day for entry in found if entry.first_day), default=None)
    first = within - timedelta(days=within.isoweekday() - 1) if within else None
    places = sorted((_place(entry, first) for entry in found), key=_order)
    last = first + timedelta(days=6) if first else None
    return Roster(
        folder, first, last, say.answer(places), say.subline(first, len(places)), tuple(places), tuple(left_alone)
    )


def _in_week(entry: RosterEntry, first: date | None) -> RosterEntry:
    """The entry as it stands in the roster's week: of an earlier week only the page and the unread files are left."""
    if entry.fault or entry.first_day is None or entry.first_day == first:
        return entry
    unread = tuple(note for note in entry.notes if note.code == "unread")
    return replace(
        entry, answer=say.none_since(entry.last_session), sessions=0, judged=0, held=0, unsure=0, active_s=0,
        notes=unread, tests=(), plan=(),
    )  # fmt: skip


def group_of(entry: RosterEntry) -> Group:
    """The first heading that fits."""
    fits: tuple[tuple[Group, bool], ...] = (
        ("unusable", bool(entry.fault)),
        ("left", entry.lost > 0),
        ("creeping", entry.count("creep") > 0),
        ("test", entry.count("test", "fit") > 0),
        ("unread", entry.count("unread", "cut") > 0),
        ("asked", entry.count("asked") > 0),
        ("nothing", entry.judged == 0),
    )
    return next((group for group, fitting in fits if fitting), "held")


def _place(entry: RosterEntry, first: date | None) -> RosterPlace:
    """The athlete in the roster's week, that of Monday `first`, with the three weeks before."""
    now = _in_week(entry, first)
    known = {week.first_day: week for week in entry.weeks}
    mondays = [first - timedelta(weeks=back) for back in reversed(range(WEEKS))] if first and known else []
    return RosterPlace(group_of(now), now, tuple(known.get(monday) or RosterWeek(monday) for monday in mondays))


def _order(place: RosterPlace) -> tuple[int, int, int, str]:
    entry = place.entry
    return GROUPS.index(place.group), -entry.lost, -len(entry.notes), entry.folder
