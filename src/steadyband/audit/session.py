"""One session audited: the only place that puts the parts together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import LoadEdges, edge_sets
from steadyband.audit.findings.facts import Facts
from steadyband.audit.judge import judge, not_judged, reasons_against
from steadyband.audit.looks import as_it_looks
from steadyband.audit.measure import ground
from steadyband.audit.measure.bands import band_times, ribbon
from steadyband.audit.measure.causes import Setting, with_causes
from steadyband.audit.measure.drift import drift_of
from steadyband.audit.measure.foot import Footing, footing_of
from steadyband.audit.measure.gears import gearing
from steadyband.audit.measure.loads import Load, SessionArrays, choose_load, session_arrays
from steadyband.audit.measure.price import price_of_smooth
from steadyband.audit.measure.privacy import told_positions
from steadyband.audit.measure.repeats import repeats
from steadyband.audit.measure.surges import find_surges, gathered_above
from steadyband.audit.measure.terrain import courses, distance_along, grade_along, height_along, resloped
from steadyband.audit.model import (
    HARD_INTENTS,
    LOAD_SI_UNIT,
    Audit,
    Climb,
    Ground,
    LoadSummary,
    Price,
    Quality,
    Repeats,
    Seconds,
    SessionInfo,
    Surges,
    Traces,
    Verdict,
)
from steadyband.audit.zonesused import notes_on_test, usable_zones, why_no_zones, zones_used
from steadyband.ground.said import Said
from steadyband.ground.settings import Settings
from steadyband.recording.model import Rows
from steadyband.steptest.model import ZoneSet

if TYPE_CHECKING:
    from steadyband.steptest.choose import Choice

FloatArray = NDArray[np.float64]


def audit_session(
    rows: Rows, info: SessionInfo, choice: Choice, settings: Settings, notes: tuple[Said, ...] = ()
) -> Audit:
    """Audit one session against the zone set that applies to it.

    `rows` one-second rows (METHOD 2); `info` everything that is not an array; `choice` the zone set for the sport and
    date, or why there is none; `notes` what the reader has to say, carried into the quality block. Nothing is raised
    for a session that cannot be judged: its verdict says why.
    """
    zone_set = usable_zones(choice)
    land = _land(rows, info, settings)
    load = choose_load(rows, info.sport, zone_set, (land.grade, land.footing), settings)
    arrays = _arrays(rows, info, load, land, settings)
    seconds = count_seconds(rows, arrays)
    facts = _facts(rows, info, zone_set, arrays, land, settings)
    facts, taken = as_it_looks(facts) if facts else (None, ())
    info = facts.info if facts else info
    traces = _traces(rows, arrays, facts, land)
    return Audit(
        info=info,
        zones=zones_used(choice, info.threshold),
        seconds=seconds,
        load=summarise(arrays) if arrays else None,
        bands=facts.bands if facts else None,
        surges=facts.surges if facts else None,
        drift=facts.drift if facts else None,
        climbs=_climbs(land, arrays, facts),
        quality=_quality(
            rows,
            info,
            (*notes, *(load.notes if load else ()), *notes_on_test(choice, info.threshold), *taken, *land.notes),
        ),
        verdict=_verdict(facts, _reasons(info, choice, seconds, arrays, settings)),
        settings=settings,
        traces=traces,
        ground=_ground(info, facts, land),
        price=_price(rows, facts, land),
        repeats=_repeats(facts, traces),
        temperature_c=mean_temperature(rows),
    )


@dataclass(frozen=True, slots=True)
class Land:
    """The ground of a session per row [n], the positions to be told, and its climbs as they lie there."""

    grade: FloatArray
    height: FloatArray
    along: FloatArray | None
    lat: FloatArray
    lon: FloatArray
    climbs: tuple[Climb, ...]
    known: bool
    notes: tuple[Said, ...]
    footing: Footing | None = None  # on foot

    @property
    def from_start(self) -> FloatArray:
        """Distance from the session's start [m, n], NaN where it is unknown."""
        if self.along is None or np.isnan(self.along).all():
            return np.full(len(self.grade), np.nan)
        return np.asarray(self.along - self.along[np.flatnonzero(~np.isnan(self.along))[0]], dtype=np.float64)


def _land(rows: Rows, info: SessionInfo, settings: Settings) -> Land:
    found = courses(rows, settings.terrain)
    footing = footing_of(rows, info.sport, found, settings)
    if footing is not None and footing.slope_half_m > settings.terrain.slope_half_m:
        found = tuple(resloped(course, footing.slope_half_m) for course in found)
    lat, lon = told_positions(rows, info)
    return Land(
        grade=grade_along(len(rows), found),
        height=height_along(len(rows), found),
        along=distance_along(rows),
        lat=lat,
        lon=lon,
        climbs=ground.placed(ground.bare_climbs(found, settings.terrain), lat, lon),
        known=bool(found),
        notes=ground.altimeter_notes(found, settings.terrain.untrusted_m),
        footing=footing,
    )


def _climbs(land: Land, arrays: SessionArrays | None, facts: Facts | None) -> tuple[Climb, ...]:
    if arrays is None:
        return land.climbs
    told = ground.ridden(land.climbs, arrays, land.along)
    if facts is None:
        return told
    gears = gearing(facts.info.rider, facts.settings.terrain) if _by_bike(facts) else None
    by_grade = land.footing if arrays.channel == "flat_equivalent_speed" else None
    load_error = by_grade.load_error if by_grade else 0.0
    return ground.judged(told, facts.surges, arrays, facts.edges.ceiling, gears, load_error)


