"""What truth.json says: per session what was planted and what an audit must find, and the planted edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC
from typing import Any

from simulation import athlete, courses, reference
from simulation.devices import SPIKE_W, Record
from simulation.findings import Measured
from simulation.reference import Edges, FoundSurge, Rows
from simulation.rides import PEDALS_SLOPE, PEDALS_W
from simulation.session import Session
from simulation.track import Pause, Planted, Track

NOTE = (
    "Written by make_demo.py with the recordings. Everything is invented. What is planted comes from the simulation's "
    "plan; what must be found is worked out from the written values by simulation/reference.py, which is written from "
    "the words of the method in plain loops and shares no code with the package. Seconds count from the first record."
)
STEADY_BLOCK = (
    "2026-W17/2026-04-25-shore-gravel.fit",
    "2026-W18/2026-05-02-ferry-wait.fit",
    "2026-W18/2026-05-03-phone-ride.gpx",
    "2026-W19/2026-05-10-flat-battery.fit",
    "2026-W20/2026-05-12-shore-gravel.fit",
)
"""Steady gravel rides whose mean load was planned to rise from week to week."""


@dataclass(frozen=True, slots=True)
class Simulated:
    """One session as simulated, recorded and measured by the reference."""

    track: Track
    records: Sequence[Record]
    stops: Sequence[Pause]
    rows: Rows
    found: Measured
    edges: Edges


def entry(session: Session, made: Simulated) -> dict[str, Any]:
    """The truth of one session."""
    found, week = made.found, session.start.isocalendar()
    return {
        "file": session.file,
        "why": session.why,
        "format": session.file.rsplit(".", 1)[-1],
        "sport": session.sport,
        "sub_sport": session.sub_sport or None,
        "start": session.start.astimezone(UTC).isoformat(),
        "local_date": session.start.date().isoformat(),
        "iso_week": f"{week.year}-W{week.week:02d}",
        "intent": session.intent,
        "intent_source": session.intent_source,
        "expected_findings": list(session.expected),
        "seconds": _seconds(made),
        "load": _load(session, found),
        "surges": _surges(session, made),
        "drift": _drift(session, found),
        "faults": _faults(session),
    }


def _seconds(made: Simulated) -> dict[str, Any]:
    return {
        "elapsed": len(made.rows.recorded),
        "records": len(made.records),
        "recorded": sum(made.rows.recorded),
        "active": made.found.active_s,
        "coasting": made.found.coasting_s,
        "pause": made.found.pause_s,
        "pauses": [asdict(item) for item in made.stops],
    }


def _load(session: Session, found: Measured) -> dict[str, Any]:
    riding = session.sport == "cycling"
    channel, unit = ("power", "W") if riding else ("flat_equivalent_speed", "m/s")
    if session.by_heart:
        channel, unit = "heart_rate", "bpm"
    return {
        "channel": channel,
        "unit": unit,
        "origin": "as written" if riding else "as planned, before the slope turned it into speed",
        "mean": _digits(found.mean_load),
        "mean_31s": _digits(found.mean_band_load),
        "above_ceiling_31s_s": found.bands["heavy"],
        **({"band_seconds": _bands(found), "easy_share_without_coasting": _digits(found.easy_share)} if riding else {}),
    }


def _bands(found: Measured) -> dict[str, int]:
    return {"easy": found.bands["easy"], "steady": found.bands["steady"], "heavy_and_severe": found.bands["heavy"]}


def _surges(session: Session, made: Simulated) -> dict[str, Any]:
    found = made.found.surges
    last = made.records[-1].second
    planted = [item for item in made.track.planted if item.start_s <= last]
    counted = [item for item in planted if item.counts]
    micro = sum(item.seconds_above <= reference.MICRO_MOST_S for item in found)
    events = [_event(session, made, *pair) for pair in zip(found, counted, strict=True)]
    return {
        "count": len(found),
        "micro": micro,
        "sustained": len(found) - micro,
        "seconds_above": sum(item.seconds_above for item in found),
        "per_active_hour": _digits(made.found.surges_per_h),
        "above_per_active_hour_s": _digits(made.found.above_per_h_s),
        "share_above": _digits(made.found.share_above),
        "events": events,
        "near_misses": [{"start_s": item.start_s, "seconds": item.seconds} for item in planted if not item.counts],
    }


def _event(session: Session, made: Simulated, found: FoundSurge, planted: Planted) -> dict[str, Any]:
    height = {"height_w" if session.sport == "cycling" else "height_mps": _digits(found.height)}
    least = {"cause": planted.cause, "forced": planted.forced}
    return {
        "start_s": found.start_s,
        "length_s": found.length_s,
        "seconds_above": found.seconds_above,
        "dose_s": _digits(found.dose_s),
        **height,
        "planted": {"start_s": planted.start_s, "seconds": planted.seconds, "load": _digits(planted.watts), **least,
                    "slope_percent": _slope(made.track, planted)},
    }  # fmt: skip


def _slope(track: Track, planted: Planted) -> float | None:
    """Slope [%] from the first second of an effort to its last; None indoors."""
    if not track.altitude_m:
        return None
    first, last = planted.start_s, planted.start_s + planted.seconds - 1
    run = track.distance_m[last] - track.distance_m[first]
    return round(100.0 * (track.altitude_m[last] - track.altitude_m[first]) / run, 1)


def _drift(session: Session, found: Measured) -> dict[str, Any]:
    percent = found.heart_drift_percent
    return {
        "load_planted": "zone_3_drift" in session.expected,
        "load_longest_s": found.drifted_s,
        "load_at_top_longest_s": found.top_s,
        "heart_rate_planted": "heart_rate_drift" in session.expected,
        "heart_rate_planted_per_hour": session.drift_per_h,
        "heart_rate_percent": None if percent is None else _digits(percent),
        "heart_rate_above_test_s": found.heart_above_s,
    }


def _faults(session: Session) -> dict[str, Any]:
    faults = session.faults
    return {
        "power_missing": list(faults.no_power) if faults.no_power else None,
        "heart_rate_missing": list(faults.no_heart_rate) if faults.no_heart_rate else None,
        "power_spike": None if faults.spike is None else {"second": faults.spike, "watts": SPIKE_W},
        "cut": None if faults.cut is None else {"whole_records": faults.cut[0], "bytes_left_over": faults.cut[1]},
        "smart_recording": session.smart,
        "without_power": session.by_heart,
    }


def whole(entries: Sequence[dict[str, Any]], hearts: dict[str, tuple[int, ...]]) -> dict[str, Any]:
    """The truth file of the whole folder."""
    return {
        "note": NOTE,
        "athlete": athlete.NAME,
        "position": "open ocean, chosen so that no real place is claimed",
        "rider": _rider(),
        "tests": {sport: _test(sport, hearts[sport]) for sport in ("cycling", "running")},
        "older_test": _older_test(),
        "pedals": {"slope": PEDALS_SLOPE, "intercept_w": PEDALS_W, "clock_ahead_s": 4},
        "steady_block": _block(entries),
        "climbs": _climbs(),
        "sessions": list(entries),
    }


def _rider() -> dict[str, Any]:
    bike = athlete.BIKE
    return {"rider_kg": athlete.RIDER_KG, "bike_kg": athlete.BIKE_KG, "chainrings": list(bike.chainrings),
            "cassette": list(bike.cassette), "wheel_circumference_m": bike.wheel_m, "cadence_floor": bike.cadence_floor,
            "cda_m2": bike.cda_m2, "crr": bike.crr, "air_kg_m3": bike.air_kg_m3,
            "least_power_at_14_percent_w": _digits(bike.least_power(0.14))}  # fmt: skip


def _test(sport: str, hearts: tuple[int, ...]) -> dict[str, Any]:
    edges = athlete.edges_of(sport, hearts)
    return {
        "unit": "W" if sport == "cycling" else "m/s",
        "floor": edges.floor,
        "target_top": edges.top,
        "ceiling": edges.ceiling,
        "heart_rate_ceiling": edges.heart_ceiling,
        "step_heart_rates": list(hearts),
        "origin": "where the planted lactate curve stands 0.3, 0.65 and 1.0 mmol/L above its flat part",
    }


def _older_test() -> dict[str, Any]:
    floor, top, ceiling = athlete.loads_at_edges(athlete.OLDER_CURVE)
    return {"unit": "W", "floor": floor, "target_top": top, "ceiling": ceiling}


def _block(entries: Sequence[dict[str, Any]]) -> dict[str, Any]:
    means = {item["file"]: item["load"]["mean"] for item in entries}
    loads = [means[name] for name in STEADY_BLOCK]
    return {
        "files": list(STEADY_BLOCK),
        "mean_load_w": loads,
        "rise_percent": _digits(100.0 * (loads[-1] / loads[0] - 1.0)),
    }


def _climbs() -> list[dict[str, Any]]:
    """The climbs of the hilly course, as planned; `start_m` on the first lap."""
    course = courses.moor()
    parts = {"first climb": "first top", "steep climb": "second top", "third climb": "third top"}
    return [
        {
            "name": name,
            "start_m": course.starts[name],
            "length_m": course.starts[top] - course.starts[name],
            "height_m": round(float(course.altitude_m[course.starts[top]] - course.altitude_m[course.starts[name]]), 1),
        }
        for name, top in parts.items()
    ]


def _digits(value: float) -> float:
    return round(value, 4)
