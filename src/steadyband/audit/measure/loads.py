"""Which load a session is judged by, and every series derived from it (METHOD 3)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import has_hr_limits
from steadyband.audit.measure.dose import surge_mean
from steadyband.audit.measure.feet import FOOT_SPORTS, walked, with_walking
from steadyband.audit.measure.foot import Footing
from steadyband.audit.measure.held import HR_JUDGED_S
from steadyband.audit.measure.means import centred_mean
from steadyband.audit.model import Channel
from steadyband.ground.convert import is_speed
from steadyband.ground.said import Said
from steadyband.ground.settings import Settings
from steadyband.ground.slope import flat_equivalent_speed
from steadyband.recording.model import Rows
from steadyband.steptest.model import ZoneSet

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Load:
    """The load of a session per row [n], NaN where unmeasured, and what has to be said about it.

    `surges_judged` is False where surges would be noise (METHOD 5) or cannot be seen at all: by heart rate.
    """

    channel: Channel
    values: FloatArray
    notes: tuple[Said, ...] = ()
    surges_judged: bool = True


@dataclass(frozen=True, slots=True)
class SessionArrays:
    """One value per one-second row [n]; loads in W, m/s or bpm by `channel`, NaN where there is none."""

    channel: Channel
    load: FloatArray
    band_load: FloatArray
    surge_load: FloatArray  # NaN where not measured
    heart_rate: FloatArray
    grade: FloatArray
    lat: FloatArray
    lon: FloatArray
    stretch: NDArray[np.int32]
    active: BoolArray
    measured: BoolArray  # active, and the load is known
    coasting: BoolArray  # active, power zero; never on foot
    walked: BoolArray  # slower than a run
    on_foot: bool = False
    surges_judged: bool = True

    def __len__(self) -> int:
        return len(self.load)

    @property
    def judged(self) -> BoolArray:
        """Active measured seconds that findings look at: all, but by heart rate alone the first 40 minutes of them (METHOD 6)."""
        if self.channel != "heart_rate":
            return self.measured
        return np.asarray(self.measured & (np.cumsum(self.measured) <= HR_JUDGED_S))


def choose_load(
    rows: Rows,
    sport: str,
    zone_set: ZoneSet | None,
    ground: tuple[FloatArray, Footing | None],
    settings: Settings,
) -> Load | None:
    """The load that `sport` is judged by (METHOD 3), None where the rows carry none that the zone set has edges for.

    `ground` is the grade [n] and, on foot, how far it and the speed are believed. Power where the test is in watts, by bike or on
    foot. Without a zone set: power by bike, flat-equivalent speed on foot, heart rate otherwise.
    """
    channel = _wanted(sport, zone_set)
    if channel == "power" and rows.has("power_w"):
        return Load("power", rows.channels["power_w"])
    if channel == "flat_equivalent_speed" and rows.has("speed_mps"):
        return _speed_load(rows, sport, ground, settings)
    if rows.has("heart_rate_bpm") and (zone_set is None or has_hr_limits(zone_set)):
        notes = (Said("by_heart_rate"),) if zone_set else ()
        return Load("heart_rate", rows.channels["heart_rate_bpm"], notes, surges_judged=False)
    return None


def _wanted(sport: str, zone_set: ZoneSet | None) -> Channel:
    if zone_set is not None and not is_speed(zone_set.test.load_unit):
        return "power"
    if sport == "running":
        return "flat_equivalent_speed"
    return "power" if sport == "cycling" and zone_set is None else "heart_rate"


def _speed_load(rows: Rows, sport: str, ground: tuple[FloatArray, Footing | None], settings: Settings) -> Load:
    """Flat-equivalent speed [m/s]: METHOD 5, SOURCES S5; seconds of unknown grade count as flat."""
    grade, footing = ground
    speed = rows.channels["speed_mps"]
    unknown = np.isnan(grade)
    flat = np.where(unknown, 0.0, grade)
    values = flat_equivalent_speed(speed, flat, gait="run", grade_max=settings.terrain.grade_max)
    values = with_walking(values, speed, flat, walked(rows, sport, settings))
    notes = _hill_notes(int(np.count_nonzero(unknown & rows.active)), rows)
    if footing is None:
        return Load("flat_equivalent_speed", values, notes)
    told = footing.told(settings.terrain.slope_half_m)
    return Load("flat_equivalent_speed", values, (*notes, *told), footing.surges_judged)


def _hill_notes(unknown_s: int, rows: Rows) -> tuple[Said, ...]:
    active_s = int(np.count_nonzero(rows.active))
    if unknown_s == active_s > 0:
        return (Said("hills_unknown"),)
    if unknown_s:
        return (Said("grade_unknown", {"unknown_s": unknown_s, "active_s": active_s}),)
    return ()


def session_arrays(
    rows: Rows,
    sport: str,
    load: Load,
    ground: tuple[FloatArray, FloatArray, FloatArray],
    settings: Settings,
) -> SessionArrays:
    """Every series that bands, surges, drift and verdict are worked out from.

    `ground` is the grade and the latitude and longitude to be told [deg], each [n].
    """
    grade, lat, lon = ground
    measured = rows.active & ~np.isnan(load.values)
    known = np.where(measured, load.values, np.nan)
    power = rows.channels["power_w"]
    return SessionArrays(
        channel=load.channel,
        load=load.values,
        band_load=centred_mean(load.values, rows.stretch, settings.bands.window_s),
        surge_load=surge_mean(known, rows.stretch, settings.surges.window_s),
        heart_rate=rows.channels["heart_rate_bpm"],
        grade=grade,
        lat=lat,
        lon=lon,
        stretch=rows.stretch,
        active=rows.active,
        measured=measured,
        coasting=rows.active & (power == 0) & (sport not in FOOT_SPORTS),
        walked=walked(rows, sport, settings),
        on_foot=sport in FOOT_SPORTS,
        surges_judged=load.surges_judged,
    )
