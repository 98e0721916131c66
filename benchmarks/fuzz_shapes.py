"""Input that is whole in its parts and odd as a whole, and what the reference libraries read in it.

The makers draw everything from a `random.Random`. The checks compare every value that is read with fitdecode and gpxpy,
called directly: they know nothing of how steadyband reads.
"""

from __future__ import annotations

import gzip
import io
import math
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import fitdecode
import numpy as np
from fit_bytes import (
    CYCLING,
    DESCRIPTION,
    DEVELOPER_ID,
    LAP,
    RECORD,
    RUNNING,
    SINT32,
    START,
    STOP,
    STRING,
    T0,
    UINT8,
    UINT16,
    UINT32,
    file_id,
    fit_file,
    message,
    session,
    timer,
)  # fmt: skip

EPOCH = 631_065_600
"""Seconds from 1970 to the FIT epoch, 1989-12-31T00:00:00Z (published: FIT protocol)."""
LAST = 2**32 - 2
"""The last second that a FIT time can tell: 2106-02-07T06:28:14Z from 1970 on, 2126 from its own epoch."""
FIELDS: dict[str, tuple[tuple[str, ...], float]] = {
    "power_w": (("power",), 1),
    "heart_rate_bpm": (("heart_rate",), 1),
    "cadence_rpm": (("cadence",), 1),
    "speed_mps": (("enhanced_speed", "speed"), 1),
    "distance_m": (("distance",), 1),
    "altitude_m": (("enhanced_altitude", "altitude"), 1),
    "lat_deg": (("position_lat",), 180 / 2**31),
    "lon_deg": (("position_long",), 180 / 2**31),
    "temperature_c": (("temperature",), 1),
}
"""Record fields by the FIT profile, the more exact one first, and the factor to SI."""


