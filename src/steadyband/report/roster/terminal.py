"""What `roster` prints: lines that fit 80 columns."""

from __future__ import annotations

from datetime import timedelta
from itertools import groupby

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from steadyband.ground.plain import plain
from steadyband.report.common.terminal import heading, paragraph, paragraphs, titled
from steadyband.report.common.words import capital, sport_word
from steadyband.report.roster.page import IN_ANSWER, held_text
from steadyband.review.roster_model import Roster, RosterEntry, RosterPlace
from steadyband.review.roster_sentences import GROUP_HEADS, due_tests, due_text, plan_text, recent_text

SOON = timedelta(weeks=4)
"""Tests due within this time are named in the terminal; the page has them all (design choice)."""


def roster_view(roster: Roster) -> RenderableType:
    """The answer, then every athlete under the roster's headings."""
    parts: list[RenderableType] = [heading(roster.answer), paragraph(roster.subline)]
    for group, places in groupby(roster.places, key=lambda place: place.group):
        parts += titled(GROUP_HEADS[group], [part for place in places for part in _athlete(place)])
    parts += titled("Tests due", paragraphs(_due(roster)))
    parts += titled("Left alone", paragraphs(roster.left_alone))
    return Group(*parts, Text())


def _due(roster: Roster) -> list[str]:
    """The tests due within four weeks; where none is, the first to come."""
    tests = due_tests(roster.places)
    soon = [row for row in tests if row[0] is None or roster.last_day is None or row[0] <= roster.last_day + SOON]
    lines = [
        f"{plain(name)}, {sport_word(item.sport)}: {due_text(due, roster.last_day)}."
        for due, name, item in soon or tests[:1]
    ]
    return lines if soon or not tests else [f"None within four weeks; the first: {lines[0]}"]


def _athlete(place: RosterPlace) -> list[RenderableType]:
    entry = place.entry
    lines = [entry.fault or capital(entry.answer), *(note.head for note in entry.notes if note.code not in IN_ANSWER)]
    lines += [f"Since the last run: {' '.join(place.changed)}"] if place.changed else []
    lines += [f"Plan: {plan_text(entry.plan)}."] if entry.plan else []
    lines += [f"Four weeks: {recent_text(place.weeks)}."] if place.weeks else []
    return [_name(entry), *(Padding(paragraph(line), (0, 0, 0, 2), expand=False) for line in lines)]


def _name(entry: RosterEntry) -> Text:
    name = Text.assemble((plain(entry.name), "bold"))
    if entry.folder != entry.name:
        name.append(f" ({plain(entry.folder)})", "dim")
    return name.append(f": {held_text(entry)}") if entry.sessions else name
