"""What was taken for granted in a span of sessions: judged by a test made later, taken as easy by its load."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date

from steadyband.audit.model import Audit
from steadyband.ground.units import day_words
from steadyband.review.sentences import noun_of, number_word
from steadyband.told.notes import taken_as_easy_text


def taken_for_granted(audits: Iterable[Audit]) -> tuple[str, ...]:
    """A sentence for each test that was named or judges sessions before it, and for each session that was taken as easy."""
    told = tuple(audits)
    named = sorted({audit.zones.test for audit in told if audit.zones and _has(audit, "test_named")})
    tests = Counter(
        (audit.info.sport, audit.zones.test_date) for audit in told if audit.zones and _has(audit, "tested_after")
    )
    return (
        *(f"Judged by the test that was named ({test}), whatever its date." for test in named),
        *(_before_test(sport, day, count) for (sport, day), count in sorted(tests.items())),
        *(text for audit in told for text in _taken_as_easy(audit)),
    )


def _has(audit: Audit, code: str) -> bool:
    return any(note.code == code for note in audit.quality.notes)


def _before_test(sport: str, day: date, count: int) -> str:
    sessions = "One session was" if count == 1 else f"{number_word(count).capitalize()} sessions were"
    return (
        f"{sport.capitalize()}: {sessions} before the first usable test, of {day:%-d %B %Y}, and judged by it, as if you had "
        "been as fit then."
    )


def _taken_as_easy(audit: Audit) -> Iterable[str]:
    day = day_words(audit.info.local_start.date())
    for note in audit.quality.notes:
        if note.code == "taken_as_easy":
            yield f"{day}'s {noun_of(audit)}: {taken_as_easy_text(note.numbers)}"
