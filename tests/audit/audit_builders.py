"""Made-up rows, zone sets and choices: everything an audit takes, without a file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeSets, edge_sets
from steadyband.audit.findings.facts import Facts
from steadyband.audit.measure.bands import band_times
from steadyband.audit.measure.drift import drift_of
from steadyband.audit.measure.loads import SessionArrays, choose_load, session_arrays
from steadyband.audit.measure.surges import find_surges
from steadyband.audit.measure.terrain import grade
from steadyband.audit.model import Audit, SessionInfo
from steadyband.ground.said import Said
from steadyband.ground.settings import Settings, StepTestSettings
from steadyband.recording.model import CHANNELS, Rows
from steadyband.steptest.model import (
    AnalyserSd,
    Edges,
    HrLimits,
    Ribbon,
    Sample,
    Step,
    StepTest,
    ZoneDraws,
    ZoneSet,
)
from steadyband.told import finding_text

FloatArray = NDArray[np.float64]
START_S = 1_777_703_464  # 2026-05-02T06:31:04Z
SETTINGS = Settings()
ZONE = ZoneInfo("Europe/Berlin")


@dataclass(frozen=True)
class Chosen:
    """Stands in for the choice of a zone set."""

    zone_set: ZoneSet | None
    age_days: int | None = 12
    freshness: str | None = "current"
    why: Said | None = None
    passed_over: Said | None = None
    named: bool = False


def make_rows(
    channels: Mapping[str, FloatArray],
    *,
    pause: NDArray[np.bool_] | None = None,
    gap: NDArray[np.bool_] | None = None,
    active: NDArray[np.bool_] | None = None,
    breaks: tuple[int, ...] = (),
) -> Rows:
    """Rows with these channels; active as METHOD 2.4 has it unless given; `breaks` begin a new stretch."""
    length = len(next(iter(channels.values())))
    none = np.zeros(length, bool)
    pause, gap = none if pause is None else pause, none if gap is None else gap
    recorded = ~pause & ~gap
    full = {name: np.asarray(channels.get(name, np.full(length, np.nan)), dtype=np.float64) for name in CHANNELS}
    absent = frozenset(name for name in CHANNELS if name not in channels)
    if active is None:
        moving = (full["speed_mps"] >= 0.5) | (full["power_w"] > 0)
        active = recorded & (moving if {"speed_mps", "power_w"} - absent else True)
    edges = np.diff(recorded.astype(int), prepend=0) == 1
    edges[list(breaks)] = True
    stretch = np.where(recorded, np.cumsum(edges) - 1, -1).astype(np.int32)
    return Rows(START_S, full, absent, recorded, pause, gap, active, stretch, int(recorded.sum()), 0, 0)


def make_draws(edges: Edges, hr: HrLimits, count: int, spread: float, jumped: bool = False) -> ZoneDraws:
    """Edge sets scattered around the nominal ones, row 0, by `spread` (as a fraction); inf where an edge is None.

    The target top takes two values, as it does where it is a step of the test, or any at all with `jumped`.
    """
    rng = np.random.default_rng(7)

    def around(value: float | None, missing: float) -> FloatArray:
        centre = missing if value is None else value
        return np.full(count, centre) * rng.normal(1.0, spread, count)

    floor, ceiling = around(edges.floor, np.inf), around(edges.ceiling, np.inf)
    steps = np.where(rng.random(count) < 0.3 * (spread > 0), 0.9 * edges.target_top, edges.target_top)
    top = np.minimum(around(edges.target_top, np.nan) if jumped else steps, ceiling)
    beats = [around(value, np.nan) for value in (hr.floor, hr.target_top, hr.ceiling)]
    nominal = [np.inf if value is None else value for value in (edges.floor, edges.target_top, edges.ceiling)]
    nominal_hr = [np.nan if value is None else value for value in (hr.floor, hr.target_top, hr.ceiling)]
    return ZoneDraws(
        edges=np.vstack((nominal, np.column_stack((np.minimum(floor, top), top, ceiling)))),
        hr=np.vstack((nominal_hr, np.column_stack(beats))),
        easy_empty=np.full(1 + count, edges.easy_empty),
    )


def make_zone_set(
    *,
    sport: str = "cycling",
    unit: Any = "W",
    floor: float | None = 180.0,
    target_top: float = 200.0,
    ceiling: float | None = 212.0,
    hr: HrLimits = HrLimits(115.0, 120.0, 122.0),
    easy_empty: bool = False,
    draws: int = 200,
    spread: float = 0.0,
    jumped: bool = False,
    **changes: Any,
) -> ZoneSet:
    """A zone set with these edges; loads in W or m/s."""
    test = StepTest(
        file="2026-04-20-test.toml",
        date=date(2026, 4, 20),
        sport=sport,
        load_unit=unit,
        state="fed",
        step_minutes=10.0,
        baseline=(1.1,),
        steps=(Step(120.0, 120.0, (Sample(10.0, 1.0),), 104.0),),
        analyser_sd=AnalyserSd(0.18, 0.06),
    )
    edges = Edges(
        first_rise=None if floor is None else 4,
        plateau=1.05,
        floor=floor,
        target_top=target_top,
        ceiling=ceiling,
        ceiling_at_least=target_top if ceiling is None else None,
        untested=jumped,
        easy_empty=easy_empty,
    )
    zone_set = ZoneSet(
        test=test,
        usable=True,
        edges=edges,
        ranges={},
        hr=hr,
        hr_ranges={},
        curve=(),
        ribbon=Ribbon(*[np.array([100.0, 220.0])] * 4),
        scatter=1.0,
        checks=(),
        methods=(),
        draws=make_draws(edges, hr, draws, spread, jumped),
        settings=StepTestSettings(),
    )
    return replace(zone_set, **changes)


def make_info(**changes: Any) -> SessionInfo:
    start = datetime.fromtimestamp(START_S, UTC)
    info = SessionInfo(
        file="ride.fit",
        sha256="0" * 64,
        sport="cycling",
        sub_sport="road",
        start=start,
        local_start=start.astimezone(ZONE),
    )
    return replace(info, **changes)


def make_arrays(rows: Rows, zone_set: ZoneSet, sport: str = "cycling", settings: Settings = SETTINGS) -> SessionArrays:
    slope = grade(rows, settings.terrain)
    load = choose_load(rows, sport, zone_set, (slope, None), settings)
    assert load is not None
    positions = rows.channels["lat_deg"], rows.channels["lon_deg"]
    return session_arrays(rows, sport, load, (slope, *positions), settings)


def sets_of(zone_set: ZoneSet, channel: Any = "power", threshold: float | None = None) -> EdgeSets:
    return edge_sets(zone_set, channel, threshold)


def text_of(found: Audit, code: str) -> str:
    """One finding in words."""
    return finding_text(found, next(item for item in found.verdict.findings if item.code == code))


def power_rows(power: FloatArray, heart_rate: FloatArray | None = None, **more: Any) -> Rows:
    channels = {"power_w": power, "speed_mps": np.full(len(power), 8.0)}
    if heart_rate is not None:
        channels["heart_rate_bpm"] = heart_rate
    return make_rows(channels, **more)


def wavy_ride(length: int, seed: int = 3) -> Rows:
    """A made-up hilly ride: power scatters around 185 W with many short surges, heart rate follows, hills in altitude."""
    rng = np.random.default_rng(seed)
    power = np.round(np.maximum(0, 175 + rng.normal(0, 25, length)))
    for start in rng.integers(0, max(length - 60, 1), length // 120):
        power[start : start + rng.integers(4, 50)] += rng.integers(30, 150)
    power[rng.random(length) < 0.05] = 0
    speed = np.clip(8 + rng.normal(0, 0.5, length), 0, None)
    distance = np.cumsum(speed)
    heart = np.round(118 + 4 * np.sin(np.arange(length) / 300) + rng.normal(0, 2, length))
    channels = {
        "power_w": power,
        "speed_mps": speed,
        "distance_m": distance,
        "altitude_m": np.round((200 + 40 * np.sin(distance / 900)) / 0.2) * 0.2,
        "heart_rate_bpm": heart,
        "cadence_rpm": np.full(length, 85.0),
        "lat_deg": 48 + distance * 1e-6,
        "lon_deg": 9 + distance * 1e-6,
    }
    pause = np.zeros(length, bool)
    pause[length // 2 : length // 2 + 40] = True
    return make_rows(channels, pause=pause)


def facts_of(arrays: SessionArrays, sets: EdgeSets, info: Any, chosen: Settings) -> Facts:
    limit = float(sets.hr_ceiling[0])
    edges, hr_ceiling = sets.one(0), None if math.isnan(limit) else limit
    return Facts(
        info=info,
        start_s=0,
        arrays=arrays,
        sets=sets,
        bands=band_times(arrays, sets, 0.8),
        surges=find_surges(arrays, edges, chosen),
        drift=drift_of(arrays, edges, hr_ceiling, chosen.drift),
        settings=chosen,
    )
