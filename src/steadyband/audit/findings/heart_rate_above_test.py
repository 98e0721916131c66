"""Heart rate ran above the test's while the load was below the ceiling (METHOD 6 and 7)."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.heart_rate_drift import heat
from steadyband.audit.findings.rule import Rule
from steadyband.audit.measure.drift import heart_rate_above, heart_rate_above_counts
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """Above the test's limit for long enough, in seconds and as a share, while the load was below the ceiling."""
    total = _with_heart_rate(facts)
    if facts.arrays.channel == "heart_rate" or not total:
        return np.zeros(len(sets), bool)
    seconds, limits = heart_rate_above_counts(facts.arrays, sets), settings.drift
    return (seconds >= limits.hr_above_s) & (seconds / total >= limits.hr_above_share)


def _with_heart_rate(facts: Facts) -> int:
    return int(np.count_nonzero(facts.arrays.active & ~np.isnan(facts.arrays.heart_rate)))


def evidence(facts: Facts) -> dict[str, Any]:
    """How long, which share, the limit, and the longest such runs."""
    seconds, limit = facts.drift.hr_above_test_s or 0, float(facts.sets.hr_ceiling[0])
    return {
        "hr_above_test_s": seconds,
        "share": seconds / _with_heart_rate(facts),
        "hr_ceiling_bpm": limit,
        "places": facts.longest_runs(heart_rate_above(facts.arrays, facts.edges.ceiling, limit)),
        **heat(facts),
    }


RULE = Rule(
    "heart_rate_above_test",
    50,
    ("endurance", "easy"),
    ("drift.hr_above_s", "drift.hr_above_share", "bands.window_s", "block.hot_c"),
    raised,
    evidence,
)
