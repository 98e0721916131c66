"""What the roster says, each sentence standing on the entries' numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from steadyband.audit.model import Audit
from steadyband.ground.units import age_text, duration_text
from steadyband.review.drift_sentences import sport_words
from steadyband.review.fit_of_test import TestFit
from steadyband.review.model import PlanHours, TestInForce
from steadyband.review.roster_model import Group, RosterPlace, RosterTest, RosterWeek
from steadyband.review.sentences import RETEST_NOTE, noun_of, number_word, weekday
from steadyband.told.findings import is_unsure_of, rank_of, words_of

GROUP_HEADS: Mapping[Group, str] = {
    "unusable": "Folder could not be used",
    "left": "Left the band",
    "creeping": "The load creeps from session to session",
    "test": "The test is stale, missing or does not fit",
    "unread": "Recordings unreadable or cut short",
    "asked": "Sessions asked about",
    "nothing": "Nothing to judge",
    "held": "Held the band",
}
ORDER_RULE = (
    "Worst first. An athlete stands under the first heading that fits, in this order: the folder could not be used, so "
    "nothing is known; a session left the band; the load creeps from session to session; the test is stale, missing or "
    "does not fit; recordings could not be read, or in part alone; a session looks hard and is asked about; nothing to judge; held the band. Under a "
    "heading, more sessions out of the band come first, then more things to look at, then the folder's name."
)
_PARTS: Mapping[Group, tuple[str, str]] = {
    "unusable": ("one folder could not be used", "{} folders could not be used"),
    "left": ("one left the band", "{} left the band"),
    "creeping": ("for one the load creeps", "for {} the load creeps"),
    "test": ("for one the test is in doubt", "for {} the test is in doubt"),
    "unread": (
        "for one there are recordings unreadable or cut short",
        "for {} there are recordings unreadable or cut short",
    ),
    "asked": ("for one a session is asked about", "for {} sessions are asked about"),
    "nothing": ("for one there was nothing to judge", "for {} there was nothing to judge"),
}


def answer(places: Sequence[RosterPlace]) -> str:
    """The roster in a sentence or two: how many held the band and need no look, and what is the matter with the others."""
    counts = Counter(place.group for place in places)
    lead = _lead(counts["held"], len(places))
    others = [_part(group, counts[group]) for group in _PARTS if counts[group]]
    return f"{lead}: {', '.join(others)}." if others and len(places) > 1 else f"{lead}."


def _lead(held: int, total: int) -> str:
    if total == 1:
        return "The one athlete held the band" if held else "The one athlete needs a look"
    count = number_word(total)
    if held == total:
        return f"All {count} athletes held the band"
    if not held:
        return f"All {count} athletes need a look"
    return f"{number_word(held).capitalize()} of {count} athletes held the band. The others"


def _part(group: Group, count: int) -> str:
    one, more = _PARTS[group]
    return one if count == 1 else more.format(number_word(count))


def subline(first: date | None, athletes: int) -> str:
    """Which week, and how many athletes."""
    count = "1 athlete" if athletes == 1 else f"{athletes:,} athletes"
    if first is None:
        return f"No folder holds a session yet; {count}."
    last = first + timedelta(days=6)
    same = (first.year, first.month) == (last.year, last.month)
    begins = f"{first:%-d}" if same else f"{first:%-d %B}" if first.year == last.year else f"{first:%-d %B %Y}"
    return f"Week {first.isocalendar().week}, {begins} to {last:%-d %B %Y}; {count}."


def no_session(first: date | None) -> str:
    """Why there is nothing to review."""
    if first is None:
        return "No session could be read."
    return f"No session in this week or before; the first one is of {first:%-d %B %Y}."


def none_since(last: date | None) -> str:
    """An athlete whose last session lies before the week."""
    return f"No session in this week; the last one was on {last:%A %-d %B %Y}." if last else "No session in this week."


def lost_head(audit: Audit) -> str:
    """ "Thursday's ride drifted above the ceiling for 16 min." """
    finding = min(audit.verdict.findings, key=rank_of)
    doubt = ", though unsure" if is_unsure_of(audit, finding) else ""
    return f"{weekday(audit)}'s {noun_of(audit)} {words_of(finding.code).did(audit)}{doubt}."


def cut_head(audit: Audit) -> str:
    """ "Thursday's ride is cut short: 17 min of it could be read." """
    return (
        f"{weekday(audit)}'s {noun_of(audit)} is cut short: {duration_text(audit.seconds.active)} of it could be read."
    )


def cut_text(audit: Audit) -> str:
    """What is wrong with the recording, and what to do."""
    return f"{sentence_of(audit.info.damage or '')} Ask for the whole file; until then the rest of the session counts nowhere."


def sentence_of(text: str) -> str:
    """A few words as a sentence."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def recent_text(weeks: Sequence[RosterWeek]) -> str:
    """Four weeks at a glance: "week 17: 2 of 2 held, 3 h 10; week 18: nothing; ..."."""
    return "; ".join(f"week {week.first_day.isocalendar().week}: {_week_text(week)}" for week in weeks)


def _week_text(week: RosterWeek) -> str:
    if not week.sessions:
        return "nothing"
    held = f"{week.held} of {week.judged} held" if week.judged else "none judged"
    return f"{held}, {duration_text(week.active_s)}"


def plan_text(plan: Sequence[PlanHours]) -> str:
    """Planned against done: "cycling in all 6 h 00 planned, 4 h 10 done"; empty without a plan."""
    return "; ".join(
        f"{item.sport} {'in all' if item.band == 'total' else item.band} {'at most ' if item.at_most else ''}"
        f"{duration_text(3600 * item.planned)} planned, {duration_text(3600 * item.done)} done"
        for item in plan
    )


def due_tests(places: Sequence[RosterPlace]) -> tuple[tuple[date | None, str, RosterTest], ...]:
    """(due on, athlete, test) of every test in force, the earliest first; a sport without a usable test is due at once."""
    found = [(item.due, place.entry.name, item) for place in places for item in place.entry.tests]
    return tuple(sorted(found, key=lambda row: (row[0] or date.min, row[1], row[2].sport)))


def due_text(due: date | None, on: date | None) -> str:
    """ "on 10 August 2026, in 12 weeks", "since 3 March 2026", "now: there is no usable test"."""
    if due is None or on is None:
        return "now: there is no usable test"
    if due <= on:
        return f"since {due:%-d %B %Y}"
    weeks = (due - on).days // 7
    return f"on {due:%-d %B %Y}, in {weeks} weeks" if weeks > 1 else f"on {due:%-d %B %Y}, in {(due - on).days} days"


def test_head(item: TestInForce) -> str:
    """What is wrong with a test's age, in a few words."""
    if item.zone_set is None or item.age_days is None:
        return f"{sport_words(item.sport)}: no usable test."
    return f"{sport_words(item.sport)}: the test is {age_text(item.age_days)} ({item.freshness})."


def test_text(item: TestInForce) -> str:
    """The same with its evidence."""
    if item.zone_set is None or item.age_days is None:
        return f"{item.reason or 'There is no usable test.'} Without one nothing can be judged."
    return f"The test in force is of {item.zone_set.test.date:%-d %B %Y}, {age_text(item.age_days)}; {RETEST_NOTE}."


def fit_head(fit: TestFit) -> str:
    """That a test does not fit, in a few words."""
    return f"{sport_words(fit.sport)}: {fit.fit}."
