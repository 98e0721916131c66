"""What a reader returns, and the one-second rows that everything else works on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from steadyband.ground.alike import Alike
from steadyband.ground.arrays import BoolArray as BoolArray
from steadyband.ground.arrays import FloatArray as FloatArray
from steadyband.ground.arrays import Numbers

CHANNELS: tuple[str, ...] = (
    "power_w",
    "heart_rate_bpm",
    "cadence_rpm",
    "speed_mps",
    "distance_m",
    "altitude_m",
    "lat_deg",
    "lon_deg",
    "temperature_c",
)
"""Every channel a recording may carry, in SI units (heart rate in beats, cadence in turns a minute)."""

READER_VERSION = 2
"""Raised whenever the same bytes would be read into other values: results kept from an older reader are then made anew."""

FALLBACK = "Read through the slower reference library, as the columnar reader does not cover"
"""How the note of a file begins that was left to the reference library."""

Severity = Literal["info", "warn", "error"]


@dataclass(frozen=True, slots=True)
class Note:
    """Something a reader repaired, dropped or left out."""

    code: str
    severity: Severity
    text: str
    count: int = 0
    channel: str | None = None
    place: str | None = None


@dataclass(frozen=True, slots=True)
class Lap:
    """One lap: start and end in Unix seconds."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class SessionRecords(Alike):
    """The records of one sport within a recording, as read: sorted by time, nothing filled.

    `time_s` [n] Unix seconds, non-decreasing; each of `channels` [n] float64, NaN where missing; only channels
    that the file carries are present. `pauses` are (timer stop, next timer start) in Unix seconds. `breaks` are
    times before which a new stretch starts even without a gap (a new GPX track segment). `origin_s` is the file's
    own start in Unix seconds as its header tells it, NaN where it does not: records too far from it are dropped.
    `derived` names the channels that the reader worked out from positions; `guessed` says that the file names no sport.
    """

    sport: str
    sub_sport: str | None
    name: str | None
    time_s: FloatArray
    channels: Mapping[str, FloatArray]
    pauses: tuple[tuple[float, float], ...] = ()
    breaks: tuple[float, ...] = ()
    laps: tuple[Lap, ...] = ()
    dropped: int = 0
    origin_s: float = float("nan")
    derived: frozenset[str] = frozenset()
    guessed: bool = False

    def __repr__(self) -> str:
        told = ", ".join(self.channels)
        return f"SessionRecords({self.sport}, {len(self.time_s):,} records of {told or 'time alone'})"


@dataclass(frozen=True, slots=True, repr=False)
class Recording:
    """One file: its sessions in time order, and what was repaired or left out."""

    file: str
    sha256: str
    format: str  # of `recording.formats`
    sessions: tuple[SessionRecords, ...]
    notes: tuple[Note, ...] = ()
    damage: str | None = None
    device: str | None = None

    def __repr__(self) -> str:
        sports = ", ".join(f"{item.sport} {len(item.time_s):,} records" for item in self.sessions)
        return f"Recording({self.file}: {sports}{'; damaged' if self.damage else ''})"


@dataclass(frozen=True, slots=True)
class Repair:
    """One kind of repair on one channel, counted in records or seconds."""

    what: str
    channel: str | None
    count: int


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Rows(Alike):
    """One-second rows of one session (METHOD 2).

    Row i is the Unix second `start_s + i`. Channels are float64 [n] with NaN for missing; a channel named in
    `absent` is NaN throughout. `recorded`, `pause` and `gap` are disjoint and cover all rows; `stretch` [n] is the
    number of the stretch a row belongs to, -1 outside; `active` is a subset of `recorded`.
    """

    start_s: int
    channels: Mapping[str, FloatArray]
    absent: frozenset[str]
    recorded: BoolArray
    pause: BoolArray
    gap: BoolArray
    active: BoolArray
    stretch: Numbers
    records: int
    dropped: int
    held_s: int
    repairs: tuple[Repair, ...] = field(default=())

    def __repr__(self) -> str:
        known = ", ".join(name for name in self.channels if name not in self.absent)
        return f"Rows({len(self.recorded):,} s of {known or 'no channel'})"

    def __len__(self) -> int:
        return len(self.recorded)

    def has(self, channel: str) -> bool:
        """True where the channel exists (it is not all missing and not all zero)."""
        return channel not in self.absent
