"""sessions.csv: what each session was for; and the intent of a session by label, by name or assumed."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path

from steadyband.athlete.athlete import check_intent, check_keys
from steadyband.athlete.csv_file import read_rows
from steadyband.athlete.model import IntentRule, SessionLabel
from steadyband.athlete.own_words import felt_cells
from steadyband.ground.cells import as_written
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown

COLUMNS = ("date", "time", "intent", "sport", "note")
OWN = ("effort", "sleep", "illness")
"""Columns that may be there too: what the athlete felt (`own_words`)."""
TIME_TOLERANCE = timedelta(minutes=15)
"""How far a label's time may be from the start of the session it names (design choice)."""


def read_labels(path: Path) -> tuple[SessionLabel, ...]:
    """The rows of sessions.csv; an absent file is an empty tuple.

    Raises AthleteFileError naming file, line and column.
    """
    return read_rows(path, _parse)


def _parse(text: str, file: str) -> Iterable[SessionLabel]:
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    names = tuple(reader.fieldnames or ())
    if not names:
        return
    check_keys(names, (*COLUMNS, *OWN), file, "column ")
    for needed in ("date", "intent"):
        if needed not in names:
            raise AthleteFileError(
                f"expected a column {needed!r}, found {', '.join(names)}.", file=file, place="line 1"
            )
    for row in reader:
        if any(value for value in row.values()):
            yield _label(row, file, f"line {reader.line_num}")


def _label(row: dict[str, str | None], file: str, line: str) -> SessionLabel:
    if None in row:
        raise AthleteFileError(
            "more cells than columns.", file=file, place=line, hint="Put notes with commas in quotes."
        )
    cells = {key: (value or "").strip() for key, value in row.items()}
    try:
        day = date.fromisoformat(cells["date"])
    except ValueError as fault:
        raise AthleteFileError(
            f"expected a date such as 2026-05-14, found {shown(cells['date'])}.", file=file, place=f"{line}, date"
        ) from fault
    at = _time(cells.get("time", ""), file, f"{line}, time")
    intent = check_intent(cells["intent"], file, f"{line}, intent")
    sport, note = (as_written(cells.get(name, "")) for name in ("sport", "note"))
    felt = felt_cells(cells, file, line)
    return SessionLabel(day, at, intent, sport or None, note, felt.effort, felt.sleep_h, felt.illness)


def _time(text: str, file: str, place: str) -> str | None:
    if not text:
        return None
    try:
        return time.fromisoformat(text.zfill(5)).strftime("%H:%M")
    except ValueError as fault:
        raise AthleteFileError(
            f"expected a time such as 07:30, found {shown(text)}.", file=file, place=place
        ) from fault


def find_label(labels: Iterable[SessionLabel], start: datetime, sport: str) -> SessionLabel | None:
    """The label of a session that began at local `start`: one with a time goes before one for the whole day."""
    of_day = [item for item in labels if item.date == start.date() and item.sport in (None, sport)]
    timed = [(distance, item) for item in of_day if (distance := _distance(item, start)) is not None]
    near = [pair for pair in timed if pair[0] <= TIME_TOLERANCE]
    if near:
        return min(near, key=lambda pair: pair[0])[1]
    return next((item for item in of_day if item.time is None), None)


def _distance(label: SessionLabel, start: datetime) -> timedelta | None:
    if label.time is None:
        return None
    at = datetime.combine(label.date, time.fromisoformat(label.time), start.tzinfo)
    return abs(at - start)


def intent_by_name(name: str | None, rules: Sequence[IntentRule]) -> str | None:
    """The intent of the first rule whose word stands in the recording's own name, None without one."""
    folded = (name or "").casefold()
    return next((rule.intent for rule in rules if rule.word in folded), None)
