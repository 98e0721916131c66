"""What the athlete told: notes on sessions and weeks, effort, sleep and illness. It stands beside the verdict and changes none."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from steadyband.athlete.csv_file import delimiter_of, read_rows
from steadyband.athlete.model import SessionLabel, WeekNote
from steadyband.ground.cells import as_written
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown, table_text

WEEK_COLUMNS = ("week", "note")
EFFORT_MOST = 10.0
"""Effort as felt is told from 0 (none) to 10 (all there was), the range of the published category-ratio scales."""
SLEEP_MOST_H = 24.0
NOT_ILL = frozenset({"", "0", "-", "no", "none", "n", "well", "healthy"})
"""What people write into the column where they are not ill."""
NEAR_S = 900
"""How far a row's time may be from the session it is about [s], as for labels (design choice)."""


@dataclass(frozen=True, slots=True)
class OwnWords:
    """What the athlete told of one session: a note, effort as felt (0 to 10), hours slept before it, illness in words."""

    note: str = ""
    effort: float | None = None
    sleep_h: float | None = None
    illness: str = ""

    def __bool__(self) -> bool:
        return bool(self.note or self.illness) or self.effort is not None or self.sleep_h is not None


NOTHING = OwnWords()


def felt_cells(cells: Mapping[str, str], file: str, line: str) -> OwnWords:
    """Effort, sleep and illness of one row of sessions.csv; absent and empty cells say nothing.

    Raises AthleteFileError where a number is none or out of its range.
    """
    illness = as_written(cells.get("illness", ""))
    return OwnWords(
        effort=_number(cells.get("effort", ""), EFFORT_MOST, file, f"{line}, effort", "an effort from 0 to 10"),
        sleep_h=_number(cells.get("sleep", ""), SLEEP_MOST_H, file, f"{line}, sleep", "hours of sleep such as 7.5"),
        illness="" if illness.casefold() in NOT_ILL else illness,
    )


def _number(cell: str, most: float, file: str, place: str, expected: str) -> float | None:
    if not cell:
        return None
    found = re.fullmatch(r"(\d{1,2}(?:[.,]\d{1,2})?)(?:\s*(?:h|/\s*10))?", cell)
    value = float(found[1].replace(",", ".")) if found else most + 1
    if value > most:
        raise AthleteFileError(f"expected {expected} or nothing, found {shown(cell)}.", file=file, place=place)
    return value


def own_words(labels: Iterable[SessionLabel], start: datetime, sport: str) -> OwnWords:
    """What was told of a session that began at local `start`: rows with its time go before rows of the whole day."""
    of_day = [item for item in labels if item.date == start.date() and item.sport in (None, sport)]
    timed = [item for item in of_day if item.time is not None and _apart_s(item.time, start) <= NEAR_S]
    least = min((_apart_s(item.time or "", start) for item in timed), default=0.0)
    nearest = [item for item in timed if _apart_s(item.time or "", start) == least]
    rows = [*nearest, *(item for item in of_day if item.time is None)]
    return OwnWords(
        note=_cleaned("\n".join(dict.fromkeys(item.note for item in rows if item.note))),
        effort=next((item.effort for item in rows if item.effort is not None), None),
        sleep_h=next((item.sleep_h for item in rows if item.sleep_h is not None), None),
        illness=_cleaned(next((item.illness for item in rows if item.illness), "")),
    )


def _apart_s(at: str, start: datetime) -> float:
    return abs((datetime.combine(start.date(), time.fromisoformat(at), start.tzinfo) - start).total_seconds())


def _cleaned(text: str) -> str:
    """A person's text line by line, without orders to a terminal or marks that turn the direction of writing."""
    return "\n".join(table_text(line.strip()) for line in text.splitlines() if line.strip())


def read_week_notes(path: Path) -> tuple[WeekNote, ...]:
    """The rows of weeks.csv, columns week ("2026-W20") and note; an absent file is an empty tuple.

    Raises AthleteFileError naming file, line and column.
    """
    return read_rows(path, _week_rows)


def _week_rows(text: str, file: str) -> Iterable[WeekNote]:
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True, delimiter=delimiter_of(text))
    names = tuple(reader.fieldnames or ())
    if names and set(names) != set(WEEK_COLUMNS):
        raise AthleteFileError(
            f"expected the columns {', '.join(WEEK_COLUMNS)}; found {', '.join(names)}.", file=file, place="line 1"
        )
    for row in reader:
        if not any(row.values()):
            continue
        place = f"line {reader.line_num}"
        if None in row:
            raise AthleteFileError(
                "more cells than columns.", file=file, place=place, hint="Put notes with commas in quotes."
            )
        note = _cleaned(as_written((row["note"] or "").strip()))
        if note:
            yield WeekNote(_week((row["week"] or "").strip(), file, f"{place}, week"), note)


def _week(cell: str, file: str, place: str) -> str:
    found = re.fullmatch(r"(\d{4})-?W(\d{2})", cell)
    try:
        if found:
            date.fromisocalendar(int(found[1]), int(found[2]), 1)
            return f"{found[1]}-W{found[2]}"
    except ValueError:
        pass
    raise AthleteFileError(f"expected an ISO week such as 2026-W20, found {shown(cell)}.", file=file, place=place)


def week_note(notes: Iterable[WeekNote], week: str) -> str:
    """Everything noted on a week, a row a line; empty where nothing was."""
    return "\n".join(item.note for item in notes if item.week == week)
