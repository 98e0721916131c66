"""athlete.toml: who is judged, in which time zone, by which settings."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from steadyband.athlete.csv_file import check_at_home
from steadyband.athlete.meters import OFFSET_KEYS, parse_offset
from steadyband.athlete.model import Athlete, IntentRule, NamedOffset
from steadyband.athlete.rider import BIKE_KEYS, BODY_KEYS, parse_positions, parse_privacy, parse_rider
from steadyband.athlete.training_plan import parse_plan
from steadyband.athlete.zones import named_zone, parse_trips
from steadyband.audit.model import INTENTS, Rider
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.opening import small_text
from steadyband.ground.plain import shown
from steadyband.ground.reader import CLOCKS, UNITS, Reader
from steadyband.ground.settings import Settings
from steadyband.ground.sports import sport_named
from steadyband.steptest.file.reading import check_lines

NAME = "athlete.toml"
SIZE_MAX = 2**18
"""Largest athlete file [bytes] (design choice: one with every setting and its comment takes about 20,000)."""
KEYS = (
    "name",
    "time_zone",
    "trip",
    "units",
    "clock",
    "reports",
    "tests",
    "activities",
    "privacy_m",
    "positions",
    "body",
    "bike",
    "thresholds",
    "plan",
    "intent_rule",
    "meter_offset",
    "settings",
)
SPORTS = ("cycling", "running")
Word = TypeVar("Word", bound=str)


def read_athlete(path: Path) -> Athlete:
    """The athlete file at `path`.

    Raises AthleteFileError naming file, key, what was expected, what was found and what to try.
    """
    return parse_athlete(_toml(path), path.parent, str(path))


def default_athlete(folder: Path) -> Athlete:
    """An athlete without a file: UTC, metric, 24-hour clock, all defaults."""
    return parse_athlete({}, folder, NAME)


def parse_athlete(table: Mapping[str, Any], folder: Path, file: str) -> Athlete:
    """The athlete described by a TOML table; relative paths are taken from `folder`."""
    check_keys(table, KEYS, file, "")
    return Athlete(
        name=_text(table, "name", "", file),
        time_zone=named_zone(_text(table, "time_zone", "UTC", file), file, "time_zone"),
        trips=parse_trips(table.get("trip", []), file),
        reader=_reader(table, file),
        reports=(folder / _path(table, "reports", file)).resolve(),
        thresholds=_thresholds(_table(table, "thresholds", file), file),
        intent_rules=tuple(_rules(table.get("intent_rule", []), file)),
        settings=Settings.from_mapping(_table(table, "settings", file), file),
        tests=folder / _path(table, "tests", file),
        activities=folder / _path(table, "activities", file),
        plan=parse_plan(_table(table, "plan", file), file),
        rider=_rider(table, file),
        privacy_m=parse_privacy(table.get("privacy_m", 300), file),
        positions=parse_positions(table.get("positions", True), file),
        meter_offsets=tuple(_offsets(table.get("meter_offset", []), file)),
    )


def _offsets(tables: object, file: str) -> Iterable[NamedOffset]:
    if not isinstance(tables, list):
        raise AthleteFileError("expected tables [[meter_offset]].", file=file, place="meter_offset")
    for number, table in enumerate(tables, 1):
        check_keys(table, OFFSET_KEYS, file, f"meter_offset {number}.")
        yield parse_offset(table, file, f"meter_offset {number}.")


def _rider(table: Mapping[str, Any], file: str) -> Rider:
    body, bike = _table(table, "body", file), _table(table, "bike", file)
    check_keys(body, BODY_KEYS, file, "body.")
    check_keys(bike, BIKE_KEYS, file, "bike.")
    return parse_rider(body, bike, file)


def check_keys(table: Iterable[str], known: tuple[str, ...], file: str, where: str) -> None:
    """Raises AthleteFileError at the first key that is not known, naming the nearest one that is, or where there are none at all."""
    if not isinstance(table, Mapping | tuple):
        raise AthleteFileError(f"expected a table, found {shown(table)}.", file=file, place=where.rstrip("."))
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f"Did you mean {near[0]!r}?" if near else ""
            raise AthleteFileError(
                f"no such key; expected one of {', '.join(known)}.", file=file, place=f"{where}{key}", hint=hint
            )


def _toml(path: Path) -> dict[str, Any]:
    try:
        check_at_home(path)
        text = small_text(path, SIZE_MAX)
        check_lines(text)
        return tomllib.loads(text)
    except UnicodeDecodeError as fault:
        raise AthleteFileError(
            f"expected UTF-8 text, found byte {fault.object[fault.start]:#04x} at offset {fault.start}.",
            file=str(path),
            hint="Save it as UTF-8.",
        ) from fault
    except RecursionError as fault:
        raise AthleteFileError(
            "expected plain keys and tables, found brackets nested too deep.",
            file=str(path),
            hint="Write lists and tables one level deep.",
        ) from fault
    except ValueError as fault:
        raise AthleteFileError(f"not valid TOML: {fault}.", file=str(path), hint="Mend that line.") from fault
    except OSError as fault:
        raise AthleteFileError(f"cannot be read ({fault.strerror}).", file=str(path)) from fault


def _text(table: Mapping[str, Any], key: str, default: str, file: str) -> str:
    value = table.get(key, default)
    if not isinstance(value, str):
        raise AthleteFileError(f"expected a text in quotes, found {shown(value)}.", file=file, place=key)
    return value


def _path(table: Mapping[str, Any], key: str, file: str) -> str:
    """The path under a key; where the key is absent, the key's own name."""
    text = _text(table, key, key, file)
    if "\0" in text or len(text) > 4096:
        raise AthleteFileError(f"expected a path, found {shown(text)}.", file=file, place=key)
    return text


