"""The roster's page: every athlete's week as small ribbons, worst first, with the evidence and the way to the own page."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote

from steadyband.ground.units import duration_text
from steadyband.report.common.pages import Carried, render_page
from steadyband.report.common.ribbon import swatches
from steadyband.report.common.strips import NARROWEST, STRIP_HEAD, Day, Strip, WeekRow
from steadyband.report.common.view import Table
from steadyband.report.common.words import DASH, age_text, capital, counted, date_text, sport_word
from steadyband.report.roster.work import SCALE_S, Seen
from steadyband.review.roster_model import GROUPS, Group, Roster, RosterEntry, RosterNote, RosterPlace, RosterTest
from steadyband.review.roster_sentences import GROUP_HEADS, ORDER_RULE, due_tests, due_text, plan_text, recent_text

FOLDER = "reports"
"""Where below the roster's folder its page goes."""
IN_ANSWER = ("left", "drift")
"""Notes whose heads the athlete's answer says already."""


@dataclass(frozen=True, slots=True)
class AthleteView:
    """One athlete on the page; `href` leads to the own page, empty where there is none, `old` names it where it is of an
    earlier week."""

    name: str
    folder: str
    href: str
    old: str
    answer: str
    heads: tuple[str, ...]
    notes: tuple[RosterNote, ...]
    row: WeekRow | None
    line: str
    recent: str
    plan: str
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GroupView:
    """The athletes under one heading."""

    head: str
    athletes: tuple[AthleteView, ...]
    count: str


def roster_place(roster: Roster, folder: Path | None = None) -> Path:
    """Where the page belongs."""
    year, week = roster.first_day.isocalendar()[:2] if roster.first_day else (0, 0)
    name = f"roster-{year}-W{week:02d}.html" if roster.first_day else "roster.html"
    return (folder or roster.folder / FOLDER) / name


def roster_page(roster: Roster, seen: Iterable[Seen], page: Path) -> str:
    """The roster as one HTML file that needs no network; `page` is where it goes, for the links."""
    by_folder = {item.entry.folder: item for item in seen}
    shown = [by_folder[place.entry.folder] for place in roster.places if _is_current(place.entry, roster)]
    longest = max((item.longest_s for item in shown), default=SCALE_S) or SCALE_S
    groups = [
        _group(
            group,
            [_athlete(place, by_folder, longest, (roster, page)) for place in roster.places if place.group == group],
        )
        for group in GROUPS
    ]
    content = {
        "roster": roster,
        "rule": ORDER_RULE,
        "groups": [group for group in groups if group.athletes],
        "swatches": swatches([list(one.codes) for one in shown]),
        "head": STRIP_HEAD,
        "table": _table(roster.places),
        "due": _due(roster),
    }
    return render_page("roster.html.j2", Carried(styles=("review.css", "roster.css")), content)


def _is_current(entry: RosterEntry, roster: Roster) -> bool:
    return entry.first_day is not None and entry.first_day == roster.first_day


def _group(group: Group, athletes: Sequence[AthleteView]) -> GroupView:
    return GroupView(GROUP_HEADS[group], tuple(athletes), counted(len(athletes), "athlete"))


def _athlete(place: RosterPlace, by_folder: dict[str, Seen], longest: int, at: tuple[Roster, Path]) -> AthleteView:
    roster, page = at
    entry = place.entry
    current = _is_current(entry, roster)
    row = by_folder[entry.folder].row
    return AthleteView(
        name=entry.name,
        folder=entry.folder if entry.folder != entry.name else "",
        href=quote(Path(os.path.relpath(entry.page, page.parent)).as_posix()) if entry.page else "",
        old=_week_name(entry) if entry.page and not current else "",
        answer=entry.fault or capital(entry.answer),
        heads=tuple(note.head for note in entry.notes if note.code not in IN_ANSWER),
        notes=entry.notes,
        row=_scaled(row, longest) if row and current else None,
        line=held_text(entry) if current else "",
        recent=recent_text(place.weeks),
        plan=plan_text(entry.plan),
        changed=place.changed,
    )


def _week_name(entry: RosterEntry) -> str:
    year, week = entry.first_day.isocalendar()[:2] if entry.first_day else (0, 0)
    return f"week {week} of {year}"


def held_text(entry: RosterEntry) -> str:
    """ "5 h 10, 2 of 4 held"."""
    held = f"{entry.held} of {entry.judged} held" if entry.judged else "none judged"
    return f"{duration_text(entry.active_s)}, {held}"


def _scaled(row: WeekRow, longest: int) -> WeekRow:
    """The row with its ribbons drawn to the scale of all athletes' longest session."""
    return replace(row, days=tuple(_scaled_day(day, SCALE_S / longest) for day in row.days))


def _scaled_day(day: Day, factor: float) -> Day:
    return replace(day, strips=tuple(_scaled_strip(item, factor) for item in day.strips))


def _scaled_strip(item: Strip, factor: float) -> Strip:
    return replace(item, width=f"{min(100.0, max(NARROWEST, float(item.width) * factor)):.2f}")


def _table(places: Sequence[RosterPlace]) -> Table:
    head = ("athlete", "heading", "test", "last session", "held", "active", "drift", "not read, or cut")
    rows = tuple(_cells(place) for place in places)
    note = "Held: endurance sessions that held the band, of those judged. Drift: sessions lost to drift, and loads that creep."
    return Table("Every athlete", head, rows, words=4, note=note)


def _due(roster: Roster) -> Table | None:
    """The tests in force by the day they are due again; None where there are none."""
    rows = tuple(
        (name, sport_word(item.sport), due_text(due, roster.last_day), item.test or DASH)
        for due, name, item in due_tests(roster.places)
    )
    note = "A test is due when it becomes stale, or at once where a sport of the week has none that can be used."
    return Table("Tests due", ("athlete", "sport", "due", "test in force"), rows, words=4, note=note) if rows else None


def _cells(place: RosterPlace) -> tuple[str, ...]:
    entry = place.entry
    return (
        entry.name,
        GROUP_HEADS[place.group].lower(),
        "; ".join(test_words(item) for item in entry.tests) or DASH,
        date_text(entry.last_session) if entry.last_session else DASH,
        f"{entry.held} of {entry.judged}" if entry.judged else DASH,
        duration_text(entry.active_s) if entry.active_s else DASH,
        str(entry.count("drift", "creep") or DASH),
        str(entry.count("unread", "cut") or DASH),
    )


def test_words(item: RosterTest) -> str:
    """A test in a few words: "by bike: current, fits"."""
    if item.test is None or item.age_days is None:
        return f"{sport_word(item.sport)}: none usable"
    fit = f", {item.fit}" if item.fit and item.fit != "cannot tell" else ""
    fresh = f"{item.freshness}, " if item.age_days > 0 else ""
    return f"{sport_word(item.sport)}: {fresh}{age_text(item.age_days)}{fit}"


test_words.__test__ = False  # type: ignore[attr-defined]
