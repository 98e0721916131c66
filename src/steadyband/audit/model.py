"""The result of auditing one session. Field by field the output contract; loads are W, m/s or bpm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal

import numpy as np

from steadyband.ground.alike import Alike, html_of
from steadyband.ground.arrays import Codes
from steadyband.ground.arrays import FloatArray as FloatArray
from steadyband.ground.convert import LoadUnit
from steadyband.ground.said import Said
from steadyband.ground.settings import Settings
from steadyband.recording.model import Repair

BAND_NAMES: tuple[str, ...] = ("easy", "steady", "heavy", "severe")
INTENTS: tuple[str, ...] = ("endurance", "easy", "hard", "test", "race", "other")
HARD_INTENTS: tuple[str, ...] = ("hard", "test", "race")
"""Meant to go above the ceiling: told by their repeats, never advised on surges."""
CAUSES: tuple[str, ...] = ("restart", "climb start", "crest", "on climb", "rise", "descent", "flat", "unknown")

# Codes of the ribbon: one per one-second row.
EASY, STEADY, HEAVY, SEVERE, RESTING, UNMEASURED, PAUSE, GAP = range(8)
RIBBON_NAMES: tuple[str, ...] = (*BAND_NAMES, "not active", "unmeasured", "pause", "gap")

Freshness = Literal["current", "ageing", "stale"]
Channel = Literal["power", "flat_equivalent_speed", "heart_rate"]
LOAD_SI_UNIT: Mapping[str, str] = {"power": "W", "flat_equivalent_speed": "m/s", "heart_rate": "bpm"}


@dataclass(frozen=True, slots=True)
class Rider:
    """What athlete.toml tells of rider and bike; None where it does not. Teeth in any order; wheel is its circumference."""

    body_kg: float | None = None
    bike_kg: float | None = None
    chainrings: tuple[int, ...] = ()
    cassette: tuple[int, ...] = ()
    wheel_m: float | None = None
    cadence_floor: float | None = None
    crr: float | None = None
    cda_m2: float | None = None

    @property
    def mass_kg(self) -> float | None:
        """Rider and bike together [kg]."""
        return self.body_kg + self.bike_kg if self.body_kg is not None and self.bike_kg is not None else None

    @property
    def lowest_ratio(self) -> float | None:
        """Turns of the wheel a turn of the cranks in the lowest gear."""
        return min(self.chainrings) / max(self.cassette) if self.chainrings and self.cassette else None


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
    intent_source: str = "assumed"  # "sessions.csv", "test file", "test loads", "recording", "look" or "assumed"
    threshold: float | None = None  # upper threshold, W or m/s, from athlete.toml
    damage: str | None = None
    name: str | None = None
    rider: Rider = Rider()
    privacy_m: float = 300.0  # positions nearer than this to the track's start or end are left out
    positions: bool = True  # False: no position at all

    @property
    def is_labelled(self) -> bool:
        """True where a label, a test or the recording's own name says what the session was for."""
        return self.intent_source not in ("assumed", "look")

    @property
    def stated_intent(self) -> str:
        """The intent that was said, endurance where none was: what the load looks like has no part in it."""
        return self.intent if self.is_labelled else "endurance"


@dataclass(frozen=True, slots=True)
class ZonesUsed:
    """The zone set a session was judged by. Loads in W or m/s; `ceiling_at_least` is set where the ceiling is open."""

    test: str
    test_date: date
    age_days: int
    freshness: Freshness
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
    """One surge (METHOD 4): `mean` and `highest` are of the 11-s mean; `dose_s` is the work above the ceiling in seconds' worth
    of it, `work_above_j` the same in joules, None where the load is not power."""

    start_s: int
    length_s: int
    seconds_above: int
    mean: float
    highest: float
    dose_s: float
    work_above_j: float | None
    gap_before_s: int | None
    lat: float | None
    lon: float | None
    grade: float | None
    cause: str
    forced: bool | None
    micro: bool
    at_m: float | None = None  # distance from the session's start


@dataclass(frozen=True, slots=True)
class Surges:
    """All surges of a session; `lengths` is the histogram of seconds above as (upper edge in s or None, count).

    `above_per_hour_s` is all work above the ceiling an active hour, in seconds' worth of the ceiling, and `explained_per_hour_s`
    what uneven pedalling or running alone explains of it.
    """

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
    above_per_hour_s: float
    explained_per_hour_s: float
    events: tuple[Surge, ...]
    avoidable: int | None = None
    seconds_by_cause: Mapping[str, int] = field(default_factory=dict)


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
    top_of_band_s: int = 0  # 10-min mean from the target top up to below the ceiling: a remark, no fault


