"""A coach's folder of invented athletes: rides built byte by byte after the published protocol (SOURCES S9)."""

from __future__ import annotations

import re
import shutil
import struct
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from conftest import DEMO
from console import run

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "recording"))

from fit_bytes import (
    ACTIVITY,
    CYCLING,
    ENUM,
    FILE_ID,
    SINT32,
    STRING,
    UINT8,
    UINT16,
    UINT32,
    WORKOUT,
    message,
    session,
)

from steadyband.recording.fit.crc import crc16

DAY = 86_400
SATURDAY = 1_147_824_000 + 8 * 3600
"""FIT seconds of 2026-05-16T08:00Z (by hand: 20_589 days since 1970-01-01 are 1_778_889_600 s, less 631 065 600, and eight hours)."""
SEMICIRCLES = 2**31 / 180
FIELDS = ((253, 4, UINT32), (0, 4, SINT32), (1, 4, SINT32), (6, 2, UINT16), (7, 2, UINT16), (3, 1, UINT8))
"""Field number, size and base type of each column of RECORD after its head."""
RECORD = np.dtype(
    [
        ("head", "u1"),
        ("time", "<u4"),
        ("lat", "<i4"),
        ("lon", "<i4"),
        ("speed", "<u2"),
        ("power", "<u2"),
        ("heart", "u1"),
    ]
)
DEFINITION = struct.pack("<BBBHB", 0x40, 0, 0, 20, len(FIELDS)) + b"".join(
    struct.pack("<BBB", *item) for item in FIELDS
)


@dataclass(frozen=True)
class Ride:
    """One ride so many days before the Saturday: power and heart rate with a little scatter, and texts that give it away."""

    days_ago: int = 0
    power: int = 152
    heart_rate: int = 160
    seconds: int = 3000
    surges: int = 0
    workout: str = ""
    lat: float = 46.5
    meter: bool = True
    """Without a power meter heart rate is all there is."""

    def content(self, seed: int) -> bytes:
        """The FIT file."""
        rng = np.random.default_rng(seed)
        start = SATURDAY - self.days_ago * DAY
        power = (self.power + rng.normal(0, 3, self.seconds)).astype(int)
        for number in range(self.surges):
            at = 600 + number * (self.seconds - 700) // max(self.surges, 1)
            power[at : at + 12] += 120
        made = np.zeros(self.seconds, RECORD)
        made["time"] = start + np.arange(self.seconds)
        made["power"], made["speed"] = power if self.meter else 0xFFFF, 8000
        made["heart"] = (self.heart_rate + rng.normal(0, 1, self.seconds)).astype(int)
        made["lat"] = np.round((self.lat + 7e-5 * np.arange(self.seconds)) * SEMICIRCLES)
        made["lon"] = round(7.5 * SEMICIRCLES)
        named = [message(WORKOUT, (8, STRING, self.workout))] if self.workout else []
        head = message(FILE_ID, (0, ENUM, ACTIVITY), (1, UINT16, 255), (4, UINT32, start))
        return _whole(head, *named, DEFINITION, made.tobytes(), session(start, self.seconds - 1, CYCLING))


def _whole(*messages: bytes) -> bytes:
    """A FIT file; its checksum is by steadyband's own function, since it is not what is tested here and quick."""
    body = b"".join(messages)
    head = struct.pack("<BBHI4s", 14, 0x20, 2132, len(body), b".FIT")
    whole = head + struct.pack("<H", crc16(head)) + body
    return whole + struct.pack("<H", crc16(whole))


def athlete(place: Path, name: str, rides: Sequence[Ride], *, tests: bool = True, more: str = "") -> Path:
    """An athlete folder with the demo's tests; `more` is added to athlete.toml."""
    (place / "activities").mkdir(parents=True)
    (place / "athlete.toml").write_text(f'name = "{name}"\ntime_zone = "UTC"\n{more}', encoding="utf-8")
    if tests:
        shutil.copytree(DEMO / "tests", place / "tests")
    for number, ride in enumerate(rides):
        (place / "activities" / f"{place.name}-{number:03d}.fit").write_bytes(ride.content(number))
    return place


def dated(home: Path, day: str) -> Path:
    """The same athlete with one bike test, of another day."""
    *before, test = sorted((home / "tests").glob("*bike*.toml"))
    for older in before:
        older.unlink()
    test.write_text(re.sub(r"^date = .*$", f"date = {day}", test.read_text(encoding="utf-8"), flags=re.M), "utf-8")
    return home


__all__ = ["DAY", "SATURDAY", "Ride", "athlete", "dated", "run"]
