"""sessions.csv: what each session was for; and the intent of a session by label, by name or assumed."""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path

from steadyband.athlete.athlete import check_intent
from steadyband.athlete.csv_file import column_names, delimiter_of, read_rows
from steadyband.athlete.model import IntentRule, SessionLabel
from steadyband.athlete.own_words import felt_cells
from steadyband.ground.cells import as_written
from steadyband.ground.dates import DayError, read_day
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown
from steadyband.ground.sports import sport_named

COLUMNS = ("date", "time", "intent", "sport", "note")
OWN = ("effort", "sleep", "illness")
"""Columns that may be there too: what the athlete felt (`own_words`)."""
MOST_TOLD = 20
"""Most faulty rows and columns that get a sentence each; the others are counted."""
TIME_TOLERANCE = timedelta(minutes=15)
"""How far a label's time may be from the start of the session it names (design choice)."""


@dataclass(frozen=True, slots=True)
class LabelFile:
    """sessions.csv as read: its rows, and a sentence on each row or column that could not be used."""

    rows: tuple[SessionLabel, ...] = ()
    faults: tuple[str, ...] = ()


def read_labels(path: Path) -> tuple[SessionLabel, ...]:
    """The rows of sessions.csv that can be used; an absent file is an empty tuple. Raises as `read_label_file`."""
    return read_label_file(path).rows


def read_label_file(path: Path) -> LabelFile:
    """sessions.csv: cells parted by commas, semicolons or tabs; a faulty row costs that row and a sentence.

    Raises AthleteFileError where it is no table or has no column for the date.
    """
    found = read_rows(path, _parse)
    rows = tuple(item for item in found if isinstance(item, SessionLabel))
    faults = [str(item) for item in found if isinstance(item, AthleteFileError)]
    more = (f"{path}: {len(faults) - MOST_TOLD:,} more faults of this kind.",) if len(faults) > MOST_TOLD else ()
    return LabelFile(rows, (*faults[:MOST_TOLD], *more))


def _parse(text: str, file: str) -> Iterable[SessionLabel | AthleteFileError]:
    names = column_names(text)
    if not names:
        return
    if "date" not in names:
        raise AthleteFileError(f"expected a column 'date', found {', '.join(names)}.", file=file, place="line 1")
    known = (*COLUMNS, *OWN)
    for name in names:
        if name and name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"Did you mean {near[0]!r}?" if near else f"Known are {', '.join(known)}."
            yield AthleteFileError(f"column {shown(name)} is not used.", file=file, place="line 1", hint=hint)
    reader = csv.reader(io.StringIO(text), skipinitialspace=True, delimiter=delimiter_of(text))
    head = True
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        if not head:
            try:
                yield _label(names, cells, file, reader.line_num)
            except AthleteFileError as fault:
                fault.hint = f"{fault.hint} The row is not used.".strip()
                yield fault
        head = False


def _label(names: Sequence[str], row: Sequence[str], file: str, number: int) -> SessionLabel:
    line = f"line {number}"
    if any(cell.strip() for cell in row[len(names) :]):
        raise AthleteFileError(
            "more cells than columns.", file=file, place=line, hint="Put notes with commas in quotes."
        )
    cells = dict(zip(names, (cell.strip() for cell in row), strict=False))
    try:
        day = read_day(cells["date"])
    except DayError as fault:
        raise AthleteFileError(f"{fault}, found {shown(cells['date'])}.", file=file, place=f"{line}, date") from fault
    at = _time(cells.get("time", ""), file, f"{line}, time")
    intent = cells.get("intent", "").casefold()
    intent = check_intent(intent, file, f"{line}, intent") if intent else ""
    sport, note = (as_written(cells.get(name, "")) for name in ("sport", "note"))
    felt = felt_cells(cells, file, line)
    named = sport_named(sport).replace(" ", "_") or None
    return SessionLabel(day, at, intent, named, note, felt.effort, felt.sleep_h, felt.illness, number)


def _time(text: str, file: str, place: str) -> str | None:
    if not text:
        return None
    found = re.fullmatch(r"(\d{1,2})[:.h](\d{2})(?:[:.]\d{2})?\s*(am|pm|a\.m\.|p\.m\.)?", text.casefold())
    hour, minute = (int(found[1]), int(found[2])) if found else (99, 99)
    if found and found[3]:
        hour = hour % 12 + (12 if found[3].startswith("p") else 0) if 1 <= hour <= 12 else 99
    if hour > 23 or minute > 59:
        raise AthleteFileError(f"expected a time such as 07:30, found {shown(text)}.", file=file, place=place)
    return f"{hour:02d}:{minute:02d}"


def find_label(labels: Iterable[SessionLabel], start: datetime, sport: str) -> SessionLabel | None:
    """The row that tells the intent of a session that began at local `start`: one with a time goes before one for the whole day."""
    of_day = [item for item in labels if item.intent and item.date == start.date() and item.sport in (None, sport)]
    timed = [(distance, item) for item in of_day if (distance := _distance(item, start)) is not None]
    near = [pair for pair in timed if pair[0] <= TIME_TOLERANCE]
    if near:
        return min(near, key=lambda pair: pair[0])[1]
    return next((item for item in of_day if item.time is None), None)


def is_about(label: SessionLabel, start: datetime, sport: str) -> bool:
    """True where a row names a session that began at local `start`, or its day."""
    away = _distance(label, start)
    fits = label.sport is None or sport in (label.sport, "unknown")
    return label.date == start.date() and fits and (away is None or away <= TIME_TOLERANCE)


def _distance(label: SessionLabel, start: datetime) -> timedelta | None:
    if label.time is None:
        return None
    at = datetime.combine(label.date, time.fromisoformat(label.time), start.tzinfo)
    return abs(at - start)


def intent_by_name(name: str | None, rules: Sequence[IntentRule]) -> str | None:
    """The intent of the first rule whose word stands in the recording's own name, None without one."""
    folded = (name or "").casefold()
    return next((rule.intent for rule in rules if rule.word in folded), None)
