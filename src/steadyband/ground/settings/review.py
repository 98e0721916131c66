"""Settings of many sessions: block drift, the check of the test, guesses, copies of one session (METHOD 6 and 8)."""

from __future__ import annotations

from dataclasses import dataclass

from steadyband.ground.settings.setting import setting


@dataclass(frozen=True, slots=True)
class BlockSettings:
    """Block drift, the check of the test, and what the block review says (METHOD 6 and 8)."""

    reference_sessions: int = setting(8, "sessions behind the first reference of a block chart", "METHOD 6", "", 3, 100)
    reference_lag: int = setting(
        10,
        "latest sessions kept out of the reference, so that a creep cannot move it",
        "design choice, simulated",
        "",
        1,
    )
    allowance_sds: float = setting(0.5, "allowance k of the block chart, in SD of the reference", "S6", "SD", 0, 5)
    creep_sds: float = setting(4.2, "limit h of the rising sum", "design choice, simulated; S6 uses 5", "SD", 1, 50)
    fall_sds: float = setting(5.0, "limit h of the falling sum", "S6", "SD", 1, 50)
    sd_floor: float = setting(0.03, "smallest SD of mean load over target top", "METHOD 6", "", 0.001, 1)
    break_days: int = setting(
        21, "days without an endurance session that restart the chart", "design choice", "days", 1
    )
    trend_days: int = setting(
        28, "days behind the trend of the sessions that held the band", "design choice", "days", 7
    )
    trend_sessions: int = setting(6, "fewest sessions behind that trend", "design choice", "", 4)
    trend_rise: float = setting(
        0.025, "smallest rise over target top that is mentioned", "design choice, simulated", "", 0, 1
    )
    stretch_s: int = setting(600, "length of a steady stretch", "METHOD 6", "s", 60)
    stretch_share: float = setting(0.7, "share of a stretch that must be steady", "design choice", "", 0, 1)
    stretch_from_s: int = setting(600, "warm-up left out before steady stretches", "S7", "s")
    stretch_until_s: int = setting(
        4200, "a steady stretch ends before this: later heart rate drifts by itself", "design choice, S7", "s", 600
    )
    fit_days: int = setting(28, "days of sessions that the test is checked against", "design choice", "days", 7)
    fit_sessions: int = setting(4, "fewest sessions behind that check", "design choice", "", 3)
    fit_wide_bpm: float = setting(8.0, "an interval wider than this each side tells nothing", "design choice", "bpm", 1)
    fit_same_bpm: float = setting(
        3.0, "a mean shift under this is no shift: limits are whole beats read off a display", "design choice", "bpm"
    )
    hot_c: float = setting(25.0, "mean temperature from which a session counts as hot", "design choice", "°C", -50, 60)
    increase_percent: float = setting(15.0, "weekly increase that is mentioned", "common practice: 10 to 15 %", "%", 0)
    forced_share: float = setting(
        0.25, "forced share of the surges that makes hills a limiter", "design choice", "", 0, 1
    )
    unsure_share: float = setting(
        0.25, "unsure share of the verdicts that questions the test", "design choice", "", 0, 1
    )
    steady_share: float = setting(0.10, "steady share of the time that is called little", "design choice", "", 0, 1)
    hr_between_sports: float = setting(
        15.0, "heart rate at the ceiling this far under the other sport's is a limiter", "design choice", "bpm", 0
    )
    hr_mean_s: int = setting(
        31,
        "heart rate of a steady stretch is its highest mean over so long, like the highest heart rate of a step",
        "design choice",
        "s",
        1,
        600,
    )
    hr_known: float = setting(0.9, "share of a stretch for which heart rate must be known", "design choice", "", 0.1, 1)
    hot_named: int = setting(3, "most hot days named by date", "design choice", "", 1, 50)
    durability_sessions: int = setting(3, "fewest sessions behind a word on durability", "design choice", "", 1)
    durability_trend_sessions: int = setting(
        6, "fewest sessions behind a trend of heart-rate drift with length", "design choice", "", 4
    )
    short_week_s: int = setting(
        7200,
        "after a week with less active time no increase is mentioned: a percentage of little says little",
        "design choice",
        "s",
    )
    same_share: float = setting(
        0.05, "weeks whose active time differs by no more are called much the same", "design choice", "", 0, 1
    )
    heavy_change: float = setting(
        0.02, "change of the share above the ceiling from week to week that is mentioned", "design choice", "", 0, 1
    )
    surge_change: float = setting(
        1.0, "change of the surges an hour from week to week that is mentioned", "design choice", "1/h"
    )
    plan_within: float = setting(
        0.10, "share of the planned hours that easy and steady may miss them by", "design choice", "", 0, 1
    )
    decisions: int = setting(6, "most decisions listed: more are not made in five minutes", "design choice", "", 1, 50)
    gap_weeks: int = setting(
        3, "more weeks than this without a session are told in one line of the season", "design choice", "", 0
    )


