"""An audit as one flat row, for CSV and Parquet."""

from __future__ import annotations

from typing import Any

from steadyband.audit.model import BAND_NAMES, Audit
from steadyband.told.output import audit_to_dict

Scalar = str | int | float | bool | None

PLAIN = (
    "file",
    "sha256",
    "sport",
    "sub_sport",
    "name",
    "start",
    "local_start",
    "local_date",
    "intent",
    "intent_source",
)
BLOCKS: dict[str, tuple[str, ...]] = {
    "zones": (
        "test",
        "test_date",
        "age_days",
        "freshness",
        "load_unit",
        "floor",
        "target_top",
        "ceiling",
        "ceiling_at_least",
        "threshold",
        "hr_floor",
        "hr_target_top",
        "hr_ceiling",
        "easy_empty",
        "override",
        "floor_mps",
        "target_top_mps",
        "ceiling_mps",
    ),
    "seconds": ("elapsed", "recorded", "pause", "gap", "active", "coasting", "unmeasured"),
    "load": ("channel", "unit", "mean", "max", "mean_31s_max"),
    "surges": (
        "count",
        "micro",
        "sustained",
        "per_hour",
        "seconds_above",
        "share_above",
        "work_above_kj",
        "forced",
        "avoidable",
        "above_per_hour_s",
        "explained_per_hour_s",
    ),
    "drift": (
        "load_drifted_s",
        "load_longest_s",
        "load_longest_start_s",
        "load_slope_per_h",
        "hr_drift_percent",
        "hr_above_test_s",
        "top_of_band_s",
    ),
    "repeats": (
        "number",
        "others",
        "length_s",
        "shortest_s",
        "longest_s",
        "mean",
        "spread",
        "change",
        "recovery_s",
        "recovery_mean",
    ),
    "ground": ("steepest_in_band", "run_up_to", "walk_up_to"),
    "price": ("seconds_lost", "seconds_error", "share_lost", "surges_saved", "model_error"),
    "quality": ("records", "dropped", "held_s", "damage"),
}
RANGES = (
    ("zones", "floor_range"),
    ("zones", "ceiling_range"),
    ("drift", "load_slope_range"),
)
BAND_KEYS = ("seconds", "share", "seconds_1s", "mean_load", "mean_hr")


def audit_to_flat(audit: Audit) -> dict[str, Scalar]:
    """One flat row a session: always the same columns in the same order, None for absent.

    A column is the contract's key with its block in front ("surges_per_hour"); a range gives `_low` and `_high`, in the
    order of load; lists become counts or texts joined by "; ".
    """
    nested = audit_to_dict(audit)
    row: dict[str, Scalar] = {key: nested[key] for key in PLAIN}
    for block, keys in BLOCKS.items():
        row.update({f"{block}_{key}": _get(nested, block, key) for key in keys})
    for block, key in RANGES:
        row.update(_pair(f"{block}_{key}", _get(nested, block, key)))
    for band in BAND_NAMES:
        row.update(_band(band, _get(nested, "bands", band)))
    last = {"climbs": len(nested["climbs"]), "notes": "; ".join(nested["quality"]["notes"])}
    return {**row, **_verdict(nested), **last, "temperature_c": nested["temperature_c"]}


def _get(nested: dict[str, Any], block: str, key: str) -> Any:
    found = nested[block]
    return None if found is None else found.get(key)


def _pair(name: str, values: list[float | None] | None) -> dict[str, Scalar]:
    low, high = values if values is not None else (None, None)
    stem = name.removesuffix("_range")
    return {f"{stem}_low": low, f"{stem}_high": high}


def _band(name: str, band: dict[str, Any] | None) -> dict[str, Scalar]:
    values = band or {}
    plain: dict[str, Scalar] = {f"{name}_{key}": values.get(key) for key in BAND_KEYS}
    return {**plain, **_pair(f"{name}_share_range", values.get("share_range"))}


def _verdict(nested: dict[str, Any]) -> dict[str, Scalar]:
    verdict = nested["verdict"]
    return {
        "in_band": verdict["in_band"],
        "agreement": verdict["agreement"],
        "findings": "; ".join(finding["code"] for finding in verdict["findings"]),
        "findings_text": " ".join(finding["text"] for finding in verdict["findings"]),
    }