def _by_bike(facts: Facts) -> bool:
    return facts.info.sport == "cycling" and facts.arrays.channel == "power"


def _price(rows: Rows, facts: Facts | None, land: Land) -> Price | None:
    if facts is None or facts.surges is None or not _by_bike(facts):
        return None
    limits = facts.edges.ceiling, facts.settings.terrain
    return price_of_smooth(rows, land.grade, facts.surges, facts.info.rider, limits)


def _repeats(facts: Facts | None, traces: Traces) -> Repeats | None:
    if facts is None or facts.info.intent not in HARD_INTENTS:
        return None
    loads, settings = (facts.arrays.load, traces.band_load), facts.settings
    return repeats(traces.ribbon, loads, facts.arrays.heart_rate, settings.guess, settings.bands.window_s)


def _ground(info: SessionInfo, facts: Facts | None, land: Land) -> Ground | None:
    if facts is None:
        return None if land.known else Ground(False, notes=(ground.NO_ALTITUDE,))
    return ground.hill_limits(info, facts.arrays, facts.edges.ceiling, facts.settings.terrain, land.known)


def _arrays(rows: Rows, info: SessionInfo, load: Load | None, land: Land, settings: Settings) -> SessionArrays | None:
    """Every series of the session; None where no active second carries a load."""
    if load is None or not np.any(rows.active & ~np.isnan(load.values)):
        return None
    return session_arrays(rows, info.sport, load, (land.grade, land.lat, land.lon), settings)


def count_seconds(rows: Rows, arrays: SessionArrays | None) -> Seconds:
    """Where the time went; without a load every active second is unmeasured (METHOD 2, 3)."""
    active = int(np.count_nonzero(rows.active))
    return Seconds(
        elapsed=len(rows),
        recorded=int(np.count_nonzero(rows.recorded)),
        pause=int(np.count_nonzero(rows.pause)),
        gap=int(np.count_nonzero(rows.gap)),
        active=active,
        coasting=int(np.count_nonzero(arrays.coasting)) if arrays else 0,
        unmeasured=active - (int(np.count_nonzero(arrays.measured)) if arrays else 0),
    )


def mean_temperature(rows: Rows) -> float | None:
    """Mean temperature [C] of the active seconds that have one, None without any (METHOD 6)."""
    told = rows.channels["temperature_c"][rows.active]
    told = told[np.isfinite(told)]
    return float(told.mean()) if len(told) else None


def summarise(arrays: SessionArrays) -> LoadSummary:
    """Mean and highest load over active measured seconds (METHOD 3)."""
    load = arrays.load[arrays.measured]
    return LoadSummary(
        channel=arrays.channel,
        unit=LOAD_SI_UNIT[arrays.channel],
        mean=float(load.mean()),
        max=float(load.max()),
        mean_31s_max=float(arrays.band_load[arrays.measured].max()),
    )


def _facts(
    rows: Rows,
    info: SessionInfo,
    zone_set: ZoneSet | None,
    arrays: SessionArrays | None,
    land: Land,
    settings: Settings,
) -> Facts | None:
    if zone_set is None or arrays is None:
        return None
    sets = edge_sets(zone_set, arrays.channel, info.threshold)
    edges = sets.one(0)
    return Facts(
        info=info,
        start_s=rows.start_s,
        arrays=arrays,
        sets=sets,
        bands=band_times(arrays, sets, settings.steptest.range_share),
        surges=_surges(rows, info, arrays, edges, land, settings),
        drift=drift_of(arrays, edges, zone_set.hr.ceiling, settings.drift),
        settings=settings,
        temperature_c=mean_temperature(rows),
    )


def _surges(
    rows: Rows, info: SessionInfo, arrays: SessionArrays, edges: LoadEdges, land: Land, settings: Settings
) -> Surges | None:
    found = find_surges(arrays, edges, settings)
    if found is None:
        return None
    powered = info.sport == "cycling" and arrays.channel == "power"
    gears = gearing(info.rider, settings.terrain) if powered else None
    setting = Setting(rows, land.grade, land.from_start, land.climbs, arrays.on_foot, gears, settings)
    return with_causes(found, arrays.surge_load, edges.ceiling, setting)


def _reasons(
    info: SessionInfo, choice: Choice, seconds: Seconds, arrays: SessionArrays | None, settings: Settings
) -> tuple[Said, ...]:
    return reasons_against(info, seconds, why_no_zones(choice), arrays is not None, settings.verdict)


def _verdict(facts: Facts | None, reasons: tuple[Said, ...]) -> Verdict:
    return not_judged(reasons) if reasons or facts is None else judge(facts)


def _quality(rows: Rows, info: SessionInfo, notes: tuple[Said, ...]) -> Quality:
    return Quality(rows.records, rows.dropped, rows.held_s, rows.repairs, info.damage, notes)


def _traces(rows: Rows, arrays: SessionArrays | None, facts: Facts | None, land: Land) -> Traces:
    missing = np.full(len(rows), np.nan)
    surging = arrays is not None and facts is not None and facts.surges is not None
    return Traces(
        ribbon=ribbon(rows, arrays, facts.edges if facts else None),
        load=arrays.load if arrays else missing,
        band_load=arrays.band_load if arrays else missing,
        heart_rate_bpm=rows.channels["heart_rate_bpm"],
        gathered_above=gathered_above(facts.arrays, facts.edges.ceiling) if facts and surging else missing,
        distance_m=land.from_start,
        height_m=land.height,
        grade=land.grade,
        lat_deg=land.lat,
        lon_deg=land.lon,
    )
