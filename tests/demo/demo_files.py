"""The demo folder for tests: its truth, its recordings by independent decoders, and the simulation on the path."""

from __future__ import annotations

import json
import sys
from functools import cache
from pathlib import Path
from typing import Any

import gpxpy
from garmin_fit_sdk import Decoder, Stream

FOLDER = Path(__file__).resolve().parents[2] / "demo_activities"
ACTIVITIES = FOLDER / "activities"
sys.path.insert(0, str(FOLDER))

from simulation.reference import Edges, Rows, Sample, rows  # noqa: E402

Messages = dict[str, list[dict[str, Any]]]


@cache
def truth() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
    return found


def sessions(*, sport: str | None = None, kind: str | None = None, channel: str | None = None) -> list[dict[str, Any]]:
    """Truth entries, of one sport, one format or one channel of load."""
    return [
        item
        for item in truth()["sessions"]
        if sport in (None, item["sport"])
        and kind in (None, item["format"])
        and channel in (None, item["load"]["channel"])
    ]


def session(part: str) -> dict[str, Any]:
    """The truth entry whose file name holds `part`."""
    return next(item for item in truth()["sessions"] if part in item["file"])


@cache
def messages(file: str) -> tuple[Messages, list[Exception]]:
    """Messages of a FIT file by garmin-fit-sdk, and its errors; times as FIT seconds."""
    stream = Stream.from_byte_array(bytearray((ACTIVITIES / file).read_bytes()))
    found, errors = Decoder(stream).read(convert_datetimes_to_dates=False)
    return found, errors


@cache
def points(file: str) -> list[gpxpy.gpx.GPXTrackPoint]:
    parsed = gpxpy.parse((ACTIVITIES / file).read_text(encoding="utf-8"))
    return list(parsed.tracks[0].segments[0].points)


def _samples(item: dict[str, Any]) -> list[Sample]:
    if item["format"] == "gpx":
        return [Sample(second, *_extension(point), None) for second, point in _timed(points(item["file"]))]
    records = messages(item["file"])[0]["record_mesgs"]
    first = records[0]["timestamp"]
    load = "heart_rate" if item["faults"]["without_power"] else "power"
    return [
        Sample(
            record["timestamp"] - first,
            value if (value := record.get(load)) is not None and value <= 2500 else None,
            record.get("heart_rate"),
            record.get("enhanced_speed"),
        )
        for record in records
    ]


def _timed(track: list[gpxpy.gpx.GPXTrackPoint]) -> list[tuple[int, gpxpy.gpx.GPXTrackPoint]]:
    first = track[0].time
    return [(round((point.time - first).total_seconds()), point) for point in track]


def _extension(point: gpxpy.gpx.GPXTrackPoint) -> tuple[float, float]:
    found = {child.tag.rpartition("}")[2]: float(child.text or "nan") for child in point.extensions[0]}
    return found["power"], found["hr"]


@cache
def ride_rows(file: str) -> Rows:
    """One value a second of a ride, read from its file; pauses from its timer events."""
    item = session(file)
    return rows(_samples(item), timer_pauses(item), has_power=not item["faults"]["without_power"])


def timer_pauses(item: dict[str, Any]) -> list[tuple[int, int]]:
    """(last second before, first second after) each timer stop, from the file's events."""
    if item["format"] == "gpx":
        return []
    found = messages(item["file"])[0]
    first = found["record_mesgs"][0]["timestamp"]
    events = [(event["event_type"], event["timestamp"] - first) for event in found["event_mesgs"]]
    stops = [second for kind, second in events if kind == "stop_all"]
    starts = [second for kind, second in events if kind == "start"][1:]
    return list(zip(stops, starts, strict=False))


def edges(sport: str) -> Edges:
    found = truth()["tests"][sport]
    return Edges(found["floor"], found["target_top"], found["ceiling"], found["heart_rate_ceiling"])
