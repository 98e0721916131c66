"""What `roster` prints: lines that fit 80 columns."""

from __future__ import annotations

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


def roster_view(roster: Roster) -> RenderableType:
    """The answer, then every athlete under the roster's headings."""
    parts: list[RenderableType] = [heading(roster.answer), paragraph(roster.subline)]
    for group, places in groupby(roster.places, key=lambda place: place.group):
        parts += titled(GROUP_HEADS[group], [part for place in places for part in _athlete(place)])
    parts += titled("Tests due", paragraphs(_due(roster)))
    parts += titled("Left alone", paragraphs(roster.left_alone))
    return Group(*parts, Text())


def _due(roster: Roster) -> list[str]:
    return [
        f"{plain(name)}, {sport_word(item.sport)}: {due_text(due, roster.last_day)}."
        for due, name, item in due_tests(roster.places)
    ]


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
