"""A small athlete folder of short invented rides, built byte by byte, for the tests of the store."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np

from conftest import DEMO

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "recording"))

from fit_bytes import CYCLING, RUNNING, T0, UINT16, file_id, fit_file, record, session

FIT_EPOCH_UNIX = 631_065_600
DAY = 86_400
FIRST = 1_146_000_000
"""FIT seconds of the first ride: 2026-04-24T21:20:00Z (by hand: + 631 065 600 = 1 777 065 600 Unix seconds)."""


def ride_bytes(start: int = FIRST, seconds: int = 300, seed: int = 1, sport: int = CYCLING, **more: int) -> bytes:
    """One record a second of made-up power, heart rate and speed."""
    rng = np.random.default_rng(seed)
    power = (180 + 40 * np.sin(np.arange(seconds) / 30) + rng.normal(0, 8, seconds)).astype(int) + more.get("power", 0)
    heart = (120 + np.arange(seconds) / 60 + rng.normal(0, 1, seconds)).astype(int)
    records = [
        record(start + i, int(power[i]), int(heart[i]), (6, UINT16, 8000 + 10 * (i % 7))) for i in range(seconds)
    ]
    return fit_file(file_id(created=start), *records, session(start, seconds - 1, sport))


def make_folder(place: Path, rides: int = 8, seconds: int = 300) -> Path:
    """An athlete folder with the demo's tests and `rides` rides on following days, every third a run."""
    place.mkdir(parents=True)
    shutil.copytree(DEMO / "tests", place / "tests")
    (place / "athlete.toml").write_text('name = "Invented"\ntime_zone = "UTC"\n', encoding="utf-8")
    (place / "sessions.csv").write_text("date,time,intent,sport,note\n", encoding="utf-8")
    (place / "activities").mkdir()
    for number in range(rides):
        sport = RUNNING if number % 3 == 2 else CYCLING
        data = ride_bytes(FIRST + number * DAY, seconds, seed=number, sport=sport)
        (place / "activities" / f"ride-{number:03d}.fit").write_bytes(data)
    return place


__all__ = ["CYCLING", "DAY", "FIRST", "RUNNING", "T0", "make_folder", "ride_bytes"]