def one_fit(rng: Random, start: int | None = None) -> bytes:
    """A sound activity of 5 to 60 records, with laps, a pause, and fields that come and go."""
    start = T0 + rng.randrange(10**6) if start is None else start
    times = [start + i for i in range(rng.randint(5, 60))]
    records = [_record(rng, at) for at in times]
    middle, end = times[len(times) // 2], times[-1]
    lap = [
        message(LAP, (253, UINT32, b), (2, UINT32, a), (7, UINT32, 1000 * (b - a)))
        for a, b in ((start, middle), (middle, end))
    ]
    stops = [timer(middle, STOP), timer(min(end, middle + 2), START)] if rng.random() < 0.3 else []
    sport = rng.choice((CYCLING, RUNNING))
    heads = [session(start, end - start, sport)] if rng.random() < 0.8 else []
    return fit_file(file_id(created=start), *records, *stops, *lap[: rng.randint(0, 2)], *heads)


def _record(rng: Random, at: int) -> bytes:
    possible = [
        (7, UINT16, rng.randrange(600)), (3, UINT8, rng.randrange(60, 200)), (4, UINT8, rng.randrange(110)),
        (6, UINT16, rng.randrange(20_000)), (73, UINT32, rng.randrange(20_000)), (5, UINT32, rng.randrange(10**6)),
        (2, UINT16, rng.randrange(60_000)), (78, UINT32, rng.randrange(60_000)),
        (0, SINT32, rng.randrange(-(2**30), 2**30)), (1, SINT32, rng.randrange(-(2**31), 2**31 - 1)),
    ]  # fmt: skip
    return message(RECORD, (253, UINT32, at), *rng.sample(possible, rng.randint(1, 5)))


def chained(rng: Random) -> bytes:
    """Two to five files one after the other, in any order of time, cut or with a wrong checksum now and then."""
    parts = [bytearray(one_fit(rng)) for _ in range(rng.randint(2, 5))]
    rng.shuffle(parts)
    if rng.random() < 0.3:
        parts[rng.randrange(len(parts))][-1] ^= 0x55
    return b"".join(parts)


def truncated(rng: Random) -> bytes:
    """One or more files cut at any byte; one that is packed, cut in its packing."""
    data = one_fit(rng) if rng.random() < 0.5 else chained(rng)
    if rng.random() < 0.3:
        data = gzip.compress(data, mtime=0)
    return data[: rng.randrange(1, len(data))]


def clashing(rng: Random) -> bytes:
    """Developer fields that say they are power or speed, described twice, under one number, with other units or types."""
    described = []
    for number in range(rng.randint(1, 3)):
        index, kind = rng.randrange(2), rng.choice((UINT8, UINT16, UINT32))
        described += [
            message(DEVELOPER_ID, (3, UINT8, index)),
            message(
                DESCRIPTION, (0, UINT8, index), (1, UINT8, rng.choice((0, number))), (2, UINT8, kind),
                (3, STRING, rng.choice(("Power", "power", "speed", "x"))), (8, STRING, rng.choice(("W", "watts", "m/s", ""))),
                (14, UINT16, rng.choice((20, None))), (15, UINT8, rng.choice((7, 6, None))),
            ),
        ]  # fmt: skip
    records = []
    for second in range(20):
        body = rng.choice((b"\x2a", struct.pack("<H", 210), struct.pack("<I", 211)))
        developer = [(rng.randrange(3), rng.randrange(2), body)]
        fields = [(7, UINT16, 200)] if rng.random() < 0.5 else [(3, UINT8, 130)]
        records.append(message(RECORD, (253, UINT32, T0 + second), *fields, developer=developer))
    return fit_file(file_id(), *described, *records, session(T0, 19, CYCLING))


def dated(rng: Random) -> bytes:
    """Times at both ends of what FIT can tell, and clocks that jump from one to the other."""
    starts = [0, 1, 0x0FFFFFFF, 0x10000000, T0, LAST - 100, LAST - 61]
    if rng.random() < 0.5:
        return one_fit(rng, rng.choice(starts))
    records = [_record(rng, rng.choice(starts) + second) for second in range(30)]
    return fit_file(file_id(created=rng.choice(starts)), *records, session(rng.choice(starts), 29, CYCLING))


def padded(rng: Random) -> bytes:
    """GPX with space, comments and empty elements everywhere that XML allows them, in dates from 1989 to 2106."""
    pad = lambda: rng.choice(("", "", " ", "\n\t", "\r\n", "<!-- x -->", " <!-- --> "))  # noqa: E731
    around = lambda: rng.choice(("", "", " ", "\n  "))  # noqa: E731
    year = rng.choice((1989, 2024, 2026, 2038, 2106))
    fraction, zone = rng.choice(("", ".5", ".123")), rng.choice(("Z", "+02:00", ""))
    points = "".join(
        f'{pad()}<trkpt lat="{47 + i / 1e4:.5f}"{rng.choice((" ", chr(10)))}lon="8.5">{pad()}'
        f"<ele>{around()}{400 + i}{around()}</ele>{pad()}"
        f"<time>{around()}{year}-05-02T06:{i // 60:02}:{i % 60:02}{fraction}{zone}{around()}</time>{pad()}"
        f"<extensions><hr>{around()}{120 + i % 9}{around()}</hr></extensions>{pad()}</trkpt>"
        for i in range(rng.randint(3, 90))
    )
    head = f'<gpx version="1.1" creator="made up" xmlns="http://www.topografix.com/GPX/1/1">{pad()}<trk>{pad()}'
    return f"{head}<trkseg>{points}{pad()}</trkseg>{pad()}</trk>{pad()}</gpx>{pad()}".encode()


def members(rng: Random) -> bytes:
    """A zip archive of up to 300 members, plain, packed and in archives of their own; or gzip of up to 2,000 members."""
    if rng.random() < 0.3:
        return gzip.compress(b"", mtime=0) * rng.randrange(2000) + gzip.compress(one_fit(rng), mtime=0)
    made = io.BytesIO()
    small = one_fit(rng)
    with zipfile.ZipFile(made, "w", rng.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))) as archive:
        for number in range(rng.choice((1, 5, 300))):
            inner = io.BytesIO()
            with zipfile.ZipFile(inner, "w") as within:
                within.writestr("a.fit", small)
            name, data = rng.choice((("a.fit", small), ("a.zip", inner.getvalue()), ("a.fit.gz", gzip.compress(small))))
            archive.writestr(f"{number}{name}", data)
    return made.getvalue()


SHAPES: dict[str, Callable[[Random], bytes]] = {
    "fit chained": chained,
    "fit cut": truncated,
    "fit developer": clashing,
    "fit dates": dated,
    "fit sound": one_fit,
    "gpx padded": padded,
    "many members": members,
}


class DifferenceError(AssertionError):
    """What was read is not what the reference library reads."""


def same_as_reference(data: bytes, folder: Path) -> object:
    """A recording as it is read; raises DifferenceError where fitdecode or gpxpy read something else in it."""
    from steadyband.ground.settings import Settings
    from steadyband.recording import read
    from steadyband.recording.cleaning import prepared_rows

    recording = read(data, "x")
    plain = _unpacked(data)
    if recording.format == "fit":
        _check_fit(plain, recording)
    else:
        _check_gpx(plain, recording)
    return [prepared_rows(session, Settings()) for session in recording.sessions]


def _unpacked(data: bytes) -> bytes:
    from steadyband.recording.source import load

    return load(data, "x").data


