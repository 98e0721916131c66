"""What changed since the last run of a roster: a small file beside its page remembers each athlete's heading and sessions."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from steadyband.ground.opening import small_text
from steadyband.review.model import week_name
from steadyband.review.roster_model import GROUPS, Roster, RosterPlace
from steadyband.review.roster_sentences import GROUP_HEADS
from steadyband.review.sentences import number_word

NAME = ".roster-last.json"
SIZE_MAX = 2**24
"""Largest such file [bytes] (design choice: 100,000 athletes take some ten million)."""
SCHEMA = 1


def remembered(roster: Roster) -> str:
    """The file's text: each athlete's heading and number of sessions, and the week."""
    athletes = {
        place.entry.folder: {"group": place.group, "sessions": place.entry.season_sessions} for place in roster.places
    }
    week = week_name(roster.first_day) if roster.first_day else None
    return json.dumps({"schema": SCHEMA, "week": week, "athletes": athletes}, ensure_ascii=False) + "\n"


def last_run(path: Path) -> Mapping[str, Any] | None:
    """What the last run left; None where there was none, or where the file is not one of ours any more."""
    try:
        found = json.loads(small_text(path, SIZE_MAX))
    except (OSError, ValueError, RecursionError):
        return None
    return found if _is_ours(found) else None


def _is_ours(found: Any) -> bool:
    return (
        isinstance(found, dict)
        and found.get("schema") == SCHEMA
        and isinstance(found.get("athletes"), dict)
        and all(
            isinstance(item, dict) and item.get("group") in GROUPS and isinstance(item.get("sessions"), int)
            for item in found["athletes"].values()
        )
    )


def with_changes(roster: Roster, before: Mapping[str, Any] | None) -> Roster:
    """The roster with what is new of each athlete since the run before; unchanged where there was none."""
    if before is None:
        return roster
    return replace(
        roster, places=tuple(replace(place, changed=tuple(_changes(place, before))) for place in roster.places)
    )


def _changes(place: RosterPlace, before: Mapping[str, Any]) -> Iterable[str]:
    known = before["athletes"].get(place.entry.folder)
    if known is None:
        yield "New in the roster."
        return
    more = place.entry.season_sessions - known["sessions"]
    if more:
        sessions = "session" if abs(more) == 1 else "sessions"
        yield f"{number_word(abs(more)).capitalize()} {sessions} {'more' if more > 0 else 'fewer'} than at the last run."
    if known["group"] != place.group:
        week = before.get("week")
        yield f"Stood under “{GROUP_HEADS[known['group']]}” at the last run{f', of {week}' if isinstance(week, str) else ''}."
