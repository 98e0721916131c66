"""Defaults of the block review: value, unit, meaning, where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from steadyband.settings import _set


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
    hot_c: float = _set(25.0, "mean temperature from which a session counts as hot", "design choice", "C", -50, 60)
    increase_percent: float = _set(15.0, "weekly increase that is mentioned", "common practice: 10 to 15 %", "%", 0)
    forced_share: float = _set(0.25, "forced share of the surges that makes hills a limiter", "design choice", "", 0, 1)
    unsure_share: float = _set(0.25, "unsure share of the verdicts that questions the test", "design choice", "", 0, 1)
    steady_share: float = _set(0.10, "steady share of the time that is called little", "design choice", "", 0, 1)
    hr_between_sports: float = _set(
        15.0, "heart rate at the ceiling this far under the other sport's is a limiter", "design choice", "bpm", 0
    )
    long_session_s: int = _set(7200, "from this length a session counts as long", "design choice", "s", 1800)


BLOCK = BlockSettings()
