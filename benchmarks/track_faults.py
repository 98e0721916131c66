"""Whether made-up runs and rides keep their verdict when faults of position, speed and distance are planted in them.

    python benchmarks/track_faults.py [--sessions 1000] [--seed 1]

Each session is audited four times: clean and with one to twenty faults, with the gate of docs/method.md on and off.
Half come as tracks alone (distance and speed worked out from positions), half with speed and distance of their own, as
devices store them; three in ten are recorded every 4 to 8 s. Prints counts; passes no judgement.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import dataclasses
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.athlete.folder import open_folder
from steadyband.audit import audit_session
from steadyband.audit.model import Audit, SessionInfo
from steadyband.ground.settings import Settings
from steadyband.ground.units import is_speed
from steadyband.recording import SessionRecords
from steadyband.recording.cleaning import prepared_rows
from steadyband.recording.deriving import speed_to_next
from steadyband.recording.geo import step_m
from steadyband.steptest.choose import Choice
from steadyband.steptest.model import ZoneSet

ROOT = Path(__file__).resolve().parent.parent
FloatArray = NDArray[np.float64]
METRE = 360 / 40_030_000
"""A metre of latitude [deg]."""
KINDS = ("a point far off", "some points off", "a place of zeros", "a jump that stays", "a stand-still, then a leap")


@dataclass(slots=True)
class Track:
    """A session as arrays by record; `own` where speed and distance are the device's, and not worked out."""

    sport: str
    own: bool
    time_s: FloatArray
    lat: FloatArray
    lon: FloatArray
    altitude: FloatArray
    speed: FloatArray
    distance: FloatArray
    power: FloatArray | None = None
    heart: FloatArray | None = None

    def records(self) -> SessionRecords:
        """The session as a reader would give it."""
        channels = {"lat_deg": self.lat, "lon_deg": self.lon, "altitude_m": self.altitude}
        if self.own:
            channels |= {"speed_mps": self.speed, "distance_m": self.distance}
        else:
            steps = step_m(self.lat, self.lon)
            channels["distance_m"] = np.concatenate(([0.0], np.cumsum(steps)))
            channels["speed_mps"] = speed_to_next(steps, np.diff(self.time_s))
        if self.power is not None:
            channels["power_w"] = self.power
        derived = frozenset() if self.own else frozenset({"distance_m", "speed_mps"})
        return SessionRecords(self.sport, None, None, self.time_s, channels, origin_s=self.time_s[0], derived=derived)


@dataclass(slots=True)
class Counts:
    """What became of the sessions of one sport."""

    sessions: int = 0
    in_band: int = 0
    untouched: int = 0
    kept: int = 0
    codes_kept: int = 0
    lost: list[float] = field(default_factory=list)
    kept_without: int = 0
    faults: dict[str, int] = field(default_factory=lambda: dict.fromkeys(KINDS, 0))
    distance_off: list[float] = field(default_factory=list)
    distance_off_without: list[float] = field(default_factory=list)
    climbs_kept: int = 0


def wandering(rng: np.random.Generator, count: int, sd: float, tau_s: float) -> FloatArray:
    """Noise that forgets itself over `tau_s` [n]."""
    keep = np.exp(-1 / tau_s)
    noise = rng.normal(0, sd * np.sqrt(1 - keep**2), count)
    out = np.empty(count)
    out[0] = rng.normal(0, sd)
    for second in range(1, count):
        out[second] = keep * out[second - 1] + noise[second]
    return out


def clean(rng: np.random.Generator, sport: str, edges: tuple[float, float]) -> Track:
    """A session around the edges of a test: floor and target top [W or m/s]."""
    seconds = int(rng.integers(2400, 4000))
    effort = rng.uniform(edges[0] * 0.97, edges[1] * 1.04)
    if sport == "running":
        speed = effort * (1 + wandering(rng, seconds, 0.03, 40))
        power = None
    else:
        speed = rng.uniform(6, 10) * (1 + wandering(rng, seconds, 0.12, 60))
        power = np.maximum(0, np.round(effort * (1 + wandering(rng, seconds, 0.05, 20) + rng.normal(0, 0.06, seconds))))
    way = np.concatenate(([0.0], np.cumsum(speed)[:-1]))
    heading = np.cumsum(wandering(rng, seconds, 0.01, 100))
    lat = 50 + (np.cumsum(speed * np.cos(heading)) + wandering(rng, seconds, 2.0, 60)) * METRE
    lon = 8 + (np.cumsum(speed * np.sin(heading)) + wandering(rng, seconds, 2.0, 60)) * METRE / np.cos(np.radians(50))
    height = 200 + rng.uniform(0, 12) * np.sin(way / rng.uniform(300, 900))
    every = int(rng.integers(4, 9)) if rng.random() < 0.3 else 1
    kept = slice(0, seconds, every)
    return Track(
        sport, bool(rng.random() < 0.5), 1.777e9 + np.arange(seconds, dtype=np.float64)[kept], lat[kept], lon[kept],
        height[kept], speed[kept], way[kept], power[kept] if power is not None else None,
    )  # fmt: skip