def _check_fit(data: bytes, recording: Any) -> None:
    rows, laps = _by_fitdecode(data)
    rows.sort(key=lambda row: row[0])
    times = np.concatenate([session.time_s for session in recording.sessions])
    order = np.argsort(times, kind="stable")
    _same("time_s", times[order], np.array([at for at, _ in rows]))
    told = {note.channel for note in recording.notes if note.code == "developer_field"}
    for channel, (names, factor) in FIELDS.items():
        if channel in told:
            continue
        wanted = np.array([_first(values, names) * factor for _, values in rows])
        found = [session.channels.get(channel, np.full(len(session.time_s), np.nan)) for session in recording.sessions]
        _same(channel, np.concatenate(found)[order], wanted)
    found_laps = sorted((lap.start_s, lap.end_s) for session in recording.sessions for lap in session.laps)
    inside = [
        lap
        for lap in laps
        if any(s.time_s[0] <= (lap[0] + lap[1]) / 2 <= s.time_s[-1] for s in recording.sessions) and lap[0] <= lap[1]
    ]
    if len(found_laps) < len({*inside}):
        raise DifferenceError(f"{len(found_laps)} laps read, {len(inside)} by fitdecode")


def _first(values: dict[str, Any], names: tuple[str, ...]) -> float:
    return next((float(values[name]) for name in names if name in values), math.nan)


def _by_fitdecode(data: bytes) -> tuple[list[tuple[float, dict[str, Any]]], list[tuple[float, float]]]:
    """((time, numbers by field) of every timed record, (start, end) of every lap) up to the damage."""
    rows: list[tuple[float, dict[str, Any]]] = []
    laps: list[tuple[float, float]] = []
    options = {"check_crc": fitdecode.CrcCheck.DISABLED, "error_handling": fitdecode.ErrorHandling.IGNORE}
    try:
        with fitdecode.FitReader(data, processor=None, **options) as reader:
            for frame in reader:
                if frame.frame_type != fitdecode.FIT_FRAME_DATA:
                    continue
                values = _numbers(frame)
                if frame.name == "record" and 0 <= values.get("timestamp", -1) < 2**32:
                    rows.append((values["timestamp"] + EPOCH, values))
                if frame.name == "lap" and {"start_time", "total_elapsed_time"} <= values.keys():
                    begin = values["start_time"] + EPOCH
                    laps.append((begin, begin + values["total_elapsed_time"]))
    except Exception:  # noqa: BLE001 (damage: what came before it counts)
        pass
    return rows, laps


def _numbers(frame: Any) -> dict[str, Any]:
    """Numbers by name; what the file holds itself wins over what fitdecode expands from another field."""
    items = [item for item in frame.fields if isinstance(item.value, int | float) and math.isfinite(item.value)]
    expanded = {item.name: item.value for item in items if item.field_def is None}
    own = {item.name: item.value for item in items if item.field_def is not None and not item.field_def.is_dev}
    return expanded | own


def _check_gpx(data: bytes, recording: Any) -> None:
    import gpxpy

    try:
        parsed = gpxpy.parse(data.decode("utf-8").replace("\r", "\n"))
    except Exception:  # noqa: BLE001 (gpxpy gives the file up: nothing to compare with)
        return
    points = [point for track in parsed.tracks for segment in track.segments for point in segment.points]
    if any(point.time is None for point in points):
        return
    points.sort(key=lambda point: point.time.timestamp() if point.time.tzinfo else 0)
    order = np.argsort(np.concatenate([s.time_s for s in recording.sessions]), kind="stable")
    pairs = (("lat_deg", "latitude"), ("lon_deg", "longitude"), ("altitude_m", "elevation"))
    for channel, name in pairs:
        wanted = np.array([np.nan if getattr(p, name) is None else getattr(p, name) for p in points], dtype=float)
        missing = [s.channels.get(channel, np.full(len(s.time_s), np.nan)) for s in recording.sessions]
        found = np.concatenate(missing)[order]
        if np.all(np.abs(wanted[np.isfinite(wanted)]) <= 90):
            _same(channel, found, wanted)


def _same(channel: str, found: Any, wanted: Any) -> None:
    if len(found) != len(wanted):
        raise DifferenceError(f"{channel}: {len(found)} values read, {len(wanted)} by the reference")
    if not np.array_equal(found, wanted, equal_nan=True):
        places = np.flatnonzero(~((found == wanted) | (np.isnan(found) & np.isnan(wanted))))
        at = int(places[0])
        raise DifferenceError(
            f"{channel}: {found[at]} read, {wanted[at]} by the reference, first of {len(places)}, at {at}"
        )
