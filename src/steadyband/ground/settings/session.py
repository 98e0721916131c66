"""Settings of one session: rows, cleaning, bands, surges, ground, drift, verdict (METHOD 2 to 7)."""

from __future__ import annotations

from dataclasses import dataclass

from steadyband.ground.settings.setting import setting


@dataclass(frozen=True, slots=True)
class GridSettings:
    """From records to one-second rows (METHOD 2)."""

    hold_s: int = setting(10, "longest distance between two records that is bridged", "design choice", "s", 1, 600)
    power_max_w: float = setting(2500, "power above this is missing", "design choice", "W", 100)
    heart_rate_min_bpm: float = setting(25, "heart rate below this is missing", "design choice", "bpm")
    heart_rate_max_bpm: float = setting(230, "heart rate above this is missing", "design choice", "bpm")
    moving_mps: float = setting(0.5, "speed from which a second is active", "design choice", "m/s")
    coast_s: int = setting(
        60,
        "longest time without power between pedalling that is coasting where speed is not known",
        "design choice",
        "s",
    )
    max_day_shift_s: float = setting(
        86400, "records that a break longer than this parts from the file's own start are dropped", "design choice", "s"
    )


@dataclass(frozen=True, slots=True)
class CleaningSettings:
    """Faults of devices taken out of the rows (METHOD 2); a rule is on at 1 and off at 0."""

    power_spikes: int = setting(
        1, "isolated peaks of power take the second before them: 1 on, 0 off", "design choice", "", 0, 1
    )
    spike_max_s: int = setting(
        2, "longest such peak; a surge lasts longer and is never one", "design choice", "s", 1, 3
    )
    spike_times: float = setting(
        3, "least height over the highest second around it, as a multiple", "design choice", "", 1.5
    )
    spike_over_w: float = setting(500, "least height over the highest second around it", "design choice", "W", 100)
    around_s: int = setting(5, "seconds looked at on either side of a peak or a zero", "design choice", "s", 2, 30)
    power_dropouts: int = setting(
        1,
        "isolated zeros of power amid even pedalling take the second before them: 1 on, 0 off",
        "design choice",
        "",
        0,
        1,
    )
    dropout_max_s: int = setting(2, "longest such run of zeros", "design choice", "s", 1, 3)
    steady_share: float = setting(
        0.30, "furthest from their median that power and cadence may be around such zeros", "design choice", "", 0.01, 1
    )
    frozen_power: int = setting(
        1, "one power that repeats while the cranks are at rest is missing: 1 on, 0 off", "design choice", "", 0, 1
    )
    frozen_power_s: int = setting(10, "shortest such repeat", "design choice", "s", 3)
    still_share_max: float = setting(
        0.5, "share of power without cadence above which the cadence sensor is not believed", "design choice", "", 0, 1
    )
    frozen_heart_rate: int = setting(
        1, "one heart rate that repeats for long is missing: 1 on, 0 off", "design choice", "", 0, 1
    )
    frozen_heart_rate_s: int = setting(300, "shortest such repeat, in active seconds", "design choice", "s", 60)
    heart_rate_on_cadence: int = setting(
        1, "heart rate that follows cadence beat by beat is missing: 1 on, 0 off", "design choice", "", 0, 1
    )
    lock_window_s: int = setting(
        60, "window over which heart rate and cadence are compared", "design choice", "s", 20, 600
    )
    lock_min_s: int = setting(120, "shortest time of following", "design choice", "s", 20)
    lock_bpm: float = setting(2, "furthest mean distance of the two", "design choice", "bpm", 0)
    lock_cadence_sd: float = setting(
        3, "least SD of cadence: what does not move cannot be followed", "design choice", "1/min", 0.5
    )
    lock_correlation: float = setting(0.9, "least correlation of the two", "design choice", "", 0, 1)
    altitude_leaps: int = setting(1, "sudden steps of altitude are taken out: 1 on, 0 off", "design choice", "", 0, 1)
    leap_m: float = setting(15, "least height of such a step", "design choice", "m", 1)
    leap_mps: float = setting(8, "least vertical speed of such a step", "design choice", "m/s", 1)
    impossible_track: int = setting(
        1, "impossible positions, distances and speeds are missing: 1 on, 0 off", "design choice", "", 0, 1
    )
    fastest_cycling_mps: float = setting(
        35, "nobody rides faster (126 km/h)", "common practice, no source", "m/s", 5, 100
    )
    fastest_foot_mps: float = setting(
        11, "nobody runs or walks faster (40 km/h)", "common practice, no source", "m/s", 3, 100
    )
    fastest_other_mps: float = setting(
        50, "nobody is faster in other sports (180 km/h)", "design choice", "m/s", 3, 500
    )
    sudden_cycling_mps2: float = setting(
        7,
        "speed by bike cannot change faster, up and down again within the time below",
        "common practice, no source",
        "m/s²",
        1,
    )
    sudden_foot_mps2: float = setting(5, "nor on foot faster than this", "common practice, no source", "m/s²", 1)
    sudden_s: float = setting(10, "longest such peak or dip", "design choice", "s", 1, 60)
    astray_s: float = setting(
        60, "places that the track jumps to and back from are missing unless it stays longer", "design choice", "s", 1
    )
    derive_missing: int = setting(
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

    window_s: int = setting(31, "centred mean for the band load", "design choice, S7", "s", 1, 301)
    walking_mps: float = setting(
        2.0, "speed under which a runner without an easy band is taken to walk", "common practice, no source", "m/s"
    )


@dataclass(frozen=True, slots=True)
class SurgeSettings:
    """Surges (METHOD 4)."""

    window_s: int = setting(11, "centred mean for the surge load", "design choice, simulated", "s", 1, 61)
    dose_s: float = setting(
        1.5,
        "least work above the ceiling that makes a surge, in seconds' worth of the ceiling",
        "design choice, simulated",
        "s",
        0.1,
        60,
    )
    micro_max_s: int = setting(60, "longest micro-surge, in seconds above the ceiling", "design choice", "s", 1)
    restart_mps: float = setting(2.0, "a surge after a speed under this is a restart", "design choice", "m/s")
    restart_s: int = setting(15, "seconds before a surge searched for such a speed", "design choice", "s", 1, 600)
    climb_before_s: int = setting(10, "a surge up to so long before a climb belongs to its start", "design choice", "s")
    climb_after_s: int = setting(30, "and so does one up to so long after", "design choice", "s")
    crest_s: int = setting(20, "a surge within so long of a climb's top is at its crest", "design choice", "s")
    forced_share: float = setting(
        0.5, "share of its seconds above that the hill must force to call a surge forced", "design choice", "", 0, 1
    )


@dataclass(frozen=True, slots=True)
class TerrainSettings:
    """Grade from altitude and distance (METHOD 4.1)."""

    smooth_m: float = setting(30, "distance over which altitude is smoothed first", "design choice", "m", 1)
    slope_half_m: float = setting(30, "half window of the least-squares slope", "design choice, S10", "m", 1)
    grade_max: float = setting(0.45, "grade at which the running cost polynomial is held", "S5", "", 0, 1)
    climb_length_m: float = setting(300, "shortest climb", "design choice", "m", 30)
    climb_height_m: float = setting(10, "lowest climb", "design choice", "m", 1)
    climb_grade: float = setting(0.03, "least mean grade of a climb", "design choice", "", 0.005, 1)
    climb_foot_grade: float = setting(
        0.02, "grade under which the ends of a climb no longer belong to it", "design choice", "", 0, 1
    )
    dip_height_m: float = setting(
        10, "a dip this deep and as long as the next setting ends a climb", "design choice", "m"
    )
    dip_length_m: float = setting(100, "length of such a dip", "design choice", "m")
    flat_length_m: float = setting(
        1000, "ground that rises less than the foot of a climb for so long ends it", "design choice", "m", 100
    )
    steepest_m: float = setting(100, "length over which the steepest part of a climb is told", "design choice", "m", 20)
    rise_grade: float = setting(
        0.03, "grade from which a surge outside a climb is on a rise", "design choice", "", 0, 1
    )
    descent_grade: float = setting(-0.02, "grade down to which it is on a descent", "design choice", "", -1, 0)
    slowest_mps: float = setting(1.5, "slowest sensible speed by bike", "design choice", "m/s", 0.5)
    cadence_floor: float = setting(
        60, "slowest sensible cadence, unless [bike] says", "design choice", "1/min", 20, 200
    )
    crr: float = setting(
        0.005, "coefficient of rolling resistance, unless [bike] says", "common practice, no source", "", 0, 0.1
    )
    cda_m2: float = setting(0.32, "drag area, unless [bike] says", "common practice, no source", "m²", 0.05, 2)
    air_kg_m3: float = setting(1.2, "density of the air", "common practice, no source", "kg/m³", 0.5, 2)
    slow_run_mps: float = setting(
        2.0, "slowest running speed, where running passes into walking", "common practice, no source", "m/s", 0.5, 4
    )
    walk_mps: float = setting(
        1.0,
        "steady walking speed on steep ground, for the grade up to which walking stays in the band",
        "common practice, no source",
        "m/s",
        0.3,
        3,
    )
    walk_cadence: float = setting(
        70, "turns a minute of one leg from which feet run", "common practice, no source", "1/min", 30, 120
    )
    price_within: float = setting(
        0.05,
        "largest error of the modelled time with which the price of riding smooth is shown",
        "design choice",
        "",
        0,
        1,
    )
    both_legs: float = setting(
        120,
        "a median cadence above this counts the steps of both legs, and is halved",
        "common practice, no source",
        "1/min",
        60,
        300,
    )
    untrusted_m: float = setting(
        10, "leap or drift of the altimeter from which it is told about", "design choice", "m", 1
    )
    same_ends_m: float = setting(
        60, "two climbs are the same where foot and top lie this near", "design choice", "m", 1
    )
    same_direction_deg: float = setting(
        30, "and the way from foot to top points the same way within this", "design choice", "deg", 0, 180
    )
    same_length: float = setting(
        0.10,
        "and their lengths differ by at most this share, or by what both ends may be out",
        "design choice",
        "",
        0,
        1,
    )
    descent_mps: float = setting(
        12.5,
        "highest speed by bike downhill on a planned way, where brakes and bends are not known",
        "design choice",
        "m/s",
        2,
        40,
    )
    downhill_gain: float = setting(
        1.3,
        "downhill a run goes no faster than this times its flat speed: the cost of running alone would double it",
        "design choice",
        "",
        1,
        3,
    )
    walk_most_mps: float = setting(1.8, "fastest walk on a planned way", "common practice, no source", "m/s", 0.5, 3)
    forced_least_m: float = setting(
        30, "shorter stretches of a planned way are not told apart: the window of the slope", "design choice", "m", 1
    )


@dataclass(frozen=True, slots=True)
class FootSettings:
    """By foot: how far altimeter and speed are believed (METHOD 5)."""

    grade_good: float = setting(
        0.005,
        "error of the grade from which the slope is taken over longer stretches: half a point, some 3 % of the load",
        "design choice",
        "",
        0.001,
        0.1,
    )
    grade_most: float = setting(
        0.008, "error of the grade beyond which surges are noise", "design choice, simulated", "", 0.001, 0.2
    )
    slope_half_most_m: float = setting(
        180, "longest half window of the slope: over more, hills would be flattened", "design choice", "m", 1, 1000
    )
    wander_s: float = setting(40, "time over which an altimeter forgets its error", "design choice", "s", 5, 600)
    speed_good: float = setting(
        0.15,
        "scatter of the speed from second to second, as a share of it, beyond which surges are noise",
        "design choice, simulated",
        "",
        0.01,
        1,
    )


@dataclass(frozen=True, slots=True)
class DriftSettings:
    """Drift within a session (METHOD 6)."""

    window_s: int = setting(600, "trailing mean of the load drift", "design choice", "s", 60)
    skip_s: int = setting(600, "warm-up left out of trend and heart-rate drift", "S7", "s")
    bin_s: int = setting(300, "length of the means behind the trend", "design choice", "s", 10)
    bins_min: int = setting(
        3, "fewest such means behind a trend: two points always lie on a line", "design choice", "", 3, 100
    )
    hr_min_s: int = setting(2400, "shortest time for which heart-rate drift is judged", "design choice", "s", 60)
    hr_load_within: float = setting(0.10, "largest difference of the half-mean loads", "design choice", "", 0, 1)
    hr_drift_percent: float = setting(
        5.0, "heart-rate drift that is flagged", "common practice, no published cut-off", "%"
    )
    hr_above_s: int = setting(300, "seconds of heart rate above the test that are flagged", "design choice", "s", 1)
    hr_above_share: float = setting(
        0.10, "share of heart rate above the test that is flagged", "design choice", "", 0, 1
    )


@dataclass(frozen=True, slots=True)
class VerdictSettings:
    """When a session leaves the band (METHOD 7)."""

    surges_per_hour: float = setting(
        6,
        "surges per active hour that are a finding, if the work above the ceiling reaches the next setting too",
        "design choice, simulated",
        "1/h",
    )
    surges_beyond_s: float = setting(
        10,
        "work above the ceiling beyond what scatter explains, in seconds' worth of the ceiling per active hour",
        "design choice, simulated",
        "s/h",
    )
    surges_alone_s: float = setting(
        30, "the same, from which it is a finding however few the surges", "design choice, simulated", "s/h"
    )
    easy_share: float = setting(0.60, "easy share that is too low when steady was intended", "design choice", "", 0, 1)
    steady_share: float = setting(
        0.25, "steady share that is a finding when easy was intended", "design choice", "", 0, 1
    )
    active_min_s: int = setting(1200, "shortest active time that is judged", "design choice", "s", 1)
    unmeasured_share: float = setting(0.20, "unmeasured share above which nothing is judged", "design choice", "", 0, 1)
    unsure_below: float = setting(0.70, "agreement under which the wording says unsure", "design choice", "", 0, 1)
    places: int = setting(5, "most places named as evidence", "design choice", "", 1, 50)
    causes_named: int = setting(3, "most causes of surges named in a sentence", "design choice", "", 1, 8)