@dataclass(frozen=True, slots=True)
class GuessSettings:
    """What a session nobody labelled looks like: intervals, hard as a whole, easy; and the repeats of a hard one (METHOD 7.1, 8)."""

    effort_min_s: int = setting(
        60, "shortest effort of an interval session, above the ceiling", "design choice", "s", 1
    )
    repeat_min_s: int = setting(
        40,
        "shortest effort told as a repeat of a session labelled hard, a test or a race: shorter ones run into each other in the "
        "mean that they are found by",
        "design choice",
        "s",
        31,
        600,
    )
    dip_s: int = setting(15, "a dip below the ceiling up to so long does not end an effort", "design choice", "s")
    efforts_min: int = setting(3, "fewest efforts of an interval session", "design choice", "", 2)
    total_min_s: int = setting(360, "shortest sum of its efforts", "design choice", "s", 1)
    alike_length: float = setting(
        0.25, "efforts alike differ from their median length by at most this share", "design choice", "", 0, 1
    )
    alike_share: float = setting(
        0.75, "share of the efforts that must be alike, and of the breaks that must be easy", "design choice", "", 0, 1
    )
    above_ceiling: float = setting(
        1.08,
        "least median load of the efforts over the ceiling: hills ridden a little too hard stay below it",
        "design choice",
        "",
        1,
        5,
    )
    eased: float = setting(
        0.85, "load over the ceiling that a break between efforts falls to", "design choice", "", 0, 1
    )
    hard_share: float = setting(
        0.5, "share above the ceiling from which a session is hard as a whole", "design choice", "", 0, 1
    )
    easy_share: float = setting(
        0.80,
        "share of the active time below the floor from which a session nobody labelled is taken as easy",
        "design choice",
        "",
        0.5,
        1,
    )


@dataclass(frozen=True, slots=True)
class CopySettings:
    """One session in several files, and one session split over two."""

    overlap: float = setting(
        0.8, "share of the shorter recording that must lie within the other", "design choice", "", 0, 1
    )
    track_m: float = setting(
        200,
        "median distance of two tracks at the same minute up to which they are one: clocks differ by some seconds",
        "design choice",
        "m",
    )
    heart_bpm: float = setting(
        3, "median difference of heart rate up to which two recordings are of one body", "design choice", "bpm"
    )
    load_share: float = setting(
        0.05,
        "the same for power and speed, as a share: two meters differ by a few percent",
        "design choice",
        "",
        0,
        1,
    )
    moment_s: float = setting(
        60, "starts and ends this near are the same moment, where nothing else can be compared", "design choice", "s"
    )
    much_longer: float = setting(
        1.5, "a recording so many times longer is kept whatever else speaks for the other", "design choice", "", 1
    )
    join_s: float = setting(1800, "longest break between two parts of one session", "design choice", "s")
    join_m: float = setting(300, "longest way between two parts of one session", "design choice", "m")
