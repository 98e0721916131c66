"""Settings of the step test (METHOD 1)."""

from __future__ import annotations

from dataclasses import dataclass

from steadyband.ground.settings.setting import setting


@dataclass(frozen=True, slots=True)
class StepTestSettings:
    """Quality checks, curve, edges and uncertainty of the step test (METHOD 1)."""

    baseline_max: float = setting(1.5, "highest baseline lactate a test may start from", "common practice", "mmol/L")
    flat_steps_min: int = setting(3, "flat steps wanted before the first rise", "common practice", "steps", 1, 20)
    step_height_advised: float = setting(0.25, "advised step height by bike", "common practice", "W/kg")
    step_height_max: float = setting(0.35, "step height that warns", "common practice", "W/kg")
    step_minutes_advised: float = setting(10, "advised step length", "S2", "min")
    step_minutes_min: float = setting(5, "step length under which a warning is given", "S2", "min")
    suspect_share: float = setting(
        0.5, "chance of being a bad drop at which a sample is called suspect", "design choice, measured", "", 0, 1
    )
    suspect_share_moving: float = setting(
        0.04, "the same for a sample that would move an edge", "design choice, measured", "", 0, 1
    )
    suspect_share_alone: float = setting(
        0.12, "the same where it is the only sample of its step", "design choice, measured", "", 0, 1
    )
    suspect_asked: float = setting(
        0.3, "the same while the test lasts, when another sample is cheap", "design choice", "", 0, 1
    )
    suspect_moves: float = setting(
        0.05, "how far that is, as a share of the last load", "design choice: 10 W of 200", "", 0, 1
    )
    stop_sure: float = setting(
        0.9, "chance that the ceiling is passed at which a test may stop", "design choice", "", 0.5, 1
    )
    repeatability: float = setting(
        2.8,
        "rise of the first step over the baseline alone, in analyser SD: the repeatability limit",
        "ISO 5725-6, from memory",
        "SD",
    )
    rise_within_step: float = setting(0.5, "rise inside one step that shows it is heavy", "design choice", "mmol/L")
    sd_floor: float = setting(0.18, "smallest analyser SD", "S1", "mmol/L", 0.001)
    sd_fraction: float = setting(0.06, "analyser SD as a fraction of the reading", "S1", "", 0, 1)
    rise: float = setting(0.3, "rise above the flat part at the floor", "design choice, S1", "mmol/L", 0.01)
    target_rise: float = setting(
        0.65,
        "rise above the flat part at the target top: half way from floor to ceiling",
        "design choice",
        "mmol/L",
        0.01,
    )
    ceiling_rise: float = setting(1.0, "rise above the flat part at the ceiling", "S2", "mmol/L", 0.01)
    lactate_low: float = setting(0.3, "lowest lactate taken as a reading", "design choice", "mmol/L")
    lactate_high: float = setting(30.0, "highest lactate taken as a reading", "design choice", "mmol/L")
    draws: int = setting(2000, "curves drawn behind every range and agreement", "design choice", "", 100, 100000)
    seed: int = setting(20260420, "seed of the curves: the same file gives the same answer", "design choice")
    range_share: float = setting(0.8, "share of the draws inside a stated range", "design choice", "", 0.1, 0.99)
    ageing_days: int = setting(56, "test age called ageing", "common practice", "days", 1)
    stale_days: int = setting(112, "test age called stale", "common practice", "days", 1)
    before_first_days: int = setting(
        42,
        "sessions up to so long before a sport's first test are judged by it; 0: none are",
        "design choice: sooner than a test is called ageing",
        "days",
        0,
        112,
    )
