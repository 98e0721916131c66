"""Made-up sessions for the reviews: only what the rooms under test read, every number set by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from steadyband.athlete.athlete import parse_athlete
from steadyband.athlete.condensed import Condensed
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.guess import Guess
from steadyband.audit.measure.steady_stretches import SteadyStretch
from steadyband.audit.model import (
    BAND_NAMES,
    Audit,
    BandTime,
    Drift,
    Finding,
    LoadSummary,
    Quality,
    Seconds,
    SessionInfo,
    Surges,
    Traces,
    Verdict,
    ZonesUsed,
)
from steadyband.ground.settings import Settings

ZONE = ZoneInfo("Europe/Lisbon")
NONE = np.zeros(0)
BIKE = ZonesUsed(
    "2026-01-05-bike.toml", date(2026, 1, 5), 22, "current", "W", 180.0, 200.0, 212.0, None, None,
    120.0, 126.0, 130.0, (176.0, 186.0), (206.0, 219.0), False, None,
)  # fmt: skip
EVIDENCE: dict[str, dict[str, object]] = {
    "zone_3_drift": {"load_longest_s": 900},
    "too_high": {"mean_band_load": 205.0, "heavy_share": 0.12},
    "surges": {
        "micro": 20,
        "sustained": 0,
        "surges_per_hour": 13.0,
        "above_per_hour_s": 40.0,
        "explained_per_hour_s": 4.0,
    },
    "heart_rate_above_test": {"hr_ceiling_bpm": 122.0, "hr_above_test_s": 600, "share": 0.2},
    "heart_rate_drift": {"hr_drift_percent": 6.0},
    "steady_in_easy": {"share_steady_or_harder": 0.5},
    "no_easy_band": {"share_steady_or_harder": 0.5},
    "too_low": {"easy_share": 0.8},
}
NO_SURGES = Surges(0, 0, 0, 0.0, 0, 0.0, 0.0, None, {}, (), 0.0, 0.0, ())


def audit(
    day: date,
    ratio: float = 0.95,
    *,
    sport: str = "cycling",
    zones: ZonesUsed | None = BIKE,
    in_band: bool | None = True,
    agreement: float | None = 0.9,
    codes: tuple[str, ...] = (),
    minutes: int = 90,
    hour: int = 8,
    bands: tuple[int, int, int, int] | None = None,
    hr_drift: float | None = None,
    **info: object,
) -> Audit:
    """An endurance session of `minutes`, mean load `ratio` x target top; `bands` in minutes, all steady by default."""
    local = datetime.combine(day, time(hour), ZONE)
    seconds = 60 * minutes
    found = bands or (0, minutes, 0, 0)
    told = SessionInfo(f"{day}-{sport}-{hour}.fit", "0" * 64, sport, None, local.astimezone(UTC), local)
    top = zones.target_top if zones else 200.0
    return Audit(
        info=replace(told, **info),  # type: ignore[arg-type]
        zones=zones,
        seconds=Seconds(seconds, seconds, 0, 0, seconds, 0, 0),
        load=LoadSummary("power", "W", ratio * top, 300.0, 250.0) if zones else None,
        bands={
            name: BandTime(60 * m, m / max(1, sum(found)), (0, 1), 60 * m, None, None)
            for name, m in zip(BAND_NAMES, found, strict=True)
        }
        if zones
        else None,
        surges=NO_SURGES if zones else None,
        drift=Drift(0, 0, None, None, None, hr_drift, 0) if zones else None,
        climbs=(),
        quality=Quality(seconds, 0, 0, (), None),
        verdict=Verdict(tuple(Finding(code, agreement, EVIDENCE.get(code, {})) for code in codes), in_band, agreement),
        settings=Settings(),
        traces=Traces(np.zeros(0, np.uint8), NONE, NONE, NONE, NONE),
    )


def session(
    day: date, ratio: float = 0.95, *, shifts: tuple[float, ...] = (), guess: str = "endurance", **more: object
) -> Condensed:
    """A condensed session; `shifts` [bpm] are those of its steady stretches."""
    found = audit(day, ratio, **more)  # type: ignore[arg-type]
    stretches = tuple(SteadyStretch(600 + 600 * n, 600, 190.0, 123.0 + shift, 123.0) for n, shift in enumerate(shifts))
    strip = np.ones(found.seconds.elapsed // 60, np.uint8)
    return Condensed(found, strip, stretches, Guess(guess, "made up", {}))


def series(ratios: list[float], first: date = date(2026, 1, 12), step: int = 2, **more: object) -> list[Condensed]:
    """One session every `step` days."""
    return [session(first + timedelta(days=step * n), ratio, **more) for n, ratio in enumerate(ratios)]


def folder(path: Path, text: dict[str, object] | None = None) -> AthleteFolder:
    """An athlete folder without tests."""
    athlete = parse_athlete({"time_zone": "Europe/Lisbon"} | (text or {}), path, "athlete.toml")
    return AthleteFolder(path, athlete, (), ())
