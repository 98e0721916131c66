"""Rows of sessions.csv that are about no session: named, with what may have gone wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.labels import is_about
from steadyband.athlete.model import SessionLabel
from steadyband.ground.plain import shown
from steadyband.ground.units import time_of_day

NAMED = 3
"""How many of the rows outside the weeks with sessions are named; the others are counted."""


def unmatched(labels: Iterable[SessionLabel], sessions: Sequence[Condensed]) -> tuple[SessionLabel, ...]:
    """The rows of the file that name no session, in its order; a row with neither a time nor an intent is about its day alone."""
    by_day: dict[date, list[Condensed]] = {}
    for item in sessions:
        by_day.setdefault(item.day, []).append(item)
    return tuple(label for label in labels if label.line and (label.intent or label.time) and not _found(label, by_day))


def _found(label: SessionLabel, by_day: dict[date, list[Condensed]]) -> bool:
    infos = [item.audit.info for item in by_day.get(label.date, [])]
    return any(is_about(label, info.local_start, info.sport) for info in infos)


def unmatched_lines(
    labels: Sequence[SessionLabel], sessions: Sequence[Condensed], first: date, last: date
) -> tuple[str, ...]:
    """A sentence on each row from one day to another that matches no session, and one on those of weeks without any session.

    No week shows those last ones, so every week's review counts them: a mistyped year is found that way.
    """
    rows = unmatched(labels, sessions)
    weeks = {item.day.isocalendar()[:2] for item in sessions}
    here = [row for row in rows if first <= row.date <= last]
    nowhere = [row for row in rows if row not in here and row.date.isocalendar()[:2] not in weeks]
    return (*(_line(row, sessions) for row in here), *_elsewhere(nowhere))


def _line(row: SessionLabel, sessions: Sequence[Condensed]) -> str:
    return f"sessions.csv, line {row.line} ({_row_text(row)}) matches no session: {_why(row, sessions)}."


def _row_text(row: SessionLabel) -> str:
    parts = (str(row.date), row.time, row.sport, row.intent)
    return ", ".join(shown(part).strip("'\"") for part in parts if part)


def _why(row: SessionLabel, sessions: Sequence[Condensed]) -> str:
    of_day = [item.audit.info for item in sessions if item.day == row.date]
    fitting = [info for info in of_day if row.sport is None or info.sport in (row.sport, "unknown")]
    if fitting:
        near = min(fitting, key=lambda info: _apart(row, info.local_start))
        began = time_of_day(near.local_start)
        return f"the nearest of that day began at {began}, by the time zone {near.local_start.tzinfo}"
    if of_day:
        return f"that day has {' and '.join(sorted({info.sport for info in of_day}))} only"
    beside = [item for item in sessions if abs((item.day - row.date).days) == 1]
    if beside:
        near_info = beside[0].audit.info
        return f"that day has none; {near_info.local_start:%Y-%m-%d} has one at {time_of_day(near_info.local_start)}"
    return "that day has none"


def _apart(row: SessionLabel, start: datetime) -> timedelta:
    at = datetime.combine(row.date, datetime.strptime(row.time or "12:00", "%H:%M").time(), start.tzinfo)
    return abs(at - start)


def _elsewhere(rows: Sequence[SessionLabel]) -> Iterator[str]:
    if not rows:
        return
    named = ", ".join(f"line {row.line} ({row.date})" for row in rows[:NAMED])
    more = f" and {len(rows) - NAMED} more" if len(rows) > NAMED else ""
    what = "row of sessions.csv stands in a week" if len(rows) == 1 else "rows of sessions.csv stand in weeks"
    yield f"{len(rows)} {what} without a session: {named}{more}."
