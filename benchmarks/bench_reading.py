"""How fast recordings are read, side by side with the reference libraries, in one run. Prints; passes no judgement.

    python benchmarks/bench_reading.py [--rounds 5] [--packages FOLDER]

Every way of reading is timed once per round, in turn, and its best time counts, so that a busy moment hits all alike.
Real device files are used where ../shared/recordings (or STEADYBAND_RECORDINGS) is there, and generated ones always.
`--packages` names a folder of installed packages to look for `fitfast` in (a compiled reader, compared if it is there;
it is no dependency of the project).
"""

# ruff: noqa: T201

from __future__ import annotations

import argparse
import importlib
import math
import os
import struct
import sys
import time
import warnings
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import fitdecode
from gpxpy.parser import GPXParser

from steadyband import recording
from steadyband.recording.fit.columns import read_columns
from steadyband.recording.fit.crc import crc16
from steadyband.recording.gpx.stream import read_tracks

ROOT = Path(__file__).resolve().parent.parent
HOURS = 4
CHANNELS = {"hr": "heart_rate_bpm", "cad": "cadence_rpm", "power": "power_w", "atemp": "temperature_c"}
RECORD_FIELDS = [
    "timestamp",
    "power",
    "heart_rate",
    "cadence",
    "speed",
    "enhanced_speed",
    "distance",
    "altitude",
    "enhanced_altitude",
    "position_lat",
    "position_long",
    "temperature",
]
Way = tuple[str, Callable[[], Any]]


def main() -> None:
    """Time every way of reading every file and print the tables."""
    arguments = _arguments()
    warnings.simplefilter("ignore")
    fitfast = _fitfast(arguments.packages)
    for title, data in _fit_files():
        _table(title, _fit_ways(data, fitfast), arguments.rounds)
    for title, data in _gpx_files():
        _table(title, _gpx_ways(data), arguments.rounds)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--packages", type=Path)
    return parser.parse_args()


def _fitfast(folder: Path | None) -> Any:
    if folder:
        sys.path.append(str(folder))
    try:
        return importlib.import_module("fitfast")
    except ImportError:
        print("fitfast is not installed: its rows are left out.")
        return None


def _table(title: str, ways: list[Way], rounds: int) -> None:
    best = [math.inf] * len(ways)
    for _ in range(rounds):
        for i, (_, read) in enumerate(ways):
            began = time.perf_counter()
            read()
            best[i] = min(best[i], time.perf_counter() - began)
    print(f"\n{title}")
    for (name, _), seconds in zip(ways, best, strict=True):
        print(f"  {name:<58} {seconds * 1e3:9.2f} ms   {best[0] / seconds:7.1f} x")


def _fit_ways(data: bytes, fitfast: Any) -> list[Way]:
    ways: list[Way] = [
        ("fitdecode, iterating the file", lambda: _iterate(data)),
        ("fitdecode, no checksum, no processor", lambda: _iterate(data, check_crc=False, processor=None)),
        ("columns: headers, checksum, 12 record fields", lambda: _columns(data)),
        ("columns: the same and every other record field", lambda: _all_columns(data)),
        ("steadyband.recording.read, ready for the audit", lambda: recording.read(data)),
        ("the checksum alone", lambda: crc16(data)),
    ]
    if fitfast:
        ways.insert(2, ("fitfast.records", lambda: fitfast.records(data)))
        ways.insert(3, ("fitfast.count (structure and checksum only)", lambda: fitfast.count(data)))
    return ways


def _iterate(data: bytes, **options: Any) -> None:
    with fitdecode.FitReader(data, **options) as frames:
        for _ in frames:
            pass


def _columns(data: bytes) -> None:
    for file in read_columns(data).files:
        for name in RECORD_FIELDS if "record" in file.tables else ():
            file.tables["record"].numbers(name)


def _all_columns(data: bytes) -> None:
    for file in read_columns(data).files:
        table = file.tables.get("record")
        for name in table.names() if table else ():
            table.numbers(name)


