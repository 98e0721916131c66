"""A zone set by the output contract: what `steadyband zones TEST --format json` prints."""

from __future__ import annotations

import math
from typing import Any

from steadyband.ground.units import LoadUnit, is_speed, load_from_si
from steadyband.ground.values import picked
from steadyband.steptest.model import CurvePoint, EdgeRange, MethodReading, ZoneSet

SCHEMA_VERSION = 2


def zone_set_to_dict(zone_set: ZoneSet) -> dict[str, Any]:
    """The zones object of the output contract, ready for JSON: full precision, absent is None, no inf and no NaN.

    Loads are in the test's unit (flat-equivalent where a step had an incline); speed and pace tests carry m/s beside in
    `*_mps` keys. A range runs from the lower to the higher load, so a pace range runs from slower to faster. A test that
    is blocked has no zones: its edges and heart-rate limits are None.
    """
    test, edges, unit = zone_set.test, zone_set.edges, zone_set.test.load_unit
    values = {"floor": edges.floor, "target_top": edges.target_top, "ceiling": edges.ceiling}
    hr = {"floor": zone_set.hr.floor, "target_top": zone_set.hr.target_top, "ceiling": zone_set.hr.ceiling}
    shown = {name: _edge(value, zone_set.ranges[name], unit, zone_set.usable) for name, value in values.items()}
    open_at = edges.ceiling_at_least if zone_set.usable else None
    shown["ceiling"] |= {"at_least": _load(open_at, unit)} | _beside("at_least", open_at, unit)
    return {
        "schema": SCHEMA_VERSION,
        "test": test.file,
        **picked(test, "sport", "date", "state", "load_unit"),
        "usable": zone_set.usable,
        "override": test.override,
        "plateau": edges.plateau,
        "first_rise_step": edges.first_rise,
        "edges": shown,
        "untested": edges.untested,
        "easy_empty": edges.easy_empty,
        "hr": hr if zone_set.usable else dict.fromkeys(hr),
        "hr_ranges": {name: _hr_range(zone_set, name) for name in hr},
        "scatter": zone_set.scatter,
        "curve": [_point(point, unit) for point in zone_set.curve],
        "checks": [picked(check, "code", "severity", "step", "text") for check in zone_set.checks],
        "methods": [_method(reading, unit) for reading in zone_set.methods],
    }


def _load(value_si: float | None, unit: LoadUnit) -> float | None:
    if value_si is None or not math.isfinite(value_si):
        return None
    value = load_from_si(value_si, unit)
    return value if math.isfinite(value) else None


def _beside(key: str, value_si: float | None, unit: LoadUnit) -> dict[str, float | None]:
    return {f"{key}_mps": value_si} if is_speed(unit) else {}


def _edge(value: float | None, spread: EdgeRange, unit: LoadUnit, usable: bool) -> dict[str, Any]:
    if not usable:
        value, spread = None, EdgeRange(None, None)
    edge: dict[str, Any] = {
        "value": _load(value, unit),
        "range": [_load(spread.low, unit), _load(spread.high, unit)],
    }
    if is_speed(unit):
        edge |= {"value_mps": value, "range_mps": [spread.low, spread.high]}
    return edge


def _hr_range(zone_set: ZoneSet, name: str) -> list[float | None]:
    spread = zone_set.hr_ranges[name]
    return [spread.low, spread.high] if zone_set.usable else [None, None]


def _point(point: CurvePoint, unit: LoadUnit) -> dict[str, Any]:
    load = {"load": _load(point.load_si, unit)} | _beside("load", point.load_si, unit)
    return load | picked(point, "lactate", "fitted", "sd", "hr_max")


def _method(reading: MethodReading, unit: LoadUnit) -> dict[str, Any]:
    value = {"value": _load(reading.value, unit)} | _beside("value", reading.value, unit)
    return {"name": reading.name, **value, "source": reading.source}