def _table(table: Mapping[str, Any], key: str, file: str) -> Mapping[str, Any]:
    value = table.get(key, {})
    if not isinstance(value, Mapping):
        raise AthleteFileError(f"expected a table [{key}], found {shown(value)}.", file=file, place=key)
    return value


def _reader(table: Mapping[str, Any], file: str) -> Reader:
    return Reader(_one_of(table, "units", UNITS, file), _one_of(table, "clock", CLOCKS, file))


def _one_of(table: Mapping[str, Any], key: str, known: tuple[Word, ...], file: str) -> Word:
    """One of `known` under `key`, the first where the key is absent."""
    value = table.get(key, known[0])
    if value not in known:
        expected = " or ".join(f'"{word}"' for word in known)
        raise AthleteFileError(f"expected {expected}, found {shown(value)}.", file=file, place=key)
    return known[known.index(value)]


def _thresholds(table: Mapping[str, Any], file: str) -> dict[str, float | str]:
    table = {sport_named(sport): value for sport, value in table.items()}
    check_keys(table, SPORTS, file, "thresholds.")
    for sport, value in table.items():
        if isinstance(value, bool) or not isinstance(value, (int, float, str)) or not _is_finite(value):
            raise AthleteFileError(
                f'expected a load in the unit of the {sport} test, such as 205 or "5:05", found {shown(value)}.',
                file=file,
                place=f"thresholds.{sport}",
            )
    return dict(table)


def _is_finite(value: float | str) -> bool:
    return isinstance(value, str) or -1e9 < value < 1e9


def _rules(rules: object, file: str) -> Iterable[IntentRule]:
    if not isinstance(rules, list):
        raise AthleteFileError("expected tables [[intent_rule]].", file=file, place="intent_rule")
    for number, rule in enumerate(rules, 1):
        where = f"intent_rule {number}."
        check_keys(rule, ("word", "intent"), file, where)
        word, intent = rule.get("word"), rule.get("intent")
        if not isinstance(word, str) or not word.strip():
            raise AthleteFileError(f"expected a word, found {shown(word)}.", file=file, place=f"{where}word")
        yield IntentRule(word.strip().casefold(), check_intent(intent, file, f"{where}intent"))


def check_intent(value: object, file: str, place: str) -> str:
    """The intent if it is one; raises AthleteFileError with the list otherwise."""
    if not isinstance(value, str) or value not in INTENTS:
        raise AthleteFileError(f"expected one of {', '.join(INTENTS)}; found {shown(value)}.", file=file, place=place)
    return value
