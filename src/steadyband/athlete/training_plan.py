"""The optional plan: hours per band and sport, heavy at most; from plan.csv or from [plan] of athlete.toml."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from steadyband.athlete.csv_file import delimiter_of, read_rows
from steadyband.athlete.model import PlanRow
from steadyband.audit.model import BAND_NAMES
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown
from steadyband.ground.sports import sport_named

COLUMNS = ("week", "sport", "band", "hours")
SPORT_BANDS = (*BAND_NAMES, "total")


@dataclass(frozen=True, slots=True)
class _Place:
    file: str
    where: str

    def fault(self, message: str, hint: str = "") -> AthleteFileError:
        return AthleteFileError(message, file=self.file, place=self.where, hint=hint)


def read_plan(path: Path) -> tuple[PlanRow, ...]:
    """The rows of plan.csv; an absent file is an empty tuple.

    Columns: sport, band (easy, steady, heavy, severe or total), hours a week, and, if wanted, week ("2026-W20"; empty
    for every week). Raises AthleteFileError naming file, line and column.
    """
    return read_rows(path, _rows)


def _rows(text: str, file: str) -> Iterable[PlanRow]:
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True, delimiter=delimiter_of(text))
    names = tuple(name.strip().casefold() for name in reader.fieldnames or ())
    reader.fieldnames = names
    if not names:
        return
    _check_columns(names, _Place(file, "line 1"))
    seen: set[tuple[str | None, str, str]] = set()
    for cells in reader:
        if any(value for value in cells.values()):
            row = _row(cells, file, f"line {reader.line_num}")
            key = (row.week, row.sport, row.band)
            if key in seen:
                raise _Place(file, f"line {reader.line_num}").fault(
                    f"{row.sport} {row.band} is planned twice.", "Keep one of the two rows."
                )
            seen.add(key)
            yield row


def _check_columns(names: Sequence[str], place: _Place) -> None:
    unknown = [name for name in names if name not in COLUMNS]
    missing = [name for name in COLUMNS[1:] if name not in names]
    if unknown or missing:
        raise place.fault(
            f"expected the columns {', '.join(COLUMNS)}, found {', '.join(names)}.", "week may be absent."
        )


def _row(cells: Mapping[str | None, Any], file: str, line: str) -> PlanRow:
    if None in cells:
        raise _Place(file, line).fault("more cells than columns.")
    texts = {str(key): (value or "").strip() for key, value in cells.items()}
    week = _week(texts.get("week", ""), _Place(file, f"{line}, week"))
    sport = sport_named(texts["sport"])
    if not sport:
        raise _Place(file, f"{line}, sport").fault("expected a sport such as cycling, found an empty cell.")
    band = _band(texts["band"], _Place(file, f"{line}, band"))
    return PlanRow(week, sport, band, _hours(texts["hours"], _Place(file, f"{line}, hours")))


def _week(text: str, place: _Place) -> str | None:
    if not text:
        return None
    found = re.fullmatch(r"(\d{4})-?W(\d{2})", text)
    if not found:
        raise place.fault(f"expected an ISO week such as 2026-W20 or nothing, found {shown(text)}.")
    year, week = int(found[1]), int(found[2])
    try:
        date.fromisocalendar(year, week, 1)
    except ValueError as fault:
        raise place.fault(f"expected an ISO week of that year, found {shown(text)}.") from fault
    return f"{year}-W{week:02d}"


def _band(text: str, place: _Place) -> str:
    if text.casefold() not in SPORT_BANDS:
        raise place.fault(f"expected one of {', '.join(SPORT_BANDS)}; found {shown(text)}.")
    return text.casefold()


def _hours(value: object, place: _Place) -> float:
    try:
        hours = float(str(value).replace(",", ".")) if not isinstance(value, bool) else -1.0
    except ValueError:
        hours = -1.0
    if not 0 <= hours <= 168:
        raise place.fault(f"expected hours a week from 0 to 168, found {shown(value)}.")
    return hours


def parse_plan(table: Mapping[str, Any], file: str) -> tuple[PlanRow, ...]:
    """The rows of [plan.SPORT] tables of athlete.toml: band = hours a week.

    Raises AthleteFileError naming file and key.
    """
    rows = []
    for sport, bands in table.items():
        if not isinstance(bands, Mapping):
            raise _Place(file, f"plan.{sport}").fault(
                f"expected a table of hours a week, found {shown(bands)}.",
                "Write [plan.cycling] and below it easy = 6.",
            )
        for band, hours in bands.items():
            place = _Place(file, f"plan.{sport}.{band}")
            rows.append(PlanRow(None, sport_named(sport), _band(band, place), _hours(hours, place)))
    return tuple(rows)


def plan_of_week(rows: Sequence[PlanRow], week: str) -> tuple[PlanRow, ...]:
    """The rows that apply in one week ("2026-W20"): those that name it go before those for every week."""
    named = {(row.sport, row.band): row for row in rows if row.week == week}
    standing = {(row.sport, row.band): row for row in rows if row.week is None}
    return tuple((standing | named).values())