def _gpx_ways(data: bytes) -> list[Way]:
    text = data.decode()
    return [
        ("gpxpy, parsing the file", lambda: GPXParser(text).parse()),
        ("columns", lambda: read_tracks(text, CHANNELS)),
        ("steadyband.recording.read, ready for the audit", lambda: recording.read(data)),
    ]


def _fit_files() -> list[tuple[str, bytes]]:
    named = os.environ.get("STEADYBAND_RECORDINGS")
    folder = (Path(named) if named else ROOT.parent / "shared" / "recordings") / "fit"
    wanted = ("ride_power_hr_gps_6h33.fit", "multisport_hr_gps_4h.fit", "swim_open_rest_2h.fit")
    real = [(folder / name) for name in wanted if (folder / name).is_file()]
    if not real:
        print("no folder of real recordings: only generated ones are read.")
    generated = _generated_fit()
    files = [(f"{path.name}, {path.stat().st_size // 1000} kB", path.read_bytes()) for path in real]
    return [*files, (f"generated FIT of {HOURS} h, {len(generated) // 1000} kB", generated)]


def _generated_fit() -> bytes:
    """A ride: one record a second of time, position, altitude, heart rate, cadence, distance, speed, power."""
    fields = [
        (253, 4, 0x86),
        (0, 4, 0x85),
        (1, 4, 0x85),
        (78, 4, 0x86),
        (3, 1, 2),
        (4, 1, 2),
        (5, 4, 0x86),
        (73, 4, 0x86),
    ]
    fields.append((7, 2, 0x84))
    body = bytes([0x40, 0, 0, 0, 0, 2, 0, 1, 0, 4, 4, 0x86]) + struct.pack("<BBI", 0, 4, 1_000_000_000)
    body += bytes([0x41, 0, 0, 20, 0, len(fields)]) + bytes(value for entry in fields for value in entry)
    rows = (
        struct.pack(
            "<BIiiIBBIIH", 1, 1_000_000_000 + i, 540_000_000 + 90 * i, 90_000_000 + 70 * i, (500 + i % 97) * 5,
            120 + i % 31, 85 + i % 7, i * 800, 8000 + i % 500, 180 + i * 7919 % 90,
        )
        for i in range(HOURS * 3600)
    )  # fmt: skip
    body += b"".join(rows)
    head = struct.pack("<BBHI4s", 12, 0x20, 2132, len(body), b".FIT")
    return head + body + struct.pack("<H", crc16(head + body))


def _gpx_files() -> list[tuple[str, bytes]]:
    full, plain = _generated_gpx(True), _generated_gpx(False)
    return [
        (f"generated GPX of {HOURS} h with power, heart rate, cadence, {len(full) // 1000} kB", full),
        (f"generated GPX of {HOURS} h, position, height and time only, {len(plain) // 1000} kB", plain),
    ]


def _generated_gpx(sensors: bool) -> bytes:
    start = datetime(2026, 5, 2, 6, 31, 4, tzinfo=UTC)
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx creator="bench_reading.py, invented" version="1.1" '
        'xmlns="http://www.topografix.com/GPX/1/1" xmlns:p="urn:points">\n <trk>\n  <type>cycling</type>\n  <trkseg>\n'
    )
    points = []
    for i in range(HOURS * 3600):
        at = (start + timedelta(seconds=i)).strftime("%Y-%m-%dT%H:%M:%SZ")
        more = (
            f"    <extensions>\n     <power>{150 + i * 7919 % 90}</power>\n     <p:TrackPointExtension>\n"
            f"      <p:atemp>21</p:atemp>\n      <p:hr>{120 + i % 30}</p:hr>\n      <p:cad>{85 + i % 6}</p:cad>\n"
            "     </p:TrackPointExtension>\n    </extensions>\n"
        )
        points.append(
            f'   <trkpt lat="{46 + i * 1e-5:.7f}" lon="{7 + i * 2e-5:.7f}">\n    <ele>{500 + i % 70 * 0.2:.1f}</ele>\n'
            f"    <time>{at}</time>\n{more if sensors else ''}   </trkpt>\n"
        )
    return (head + "".join(points) + "  </trkseg>\n </trk>\n</gpx>\n").encode()


if __name__ == "__main__":
    main()
