"""The roster as plain values for JSON."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from steadyband.review.roster_model import Roster, RosterEntry, RosterPlace


def roster_to_dict(roster: Roster) -> dict[str, Any]:
    """The object of `roster --format json`: the week, the answer, one object an athlete in the roster's order.

    The same folder gives the same object wherever the work was done; paths are taken from the roster's folder.
    """
    year, week = roster.first_day.isocalendar()[:2] if roster.first_day else (0, 0)
    return {
        "schema": 1,
        "week": f"{year}-W{week:02d}" if roster.first_day else None,
        "first_day": roster.first_day.isoformat() if roster.first_day else None,
        "last_day": roster.last_day.isoformat() if roster.last_day else None,
        "answer": roster.answer,
        "athletes": [_athlete(place, roster.folder) for place in roster.places],
        "left_alone": list(roster.left_alone),
    }


def _athlete(place: RosterPlace, folder: Path) -> dict[str, Any]:
    entry = place.entry
    return {
        "folder": entry.folder,
        "name": entry.name,
        "group": place.group,
        "answer": entry.answer,
        "fault": entry.fault or None,
        "last_session": entry.last_session.isoformat() if entry.last_session else None,
        "sessions": entry.sessions,
        "active_s": entry.active_s,
        "endurance": {"judged": entry.judged, "held": entry.held, "unsure": entry.unsure},
        "notes": [
            {"code": note.code, "head": note.head, "text": note.text, "file": note.file or None} for note in entry.notes
        ],
        "tests": [
            {"sport": item.sport, "test": item.test, "age_days": item.age_days, "freshness": item.freshness,
             "fit": item.fit, "reason": item.reason}
            for item in entry.tests
        ],
        "page": _page(entry, folder),
    }  # fmt: skip


def _page(entry: RosterEntry, folder: Path) -> str | None:
    if entry.page is None:
        return None
    home = folder.resolve()
    return (entry.page.relative_to(home) if entry.page.is_relative_to(home) else entry.page).as_posix()
