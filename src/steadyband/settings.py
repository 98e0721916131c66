"""Every default of the method as a setting: value, unit, meaning, where it comes from, allowed range.

`athlete.toml` changes them under `[settings.GROUP]`; `Settings.from_mapping` checks names and ranges.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from steadyband.errors import AthleteFileError


def _set(default: float, meaning: str, source: str, unit: str = "", low: float = 0, high: float = 1e9) -> Any:
    meta = {"meaning": meaning, "source": source, "unit": unit, "low": low, "high": high}
    return field(default=default, metadata=meta)


@dataclass(frozen=True, slots=True)
class StepTestSettings:
    """Quality checks, curve, edges and uncertainty of the step test (METHOD 1)."""

    baseline_max: float = _set(1.5, "highest baseline lactate a test may start from", "common practice", "mmol/L")
    flat_steps_min: int = _set(3, "flat steps wanted before the first rise", "common practice", "steps", 1, 20)
    step_height_advised: float = _set(0.25, "advised step height by bike", "common practice", "W/kg")
    step_height_max: float = _set(0.35, "step height that warns", "common practice", "W/kg")
    step_minutes_advised: float = _set(10, "advised step length", "S2", "min")
    step_minutes_min: float = _set(5, "step length under which a warning is given", "S2", "min")
    fall_sds: float = _set(2, "fall between steps that makes a sample suspect, in analyser SD", "design choice", "SD")
    repeatability: float = _set(
        2.8, "repeatability limit of two samples, in analyser SD", "ISO 5725-6, from memory", "SD"
    )
    rise_within_step: float = _set(0.5, "rise inside one step that shows it is heavy", "design choice", "mmol/L")
    sd_floor: float = _set(0.18, "smallest analyser SD", "S1", "mmol/L", 0.001)
    sd_fraction: float = _set(0.06, "analyser SD as a fraction of the reading", "S1", "", 0, 1)
    rise: float = _set(0.3, "rise above the plateau that counts as the first rise", "design choice, S1", "mmol/L", 0.01)
    ceiling_rise: float = _set(1.0, "rise above the plateau at the ceiling", "S2", "mmol/L", 0.01)
    lactate_low: float = _set(0.3, "lowest lactate taken as a reading", "design choice", "mmol/L")
    lactate_high: float = _set(30.0, "highest lactate taken as a reading", "design choice", "mmol/L")
    draws: int = _set(2000, "redrawn tests behind every range and agreement", "design choice", "", 100, 100000)
    seed: int = _set(20260420, "seed of the redrawn tests: the same file gives the same answer", "design choice")
    range_share: float = _set(0.8, "share of the draws inside a stated range", "design choice", "", 0.1, 0.99)
    ageing_days: int = _set(56, "test age called ageing", "common practice", "days", 1)
    stale_days: int = _set(112, "test age called stale", "common practice", "days", 1)


@dataclass(frozen=True, slots=True)
class GridSettings:
    """From records to one-second rows (METHOD 2)."""

    hold_s: int = _set(10, "longest distance between two records that is bridged", "design choice", "s", 1, 600)
    power_max_w: float = _set(2500, "power above this is missing", "design choice", "W", 100)
    heart_rate_min_bpm: float = _set(25, "heart rate below this is missing", "design choice", "bpm")
    heart_rate_max_bpm: float = _set(230, "heart rate above this is missing", "design choice", "bpm")
    moving_mps: float = _set(0.5, "speed from which a second is active", "design choice", "m/s")
    max_day_shift_s: float = _set(
        86400, "records further than this from the file's own start are dropped", "design choice", "s"
    )


@dataclass(frozen=True, slots=True)
class CleaningSettings:
    """Faults of devices taken out of the rows (METHOD 2); a rule is on at 1 and off at 0."""

    power_spikes: int = _set(
        1, "isolated peaks of power take the second before them: 1 on, 0 off", "design choice", "", 0, 1
    )
    spike_max_s: int = _set(
        2, "longest such peak; a surge lasts at least 5 s and is never one", "design choice", "s", 1, 3
    )
    spike_times: float = _set(
        3, "least height over the highest second around it, as a multiple", "design choice", "", 1.5
    )
    spike_over_w: float = _set(500, "least height over the highest second around it", "design choice", "W", 100)
    around_s: int = _set(5, "seconds looked at on either side of a peak or a zero", "design choice", "s", 2, 30)
    power_dropouts: int = _set(
        1,
        "isolated zeros of power amid even pedalling take the second before them: 1 on, 0 off",
        "design choice",
        "",
        0,
        1,
    )
    dropout_max_s: int = _set(2, "longest such run of zeros", "design choice", "s", 1, 3)
    steady_share: float = _set(
        0.30, "furthest from their median that power and cadence may be around such zeros", "design choice", "", 0.01, 1
    )
    frozen_power: int = _set(
        1, "one power that repeats while the cranks are at rest is missing: 1 on, 0 off", "design choice", "", 0, 1
    )
    frozen_power_s: int = _set(10, "shortest such repeat", "design choice", "s", 3)
    still_share_max: float = _set(
        0.5, "share of power without cadence above which the cadence sensor is not believed", "design choice", "", 0, 1
    )
    frozen_heart_rate: int = _set(
        1, "one heart rate that repeats for long is missing: 1 on, 0 off", "design choice", "", 0, 1
    )
    frozen_heart_rate_s: int = _set(300, "shortest such repeat, in active seconds", "design choice", "s", 60)
    heart_rate_on_cadence: int = _set(
        1, "heart rate that follows cadence beat by beat is missing: 1 on, 0 off", "design choice", "", 0, 1
    )
    lock_window_s: int = _set(
        60, "window over which heart rate and cadence are compared", "design choice", "s", 20, 600
    )
    lock_min_s: int = _set(120, "shortest time of following", "design choice", "s", 20)
    lock_bpm: float = _set(2, "furthest mean distance of the two", "design choice", "bpm", 0)
    lock_cadence_sd: float = _set(
        3, "least SD of cadence: what does not move cannot be followed", "design choice", "1/min", 0.5
    )
    lock_correlation: float = _set(0.9, "least correlation of the two", "design choice", "", 0, 1)
    altitude_leaps: int = _set(1, "sudden steps of altitude are taken out: 1 on, 0 off", "design choice", "", 0, 1)
    leap_m: float = _set(15, "least height of such a step", "design choice", "m", 1)
    leap_mps: float = _set(8, "least vertical speed of such a step", "design choice", "m/s", 1)
    derive_missing: int = _set(
        1,
        "speed is worked out from distance, or distance from speed, where one is absent: 1 on, 0 off",
        "design choice",
        "",
        0,
        1,
    )


@dataclass(frozen=True, slots=True)
class BandSettings:
    """Time in band (METHOD 3)."""

    window_s: int = _set(31, "centred mean for the band load", "design choice, S7", "s", 1, 301)
    walking_mps: float = _set(
        2.0, "speed under which a runner without an easy band is taken to walk", "common practice, no source", "m/s"
    )


@dataclass(frozen=True, slots=True)
class SurgeSettings:
    """Surges (METHOD 4)."""

    window_s: int = _set(3, "centred mean for the surge load", "design choice", "s", 1, 31)
    min_above_s: int = _set(5, "seconds above the ceiling that make a surge", "design choice", "s", 1)
    micro_max_s: int = _set(60, "longest micro-surge, in seconds above the ceiling", "design choice", "s", 1)
    carry_over_tau_s: float = _set(900, "time constant of the carry-over index", "design choice", "s", 1)
    restart_mps: float = _set(2.0, "a surge after a speed under this is a restart", "design choice", "m/s")
    restart_s: int = _set(15, "seconds before a surge searched for such a speed", "design choice", "s", 1, 600)
    climb_before_s: int = _set(10, "a surge up to so long before a climb belongs to its start", "design choice", "s")
    climb_after_s: int = _set(30, "and so does one up to so long after", "design choice", "s")
    crest_s: int = _set(20, "a surge within so long of a climb's top is at its crest", "design choice", "s")
    forced_share: float = _set(
        0.5, "share of its seconds above that the hill must force to call a surge forced", "design choice", "", 0, 1
    )


@dataclass(frozen=True, slots=True)
class TerrainSettings:
    """Grade from altitude and distance (METHOD 4.1)."""

    smooth_m: float = _set(30, "distance over which altitude is smoothed first", "design choice", "m", 1)
    slope_half_m: float = _set(30, "half window of the least-squares slope", "design choice, S10", "m", 1)
    grade_max: float = _set(0.45, "grade at which the running cost polynomial is held", "S5", "", 0, 1)
    climb_length_m: float = _set(300, "shortest climb", "design choice", "m", 30)
    climb_height_m: float = _set(10, "lowest climb", "design choice", "m", 1)
    climb_grade: float = _set(0.03, "least mean grade of a climb", "design choice", "", 0.005, 1)
    climb_foot_grade: float = _set(
        0.02, "grade under which the ends of a climb no longer belong to it", "design choice", "", 0, 1
    )
    dip_height_m: float = _set(10, "a dip this deep and as long as the next setting ends a climb", "design choice", "m")
    dip_length_m: float = _set(100, "length of such a dip", "design choice", "m")
    flat_length_m: float = _set(
        1000, "ground that rises less than the foot of a climb for so long ends it", "design choice", "m", 100
    )
    steepest_m: float = _set(100, "length over which the steepest part of a climb is told", "design choice", "m", 20)
    rise_grade: float = _set(0.03, "grade from which a surge outside a climb is on a rise", "design choice", "", 0, 1)
    descent_grade: float = _set(-0.02, "grade down to which it is on a descent", "design choice", "", -1, 0)
    slowest_mps: float = _set(1.5, "slowest sensible speed by bike", "design choice", "m/s", 0.5)
    cadence_floor: float = _set(60, "slowest sensible cadence, unless [bike] says", "design choice", "1/min", 20, 200)
    crr: float = _set(
        0.005, "coefficient of rolling resistance, unless [bike] says", "common practice, no source", "", 0, 0.1
    )
    cda_m2: float = _set(0.32, "drag area, unless [bike] says", "common practice, no source", "m²", 0.05, 2)
    air_kg_m3: float = _set(1.2, "density of the air", "common practice, no source", "kg/m³", 0.5, 2)
    slow_run_mps: float = _set(
        2.0, "slowest running speed, where running passes into walking", "common practice, no source", "m/s", 0.5, 4
    )
    walk_mps: float = _set(
        1.0,
        "steady walking speed on steep ground, for the grade up to which walking stays in the band",
        "common practice, no source",
        "m/s",
        0.3,
        3,
    )
    walk_cadence: float = _set(
        70, "turns a minute of one leg from which feet run", "common practice, no source", "1/min", 30, 120
    )
    price_within: float = _set(
        0.05,
        "largest error of the modelled time with which the price of riding smooth is shown",
        "design choice",
        "",
        0,
        1,
    )


@dataclass(frozen=True, slots=True)
class DriftSettings:
    """Drift within a session (METHOD 6)."""

    window_s: int = _set(600, "trailing mean of the load drift", "design choice", "s", 60)
    flag_s: int = _set(300, "longest drifted run that is flagged", "design choice", "s", 1)
    skip_s: int = _set(600, "warm-up left out of trend and heart-rate drift", "S7", "s")
    bin_s: int = _set(300, "length of the means behind the trend", "design choice", "s", 10)
    hr_min_s: int = _set(2400, "shortest time for which heart-rate drift is judged", "design choice", "s", 60)
    hr_load_within: float = _set(0.10, "largest difference of the half-mean loads", "design choice", "", 0, 1)
    hr_drift_percent: float = _set(
        5.0, "heart-rate drift that is flagged", "common practice, no published cut-off", "%"
    )
    hr_above_s: int = _set(300, "seconds of heart rate above the test that are flagged", "design choice", "s", 1)
    hr_above_share: float = _set(0.10, "share of heart rate above the test that is flagged", "design choice", "", 0, 1)


@dataclass(frozen=True, slots=True)
class VerdictSettings:
    """When a session leaves the band (METHOD 7)."""

    heavy_share: float = _set(0.10, "heavy share that is too high", "design choice", "", 0, 1)
    micro_per_hour: float = _set(10, "micro-surges per active hour that are a finding", "design choice", "1/h")
    share_above: float = _set(
        0.03, "share of active time above the ceiling that is a finding", "design choice", "", 0, 1
    )
    easy_share: float = _set(0.60, "easy share that is too low when steady was intended", "design choice", "", 0, 1)
    steady_share: float = _set(0.25, "steady share that is a finding when easy was intended", "design choice", "", 0, 1)
    active_min_s: int = _set(1200, "shortest active time that is judged", "design choice", "s", 1)
    unmeasured_share: float = _set(0.20, "unmeasured share above which nothing is judged", "design choice", "", 0, 1)
    unsure_below: float = _set(0.70, "agreement under which the wording says unsure", "design choice", "", 0, 1)
    places: int = _set(5, "most places named as evidence", "design choice", "", 1, 50)


@dataclass(frozen=True, slots=True)
class BlockSettings:
    """Block drift, the check of the test, and what the block review says (METHOD 6 and 8)."""

    reference_sessions: int = _set(8, "sessions behind the first reference of a block chart", "METHOD 6", "", 3, 100)
    reference_lag: int = _set(
        10,
        "latest sessions kept out of the reference, so that a creep cannot move it",
        "design choice, simulated",
        "",
        1,
    )
    allowance_sds: float = _set(0.5, "allowance k of the block chart, in SD of the reference", "S6", "SD", 0, 5)
    creep_sds: float = _set(4.2, "limit h of the rising sum", "design choice, simulated; S6 uses 5", "SD", 1, 50)
    fall_sds: float = _set(5.0, "limit h of the falling sum", "S6", "SD", 1, 50)
    sd_floor: float = _set(0.03, "smallest SD of mean load over target top", "METHOD 6", "", 0.001, 1)
    break_days: int = _set(21, "days without an endurance session that restart the chart", "design choice", "days", 1)
    trend_days: int = _set(28, "days behind the trend of the sessions that held the band", "design choice", "days", 7)
    trend_sessions: int = _set(6, "fewest sessions behind that trend", "design choice", "", 4)
    trend_rise: float = _set(
        0.025, "smallest rise over target top that is mentioned", "design choice, simulated", "", 0, 1
    )
    stretch_s: int = _set(600, "length of a steady stretch", "METHOD 6", "s", 60)
    stretch_share: float = _set(0.7, "share of a stretch that must be steady", "design choice", "", 0, 1)
    stretch_from_s: int = _set(600, "warm-up left out before steady stretches", "S7", "s")
    stretch_until_s: int = _set(
        4200, "a steady stretch ends before this: later heart rate drifts by itself", "design choice, S7", "s", 600
    )
    fit_days: int = _set(28, "days of sessions that the test is checked against", "design choice", "days", 7)
    fit_sessions: int = _set(4, "fewest sessions behind that check", "design choice", "", 3)
    fit_wide_bpm: float = _set(8.0, "an interval wider than this each side tells nothing", "design choice", "bpm", 1)
    fit_same_bpm: float = _set(
        3.0, "a mean shift under this is no shift: limits are whole beats read off a display", "design choice", "bpm"
    )
    hot_c: float = _set(25.0, "mean temperature from which a session counts as hot", "design choice", "°C", -50, 60)
    increase_percent: float = _set(15.0, "weekly increase that is mentioned", "common practice: 10 to 15 %", "%", 0)
    forced_share: float = _set(0.25, "forced share of the surges that makes hills a limiter", "design choice", "", 0, 1)
    unsure_share: float = _set(0.25, "unsure share of the verdicts that questions the test", "design choice", "", 0, 1)
    steady_share: float = _set(0.10, "steady share of the time that is called little", "design choice", "", 0, 1)
    hr_between_sports: float = _set(
        15.0, "heart rate at the ceiling this far under the other sport's is a limiter", "design choice", "bpm", 0
    )


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings, by group."""

    steptest: StepTestSettings = field(default_factory=StepTestSettings)
    grid: GridSettings = field(default_factory=GridSettings)
    cleaning: CleaningSettings = field(default_factory=CleaningSettings)
    bands: BandSettings = field(default_factory=BandSettings)
    surges: SurgeSettings = field(default_factory=SurgeSettings)
    terrain: TerrainSettings = field(default_factory=TerrainSettings)
    drift: DriftSettings = field(default_factory=DriftSettings)
    verdict: VerdictSettings = field(default_factory=VerdictSettings)
    block: BlockSettings = field(default_factory=BlockSettings)

    @classmethod
    def from_mapping(cls, table: Mapping[str, Any], file: str = "athlete.toml") -> Settings:
        """Settings with the groups of `table` laid over the defaults.

        Raises AthleteFileError naming group, key, expected and found.
        """
        groups = {item.name: item for item in dataclasses.fields(cls)}
        changed: dict[str, Any] = {}
        for name, values in table.items():
            if name not in groups or not isinstance(values, Mapping):
                raise AthleteFileError(
                    f"expected a settings group, one of {', '.join(groups)}; found {name!r}.",
                    file=file,
                    place=f"[settings.{name}]",
                )
            group = getattr(cls(), name)
            checked = {key: _checked(group, name, key, value, file) for key, value in values.items()}
            changed[name] = dataclasses.replace(group, **checked)
        return cls(**changed)

    def rows(self) -> Iterator[tuple[str, float, float, str, str, str]]:
        """(name, value, default, unit, meaning, source) of every setting."""
        for group in dataclasses.fields(self):
            values = getattr(self, group.name)
            for item in dataclasses.fields(values):
                meta = item.metadata
                yield (
                    f"{group.name}.{item.name}",
                    getattr(values, item.name),
                    item.default,  # type: ignore[misc]
                    meta["unit"],
                    meta["meaning"],
                    meta["source"],
                )


def _checked(group: Any, name: str, key: str, value: object, file: str) -> float:
    place = f"[settings.{name}] {key}"
    known = {item.name: item for item in dataclasses.fields(group)}
    if key not in known:
        raise AthleteFileError(f"no such setting; known here: {', '.join(known)}.", file=file, place=place)
    item = known[key]
    whole = isinstance(item.default, int)
    if isinstance(value, bool) or not isinstance(value, int if whole else (int, float)):
        wanted = "a whole number" if whole else "a number"
        raise AthleteFileError(f"expected {wanted}, found {value!r}.", file=file, place=place)
    low, high = item.metadata["low"], item.metadata["high"]
    if not low <= value <= high:
        raise AthleteFileError(f"expected {low:g} to {high:g}, found {value}.", file=file, place=place)
    return value