def plant(track: Track, rng: np.random.Generator, counts: Counts) -> Track:
    """One to twenty faults; a device with speed and distance of its own writes what it believes of them."""
    made = dataclasses.replace(track, **{n: getattr(track, n).copy() for n in ("lat", "lon", "speed", "distance")})
    every_s = float(made.time_s[1] - made.time_s[0])
    for _ in range(int(rng.integers(1, 21))):
        kind = KINDS[int(rng.integers(len(KINDS)))]
        counts.faults[kind] += 1
        at = int(rng.integers(1, len(made.lat) - 70))
        bearing, metres = rng.uniform(0, 2 * np.pi), rng.uniform(150, 3000)
        length = 1
        if kind == "some points off":
            length, metres = _records(rng.integers(3, 11), every_s), rng.uniform(100, 300)
        if kind == "a jump that stays":
            length, metres = len(made.lat), rng.uniform(100, 500)
        if kind == "a place of zeros":
            length = _records(rng.integers(1, 6), every_s)
            made.lat[at : at + length], made.lon[at : at + length] = 0.0, 0.0
        elif kind == "a stand-still, then a leap":
            length = 1 + _records(rng.integers(10, 60), every_s)
            made.lat[at : at + length], made.lon[at : at + length] = made.lat[at], made.lon[at]
            continue
        else:
            made.lat[at : at + length] += metres * np.cos(bearing) * METRE
            made.lon[at : at + length] += metres * np.sin(bearing) * METRE / np.cos(np.radians(50))
        made.distance[at:] += metres * (1 if length == len(made.lat) else 2)
        made.speed[at : at + _records(rng.integers(1, 4), every_s)] = min(65.535, metres / 4)
    return made


def _records(seconds: np.int64, every_s: float) -> int:
    return max(1, int(seconds // every_s))


def audited(track: Track, zones: ZoneSet, settings: Settings) -> Audit:
    """The audit of a track by one test."""
    start = datetime.fromtimestamp(float(track.time_s[0]), UTC)
    info = SessionInfo("made.fit", "0" * 64, track.sport, None, start, start)
    choice: Any = Choice(zones, 10, "current", None)
    return audit_session(prepared_rows(track.records(), settings), info, choice, settings)


def length_m(audit: Audit) -> float:
    """The distance an audit tells [m]."""
    return float(np.nanmax(audit.traces.distance_m))


def tried(zones: ZoneSet, rng: np.random.Generator, counts: Counts) -> None:
    """One session, clean and spoilt."""
    on = Settings()
    off = dataclasses.replace(on, cleaning=dataclasses.replace(on.cleaning, impossible_track=0))
    floor, top = zones.edges.floor, zones.edges.target_top
    track = clean(rng, zones.test.sport, (float(floor or 0.8 * top), float(top)))
    spoilt = plant(track, rng, counts)
    plain, with_gate, after, without = (
        audited(t, zones, s) for t, s in ((track, off), (track, on), (spoilt, on), (spoilt, off))
    )
    counts.sessions += 1
    counts.in_band += bool(plain.verdict.in_band)
    counts.untouched += _codes(plain) == _codes(with_gate) and length_m(plain) == length_m(with_gate)
    same = plain.verdict.in_band == after.verdict.in_band
    counts.kept += same
    counts.lost += [] if same else [plain.verdict.agreement or 0.0]
    counts.codes_kept += _codes(plain) == _codes(after)
    counts.kept_without += plain.verdict.in_band == without.verdict.in_band
    counts.climbs_kept += len(plain.climbs) == len(after.climbs)
    counts.distance_off.append(abs(length_m(after) / length_m(plain) - 1))
    counts.distance_off_without.append(abs(length_m(without) / length_m(plain) - 1))


def _codes(audit: Audit) -> tuple[bool | None, tuple[str, ...]]:
    return audit.verdict.in_band, tuple(finding.code for finding in audit.verdict.findings)


def trial(sessions: int, seed: int) -> dict[str, Counts]:
    """Counts by sport, half the sessions each."""
    zone_sets = open_folder(ROOT / "demo_activities").zone_sets
    found = {}
    for sport in ("running", "cycling"):
        zones = [z for z in zone_sets if z.test.sport == sport and is_speed(z.test.load_unit) == (sport == "running")][
            -1
        ]
        rng, counts = np.random.default_rng([seed, len(sport)]), Counts()
        for _ in range(sessions // 2):
            tried(zones, rng, counts)
        found[sport] = counts
    return found


def main() -> None:
    """The table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sessions", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for sport, found in trial(given.sessions, given.seed).items():
        print(f"{sport}: {found.sessions} sessions, {found.in_band} of them in band when clean; faults: {found.faults}")
        print(f"  clean and left exactly as it was by the gate: {found.untouched}")
        print(
            f"  in band or not kept with faults: {found.kept}, every finding kept: {found.codes_kept}; without the gate: {found.kept_without}"
        )
        print(f"  agreement of the clean verdicts that changed: {[round(item, 2) for item in found.lost]}")
        print(f"  number of climbs kept: {found.climbs_kept}")
        for name, off in (("with", found.distance_off), ("without", found.distance_off_without)):
            print(
                f"  distance off {name} the gate: median {np.median(off):.3%}, 95 % under {np.quantile(off, 0.95):.3%}, most {max(off):.2%}"
            )


if __name__ == "__main__":
    main()
