"""The numbers behind a finding, in words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from steadyband.audit.model import LOAD_SI_UNIT, Audit
from steadyband.ground.units import (
    brief_text,
    clock_text,
    duration_text,
    load_from_si,
    place_text,
    speed_unit,
    temperature_text,
)
from steadyband.report.common.words import DASH, clock_of, loads_of, number_text, share_text, signed_text

LOAD_KEYS = frozenset(
    {"floor", "target_top", "ceiling", "threshold", "mean_band_load", "load_first_half", "load_second_half"}
)
SHOWN_ELSEWHERE = frozenset({"settings", "places", "reasons"})
TOLD: Mapping[str, str] = {
    "micro": "micro-surges",
    "surges_per_hour": "surges an active hour",
    "sustained": "sustained efforts",
    "seconds_above": "time above the ceiling",
    "work_above_kj": "work above the ceiling",
    "above_per_hour_s": "work above the ceiling an hour, in seconds' worth of it",
    "explained_per_hour_s": "of which uneven load explains",
    "mean_band_load": "mean band load",
    "judged_s": "judged part",
    "load_longest_s": "longest run above the ceiling",
    "load_drifted_s": "all time above the ceiling",
    "load_slope_per_h": "trend of the load",
    "hr_drift_percent": "heart-rate drift",
    "hr_first_half": "heart rate, first half",
    "hr_second_half": "heart rate, second half",
    "load_first_half": "load, first half",
    "load_second_half": "load, second half",
    "hr_above_test_s": "heart rate above the limit for",
    "hr_ceiling": "heart-rate limit at the ceiling",
    "share": "share of the time",
    "temperature_c": "temperature",
    "share_steady_or_harder": "steady or harder",
}


def evidence_rows(audit: Audit, evidence: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """(what, value) pairs of a finding's evidence; settings and places are left to their own functions."""
    return tuple(
        (_words(key), _value(audit, key, value)) for key, value in evidence.items() if key not in SHOWN_ELSEWHERE
    )


def settings_text(audit: Audit, evidence: Mapping[str, Any]) -> str:
    """The settings a finding used, as "name value unit" with commas between; empty where it names none."""
    used = evidence.get("settings")
    if isinstance(used, Mapping):
        values = {str(key): value for key, value in used.items()}
    else:
        names = [str(name) for name in used] if isinstance(used, Iterable) and not isinstance(used, str) else []
        values = {name: _setting(audit, name) for name in names}
    units = {name: unit for name, _, _, unit, _, _ in audit.settings.rows()}
    return ", ".join(f"{name} {_plain(value)} {units.get(name, '')}".rstrip() for name, value in values.items())


def _setting(audit: Audit, name: str) -> Any:
    return next((value for known, value, *_ in audit.settings.rows() if known == name), DASH)


def places(audit: Audit, evidence: Mapping[str, Any]) -> tuple[str, ...]:
    """The places a finding names, one text each, with the time of day first."""
    found = evidence.get("places")
    if not isinstance(found, Iterable) or isinstance(found, (str, Mapping)):
        return ()
    return tuple(_place(audit, item) for item in found)


def _place(audit: Audit, item: Any) -> str:
    if not isinstance(item, Mapping):
        return _plain(item)
    start = int(item.get("start_s", 0))
    told = [text(audit, item[key]) for key, text in PLACE_TEXTS.items() if item.get(key) is not None]
    return ", ".join([f"{clock_of(audit, start)} ({clock_text(start)} into the session)", *filter(None, told)])


PLACE_TEXTS: Mapping[str, Callable[[Audit, Any], str]] = {
    "length_s": lambda audit, value: f"{duration_text(value)} long",
    "seconds_above": lambda audit, value: f"{brief_text(value)} above the ceiling",
    "mean_load": lambda audit, value: f"mean {loads_of(audit).text(value)}",
    "highest": lambda audit, value: f"highest {loads_of(audit).text(value)}",
    "work_above_j": lambda audit, value: f"work above {number_text(value, 'J')}",
    "grade": lambda audit, value: f"grade {signed_text(value * 100, '%')}",
    "at_m": lambda audit, value: place_text(value),
    "cause": lambda audit, value: "" if value == "unknown" else str(value),
    "forced": lambda audit, value: "forced by the hill" if value else "avoidable",
}


def _words(key: str) -> str:
    return TOLD.get(key, key.replace("_", " "))


def _value(audit: Audit, key: str, value: Any) -> str:
    if isinstance(value, (list, tuple)):
        return (
            " to ".join(_value(audit, key, item) for item in value) if len(value) == 2 else _joined(audit, key, value)
        )
    if isinstance(value, Mapping):
        return ", ".join(f"{_words(str(name))} {_value(audit, str(name), item)}" for name, item in value.items())
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return _plain(value)
    return _number(audit, key, value)


def _joined(audit: Audit, key: str, values: Iterable[Any]) -> str:
    return ", ".join(_value(audit, key, item) for item in values)


def _number(audit: Audit, key: str, value: float) -> str:
    if not math.isfinite(value):
        return DASH
    if key == "seconds_above":
        return brief_text(value)
    if key.endswith("_s"):
        return duration_text(value)
    if key.endswith("_kj"):
        return number_text(value, "kJ", 1)
    if "share" in key:
        return share_text(value)
    if key in LOAD_KEYS:
        return loads_of(audit).text(value)
    if key == "temperature_c":
        return temperature_text(value)
    if key == "load_slope_per_h":
        return f"{slope_text(audit, value)} an hour"
    if key.startswith("hr_"):
        return number_text(value, "%", 1) if key.endswith("_percent") else number_text(value, "bpm")
    return _plain(value)


def slope_text(audit: Audit, slope: float | None) -> str:
    """A change of load in an hour: W, bpm, or km/h (mph) for a load that is a speed."""
    unit = LOAD_SI_UNIT[audit.load.channel] if audit.load else ""
    if unit == "m/s":
        return signed_text(None if slope is None else load_from_si(slope, speed_unit()), speed_unit(), 1)
    return signed_text(slope, unit)


def _plain(value: Any) -> str:
    if value is None:
        return DASH
    if isinstance(value, float) and not value.is_integer():
        return f"{value:,.3g}" if abs(value) < 1000 else f"{value:,.0f}"
    return f"{value:,.0f}" if isinstance(value, (int, float)) and not isinstance(value, bool) else str(value)
