"""What the roster says, each sentence standing on the entries' numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from steadyband.audit.model import Audit
from steadyband.review.drift_sentences import fit_text, sport_words
from steadyband.review.fit_of_test import TestFit
from steadyband.review.model import TestInForce
from steadyband.review.roster_model import Group, RosterPlace
from steadyband.review.sentences import RETEST_NOTE, noun_of, number_word, weekday
from steadyband.told.findings import is_unsure_of, rank_of, words_of

GROUP_HEADS: Mapping[Group, str] = {
    "unusable": "Folder could not be used",
    "left": "Left the band",
    "creeping": "The load creeps from session to session",
    "test": "The test is stale, missing or does not fit",
    "unread": "Files could not be read",
    "asked": "Sessions asked about",
    "nothing": "Nothing to judge",
    "held": "Held the band",
}
ORDER_RULE = (
    "Worst first. An athlete stands under the first heading that fits, in this order: the folder could not be used, so "
    "nothing is known; a session left the band; the load creeps from session to session; the test is stale, missing or "
    "does not fit; files could not be read; a session looks hard and is asked about; nothing to judge; held the band. Under a "
    "heading, more sessions out of the band come first, then more things to look at, then the folder's name."
)
_PARTS: Mapping[Group, tuple[str, str]] = {
    "unusable": ("one folder could not be used", "{} folders could not be used"),
    "left": ("one left the band", "{} left the band"),
    "creeping": ("for one the load creeps", "for {} the load creeps"),
    "test": ("for one the test is in doubt", "for {} the test is in doubt"),
    "unread": ("for one there are files that could not be read", "for {} there are files that could not be read"),
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
    """ "Thursday's ride drifted into zone 3 for 16 min." """
    finding = min(audit.verdict.findings, key=rank_of)
    doubt = ", though unsure" if is_unsure_of(audit, finding) else ""
    return f"{weekday(audit)}'s {noun_of(audit)} {words_of(finding.code).did(audit)}{doubt}."


def test_head(item: TestInForce) -> str:
    """What is wrong with a test's age, in a few words."""
    if item.zone_set is None or item.age_days is None:
        return f"{sport_words(item.sport)}: no usable test."
    return f"{sport_words(item.sport)}: the test is {item.age_days // 7} weeks old ({item.freshness})."


def test_text(item: TestInForce) -> str:
    """The same with its evidence."""
    if item.zone_set is None or item.age_days is None:
        return f"{item.reason or 'There is no usable test.'} Without one nothing can be judged."
    return f"The test in force is of {item.zone_set.test.date:%-d %B %Y}, {item.age_days} days old; {RETEST_NOTE}."


def fit_head(fit: TestFit) -> str:
    """That a test does not fit, in a few words."""
    return f"{sport_words(fit.sport)}: {fit.fit}."


__all__ = ["GROUP_HEADS", "ORDER_RULE", "answer", "fit_head", "fit_text", "lost_head", "no_session"]
