"""The session as a whole was too high (METHOD 7)."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.model import HEAVY, SEVERE
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """Mean band load at or above the ceiling; parts of a session above it are for surges and drift to find."""
    high: BoolArray = mean_band_load(facts) >= sets.ceiling
    return high


def mean_band_load(facts: Facts) -> float:
    """Mean band load over the judged seconds [W, m/s or bpm]."""
    return float(np.mean(facts.arrays.band_load[facts.arrays.judged]))


def evidence(facts: Facts) -> dict[str, Any]:
    """Mean, ceiling, heavy share, and the longest heavy runs; how much of a longer session that is, by heart rate alone."""
    judged, measured = (int(np.count_nonzero(each)) for each in (facts.arrays.judged, facts.arrays.measured))
    return {
        **({"judged_s": judged} if judged < measured else {}),
        "mean_band_load": mean_band_load(facts),
        "ceiling": facts.edges.ceiling,
        "heavy_share": facts.share_in(HEAVY, SEVERE),
        "places": facts.longest_runs(facts.in_bands(HEAVY, SEVERE)),
    }


RULE = Rule("too_high", 10, ("endurance", "easy"), ("bands.window_s",), raised, evidence)