@dataclass(frozen=True, slots=True)
class Climb:
    """One climb (METHOD 4.1): where, how steep, and what was done on it.

    `seconds` from foot to top, stops included; `steepest` the grade of its steepest 100 m; `forced` counts the surges that
    the hill forced; `gear_ratio` is the gear (turns of the wheel a turn of the cranks) that would bring its steepest part
    inside the band, where a lower one than the bike's is needed, and `gear_cog` the sprocket for the smallest chainring;
    both None where none is needed or where no gear would do (`too_steep`). `walked_s` on foot only. `above_s` is the work above
    the ceiling in seconds' worth of it, and `above_scatter_s` its standard deviation by the scatter of the ride (METHOD 4.4);
    both None where surges are not judged. `parts` is the mean load over 40 even parts of its length, for overlaying efforts; never part of the contract.
    """

    start_m: float
    length_m: float
    height_m: float
    mean_grade: float
    surges: int
    seconds_above: int
    start_s: int = 0
    seconds: int = 0
    steepest: float | None = None
    mean_load: float | None = None
    forced: int | None = None
    gear_ratio: float | None = None
    gear_cog: int | None = None
    too_steep: bool | None = None
    walked_s: int | None = None
    start_lat: float | None = None
    start_lon: float | None = None
    end_lat: float | None = None
    end_lon: float | None = None
    above_s: float | None = None
    above_scatter_s: float | None = None
    parts: tuple[float | None, ...] = field(default=(), repr=False)


@dataclass(frozen=True, slots=True)
class Ground:
    """What this athlete can hold inside the band on a hill; None where it cannot be told, `notes` say why.

    By bike: `steepest_in_band`, the steepest grade in the lowest gear at the cadence floor (`slowest_mps`). On foot:
    `run_up_to`, the steepest grade on which even the slowest run stays inside, and `walk_up_to`, the same for walking.
    """

    known: bool
    steepest_in_band: float | None = None
    slowest_mps: float | None = None
    run_up_to: float | None = None
    walk_up_to: float | None = None
    notes: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True)
class Price:
    """The price of riding smooth (METHOD 4.3), an estimate: wind and drafting are unknown.

    `seconds_lost` over the ride with its error, as a share of the moving time, and for each surge saved; None where it is
    withheld (`note` says why). `model_error` is modelled time over real time less 1; drag area and rolling as fitted.
    """

    seconds_lost: float | None
    seconds_error: float | None
    share_lost: float | None
    surges_saved: int
    moving_s: float | None
    model_error: float | None
    cda_m2: float | None
    crr: float | None
    note: Said


@dataclass(frozen=True, slots=True)
class Repeat:
    """One effort above the ceiling: where it began, its length, mean load and mean heart rate; the easing after it, up to the
    next effort, with its mean load, None after the last."""

    start_s: int
    length_s: int
    mean: float
    mean_hr: float | None
    recovery_s: int | None
    recovery_mean: float | None


@dataclass(frozen=True, slots=True)
class Repeats:
    """The efforts of a hard session, test or race (METHOD 7.1); loads in the unit of the session's load.

    `number` of them (`others`: efforts of another length, left out), median length, mean load over all their seconds; `spread`, the largest difference of an effort's mean from
    that mean, as a share of it; `change`, the mean of the last against that of the first, as a share; `recovery_s` and
    `recovery_mean` the median length and mean load of the easing between them. None where one effort alone cannot tell.
    """

    number: int
    length_s: int
    shortest_s: int
    longest_s: int
    mean: float
    spread: float | None
    change: float | None
    recovery_s: int | None
    recovery_mean: float | None
    others: int = 0
    efforts: tuple[Repeat, ...] = ()


@dataclass(frozen=True, slots=True)
class Quality:
    """What was read, dropped, held and repaired."""

    records: int
    dropped: int
    held_s: int
    repairs: tuple[Repair, ...]
    damage: str | None
    notes: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: its code, agreement over the curves that fit the test, and its evidence with the settings used; `told` words it."""

    code: str
    agreement: float | None
    evidence: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Verdict:
    """All findings; `in_band` None where the session is not judged, for these `reasons`."""

    findings: tuple[Finding, ...]
    in_band: bool | None
    agreement: float | None
    reasons: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Traces(Alike):
    """Arrays behind the figures, one value per one-second row; NaN where there is none. Never part of the contract."""

    ribbon: Codes
    load: FloatArray
    band_load: FloatArray
    heart_rate_bpm: FloatArray
    gathered_above: FloatArray  # above the ceiling so far: J for power, for speed metres gained on the ceiling's pace
    distance_m: FloatArray = field(default_factory=lambda: np.empty(0))  # from the session's start
    height_m: FloatArray = field(default_factory=lambda: np.empty(0))  # smoothed, leaps of the altimeter taken out
    grade: FloatArray = field(default_factory=lambda: np.empty(0))
    lat_deg: FloatArray = field(default_factory=lambda: np.empty(0))  # start and end left out (privacy_m)
    lon_deg: FloatArray = field(default_factory=lambda: np.empty(0))


@dataclass(frozen=True, slots=True, repr=False)
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
    ground: Ground | None = None
    price: Price | None = None
    repeats: Repeats | None = None  # hard sessions, tests and races alone
    temperature_c: float | None = None  # mean over the active seconds where the device tells it

    def __repr__(self) -> str:
        codes = ", ".join(finding.code for finding in self.verdict.findings)
        told = {True: "in band", False: codes, None: "not judged"}[self.verdict.in_band]
        info, active = self.info, round(self.seconds.active / 60)
        return f"Audit({info.local_start:%Y-%m-%d %H:%M} {info.sport}, {active} min active: {told}; {info.file})"

    def _repr_html_(self) -> str | None:
        return html_of("audit", self)
