"""An audit as the output contract has it: one JSON object, or one flat row."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict
from importlib import resources
from typing import Any

import numpy as np

from steadyband.audit.model import BAND_NAMES, Audit, Climb, Surges, ZonesUsed
from steadyband.ground.convert import LoadUnit, is_speed, load_from_si
from steadyband.ground.values import picked
from steadyband.told.findings import finding_text
from steadyband.told.notes import ground_note, price_note, quality_notes

SCHEMA_VERSION = 2


def contract_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) that every audit object validates against."""
    text = resources.files("steadyband.told").joinpath("contract.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


PLACES = ("lat", "lon", "start_lat", "start_lon", "end_lat", "end_lon")
"""Every key of the contract that holds a position."""


def audit_to_dict(audit: Audit, positions: bool = True) -> dict[str, Any]:
    """The audit object of the output contract: plain Python values, None for absent, no NaN and no infinity.

    Without `positions` every latitude and longitude is None.
    """
    found = _audit(audit)
    if not positions:
        for item in (*found["climbs"], *(found["surges"] or {"events": ()})["events"]):
            item.update({key: None for key in PLACES if key in item})
    return found


def _audit(audit: Audit) -> dict[str, Any]:
    info = audit.info
    return _object(
        {
            "schema": SCHEMA_VERSION,
            **picked(info, "file", "sha256"),
            **picked(info, "sport", "sub_sport", "name", "start", "local_start"),
            "local_date": info.local_start.date().isoformat(),
            **picked(info, "intent", "intent_source"),
            "zones": _zones(audit.zones) if audit.zones else None,
            "temperature_c": audit.temperature_c,
            "seconds": asdict(audit.seconds),
            "load": asdict(audit.load) if audit.load else None,
            "bands": {name: asdict(audit.bands[name]) for name in BAND_NAMES} if audit.bands else None,
            "surges": _surges(audit.surges) if audit.surges else None,
            "drift": asdict(audit.drift) if audit.drift else None,
            "climbs": [_climb(climb) for climb in audit.climbs],
            "ground": _ground(audit) if audit.ground else None,
            "price": asdict(audit.price) | {"note": price_note(audit.price)} if audit.price else None,
            "repeats": asdict(audit.repeats) if audit.repeats else None,
            "quality": asdict(audit.quality) | {"notes": quality_notes(audit)},
            "verdict": _verdict(audit),
        }
    )


def _zones(zones: ZonesUsed) -> dict[str, Any]:
    unit = zones.load_unit
    typed = {
        **picked(zones, "test", "test_date", "age_days", "freshness", "load_unit"),
        "floor": _in_unit(zones.floor, unit),
        "target_top": _in_unit(zones.target_top, unit),
        "ceiling": _in_unit(zones.ceiling, unit),
        "ceiling_at_least": _in_unit(zones.ceiling_at_least, unit),
        "threshold": _in_unit(zones.threshold, unit),
        **picked(zones, "hr_floor", "hr_target_top", "hr_ceiling"),
        "floor_range": [_in_unit(edge, unit) for edge in zones.floor_range],
        "ceiling_range": [_in_unit(edge, unit) for edge in zones.ceiling_range],
        **picked(zones, "easy_empty", "override"),
    }
    if not is_speed(unit):
        return typed
    speeds = {"floor_mps": zones.floor, "target_top_mps": zones.target_top, "ceiling_mps": zones.ceiling}
    return {**typed, **speeds}


def _in_unit(value: float | None, unit: LoadUnit) -> float | None:
    return None if value is None else load_from_si(value, unit)


def _surges(surges: Surges) -> dict[str, Any]:
    return {
        **picked(surges, "count", "micro", "sustained", "per_hour", "seconds_above", "share_above", "work_above_kj"),
        **picked(surges, "forced", "avoidable", "by_cause", "seconds_by_cause"),
        "lengths": [{"up_to_s": edge, "count": count} for edge, count in surges.lengths],
        **picked(surges, "above_per_hour_s", "explained_per_hour_s"),
        "events": [asdict(event) for event in surges.events],
    }


def _ground(audit: Audit) -> dict[str, Any]:
    found = asdict(audit.ground) if audit.ground else {}
    return {key: value for key, value in found.items() if key != "notes"} | {"note": ground_note(audit)}


def _verdict(audit: Audit) -> dict[str, Any]:
    verdict = audit.verdict
    found = [
        {"code": item.code, "text": finding_text(audit, item), "agreement": item.agreement, "evidence": item.evidence}
        for item in verdict.findings
    ]
    return {"findings": found, "in_band": verdict.in_band, "agreement": verdict.agreement}


def _climb(climb: Climb) -> dict[str, Any]:
    return {key: value for key, value in asdict(climb).items() if key != "parts"}


def _object(value: Mapping[str, Any]) -> dict[str, Any]:
    return {str(key): _plain(item) for key, item in value.items()}


def _plain(value: Any) -> Any:
    """Plain JSON values throughout: tuples and arrays as lists, NaN and infinities as None."""
    if isinstance(value, Mapping):
        return _object(value)
    if isinstance(value, (list, tuple, np.ndarray)):
        return [_plain(item) for item in value]
    if isinstance(value, (np.bool_, np.integer, np.floating)):
        return _plain(value.item())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
