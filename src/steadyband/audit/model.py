"""The result of auditing one session. Field by field the output contract; loads are W, m/s or bpm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from steadyband.recording.model import Repair
from steadyband.settings import Settings
from steadyband.units import LoadUnit

FloatArray = NDArray[np.float64]
BAND_NAMES: tuple[str, ...] = ("easy", "steady", "heavy", "severe")
INTENTS: tuple[str, ...] = ("endurance", "easy", "hard", "test", "race", "other")
CAUSES: tuple[str, ...] = ("restart", "climb start", "crest", "on climb", "rise", "descent", "flat", "unknown")

# Codes of the ribbon: one per one-second row.
EASY, STEADY, HEAVY, SEVERE, RESTING, UNMEASURED, PAUSE, GAP = range(8)
RIBBON_NAMES: tuple[str, ...] = (*BAND_NAMES, "not active", "unmeasured", "pause", "gap")

Channel = Literal["power", "flat_equivalent_speed", "heart_rate"]
LOAD_SI_UNIT: Mapping[str, str] = {"power": "W", "flat_equivalent_speed": "m/s", "heart_rate": "bpm"}


@dataclass(frozen=True, slots=True)
class SessionInfo:
    """Who, what and when: everything about a session that is not an array."""

    file: str
    sha256: str
    sport: str
    sub_sport: str | None
    start: datetime  # aware, UTC
    local_start: datetime  # aware, the athlete's time zone
    intent: str = "endurance"
    intent_source: str = "assumed"  # "sessions.csv", "recording" or "assumed"
    threshold: float | None = None  # upper threshold, W or m/s, from athlete.toml
    damage: str | None = None
    name: str | None = None


@dataclass(frozen=True, slots=True)
class ZonesUsed:
    """The zone set a session was judged by. Loads in W or m/s; `ceiling_at_least` is set where the ceiling is open."""

    test: str
    test_date: date
    age_days: int
    freshness: Literal["current", "ageing", "stale"]
    load_unit: LoadUnit
    floor: float | None
    target_top: float
    ceiling: float | None
    ceiling_at_least: float | None
    threshold: float | None
    hr_floor: float | None
    hr_target_top: float | None
    hr_ceiling: float | None
    floor_range: tuple[float | None, float | None]
    ceiling_range: tuple[float | None, float | None]
    easy_empty: bool
    override: str | None


@dataclass(frozen=True, slots=True)
class Seconds:
    """Where the time went; elapsed = recorded + pause + gap."""

    elapsed: int
    recorded: int
    pause: int
    gap: int
    active: int
    coasting: int
    unmeasured: int


@dataclass(frozen=True, slots=True)
class LoadSummary:
    """The load the session is judged by, over active measured seconds: W, m/s or bpm (`unit`)."""

    channel: Channel
    unit: str
    mean: float
    max: float
    mean_31s_max: float


@dataclass(frozen=True, slots=True)
class BandTime:
    """One band: seconds by 31-s load, share of active measured seconds with its range, and by 1-s load beside it."""

    seconds: int
    share: float
    share_range: tuple[float, float]
    seconds_1s: int
    mean_load: float | None
    mean_hr: float | None


@dataclass(frozen=True, slots=True)
class Surge:
    """One surge (METHOD 4). Work is None where the load is not power."""

    start_s: int
    length_s: int
    seconds_above: int
    mean: float
    highest: float
    work_above_j: float | None
    gap_before_s: int | None
    lat: float | None
    lon: float | None
    grade: float | None
    cause: str
    forced: bool | None
    micro: bool


@dataclass(frozen=True, slots=True)
class Surges:
    """All surges of a session; `lengths` is the histogram of seconds above as (upper edge in s or None, count)."""

    count: int
    micro: int
    sustained: int
    per_hour: float
    seconds_above: int
    share_above: float
    work_above_kj: float | None
    forced: int | None
    by_cause: Mapping[str, int]
    lengths: tuple[tuple[int | None, int], ...]
    carry_over_max: float | None
    events: tuple[Surge, ...]


@dataclass(frozen=True, slots=True)
class Drift:
    """Drift within the session (METHOD 6); None where it cannot be judged."""

    load_drifted_s: int
    load_longest_s: int
    load_longest_start_s: int | None
    load_slope_per_h: float | None
    load_slope_range: tuple[float, float] | None
    hr_drift_percent: float | None
    hr_above_test_s: int | None


@dataclass(frozen=True, slots=True)
class Climb:
    """One climb (METHOD 4.1)."""

    start_m: float
    length_m: float
    height_m: float
    mean_grade: float
    surges: int
    seconds_above: int


@dataclass(frozen=True, slots=True)
class Quality:
    """What was read, dropped, held and repaired."""

    records: int
    dropped: int
    held_s: int
    repairs: tuple[Repair, ...]
    damage: str | None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: its code, one plain sentence with what to do, agreement over the draws, evidence with its settings."""

    code: str
    text: str
    agreement: float | None
    evidence: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Verdict:
    """All findings; `in_band` None where the session is not judged."""

    findings: tuple[Finding, ...]
    in_band: bool | None
    agreement: float | None


@dataclass(frozen=True, slots=True)
class Traces:
    """Arrays behind the figures, one value per one-second row; NaN where there is none. Never part of the contract."""

    ribbon: NDArray[np.uint8]
    load: FloatArray
    band_load: FloatArray
    heart_rate_bpm: FloatArray
    carry_over: FloatArray


@dataclass(frozen=True, slots=True)
class Audit:
    """Everything found in one session."""

    info: SessionInfo
    zones: ZonesUsed | None
    seconds: Seconds
    load: LoadSummary | None
    bands: Mapping[str, BandTime] | None
    surges: Surges | None
    drift: Drift | None
    climbs: tuple[Climb, ...]
    quality: Quality
    verdict: Verdict
    settings: Settings
    traces: Traces = field(repr=False)
