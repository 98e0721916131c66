"""Small ribbons: one session in a few millimetres, drawn as rectangles by the page template."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from steadyband.athlete.condensed import STRIP_S, Condensed
from steadyband.audit.model import BAND_NAMES, Audit
from steadyband.ground.units import duration_text
from steadyband.report.common.beside import ALONE, Beside, session_names
from steadyband.report.common.ribbon import Piece, pieces_of, runs
from steadyband.report.common.words import (
    DASH,
    DAYS,
    capital,
    day_text,
    session_word,
    sport_word,
    verdict_label,
    zero_or_time,
)
from steadyband.review.model import Gap, Week
from steadyband.steptest.model import ZoneSet

STRIP_HEAD = ("session", "verdict", "active", *BAND_NAMES)
"""Head of the table behind the small ribbons."""
NARROWEST = 7.0
"""Share of its cell [%] that the shortest session still takes: it must be seen."""
ROW = 88.0
"""Share of a row's width [%] that the sessions of the fullest week take end to end; the rest is the room between them."""


@dataclass(frozen=True, slots=True)
class Strip:
    """One session: width in % of its cell, pieces, the same in words, and whether it left the band or is asked about.

    `cells` is its row of the table behind the ribbons, `href` leads to its own page, empty where there is none.
    """

    width: str
    pieces: tuple[Piece, ...]
    words: str
    sport: str
    amiss: bool
    asked: bool
    cells: tuple[str, ...]
    href: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """A step test: what it was, and its row of the table behind the ribbons."""

    words: str
    cells: tuple[str, ...]
    href: str = ""


@dataclass(frozen=True, slots=True)
class Day:
    """One day's cell: its sessions and the tests made on it."""

    name: str
    strips: tuple[Strip, ...]
    tests: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class WeekRow:
    """One week: label, seven days, and a line on it; or, without days, a line on weeks without a session."""

    label: str
    dates: str
    days: tuple[Day, ...]
    line: str


def strip(item: Condensed, longest_s: float, href: str = "", narrowest: float = NARROWEST) -> Strip:
    """A session as a strip whose width stands for its length against the longest; `href` leads to its own page."""
    share = 100 * STRIP_S * len(item.strip) / max(longest_s, 1)
    return Strip(
        width=f"{max(narrowest, share):.2f}",
        pieces=pieces_of(runs(item.strip), len(item.strip)),
        words=_words(item),
        sport=session_word(item.audit.info.sport),
        amiss=item.audit.verdict.in_band is False,
        asked=item.is_asked,
        cells=_cells(item),
        href=href,
    )


def _cells(item: Condensed) -> tuple[str, ...]:
    audit = item.audit
    verdict = "asked about: hard?" if item.is_asked else verdict_label(audit)
    title = f"{day_text(item.day)} {item.day.year}, {session_word(audit.info.sport)}"
    return (title, verdict, duration_text(audit.seconds.active), *(_time(audit, name) for name in BAND_NAMES))


def _time(audit: Audit, name: str) -> str:
    return zero_or_time(audit.bands[name].seconds) if audit.bands and name in audit.bands else DASH


def _words(item: Condensed) -> str:
    audit = item.audit
    length = duration_text(audit.seconds.active)
    return f"{day_text(item.day)}, {session_word(audit.info.sport)}, {length}: {verdict_label(audit)}"


def week_row(row: Week | Gap, fullest_s: int, beside: Beside = ALONE) -> WeekRow:
    """One row of the block and season pages: its sessions end to end against `fullest_s`, the seconds of the fullest week."""
    if isinstance(row, Gap):
        dates = f"{row.first_day:%-d %b %Y} to {row.last_day:%-d %b %Y}"
        return WeekRow("", dates, (), f"{row.weeks} weeks without a session")
    days = tuple(_day(row, number, 100 * fullest_s / ROW, beside) for number in range(1, 8))
    return WeekRow(_week_text(row.first_day), f"from {row.first_day:%-d %b}", days, _line(row))


def _week_text(day: date) -> str:
    year, week, _ = day.isocalendar()
    return f"{year}, week {week}"


def _day(row: Week, number: int, full_s: float, beside: Beside) -> Day:
    sessions = [item for item in row.sessions if item.day.isoweekday() == number]
    names = session_names([item.audit for item in sessions])
    strips = tuple(strip(item, full_s, beside.session(name), 0.0) for item, name in zip(sessions, names, strict=True))
    tests = tuple(_mark(item) for item in row.tests if item.test.date.isoweekday() == number)
    return Day(DAYS[number - 1], strips, tests)


def _mark(item: ZoneSet) -> Mark:
    day = item.test.date
    words = f"{day_text(day)}, {test_words(item)}"
    return Mark(words, (f"{day_text(day)} {day.year}, step test", test_words(item), *(DASH,) * (len(STRIP_HEAD) - 2)))


def test_words(item: ZoneSet) -> str:
    """A test's mark in words."""
    return f"{capital(sport_word(item.test.sport))}: step test" + ("" if item.usable else " (gives no zones)")


def _line(row: Week) -> str:
    if not row.sessions:
        return "no session"
    held = f"{row.held} of {row.judged} held" if row.judged else "none judged"
    return f"{duration_text(row.active_s)}, {held}"
