"""Heart rate drifted up against the load (METHOD 6 and 7)."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.measure.drift import heart_rate_drift
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """Heart rate against load rose by more than the flagged percentage from half to half, whatever the edges."""
    found = heart_rate_drift(facts.arrays, settings.drift)
    return np.full(len(sets), found is not None and found.percent > settings.drift.hr_drift_percent)


def evidence(facts: Facts) -> dict[str, Any]:
    """The rise, heart rate and load of both halves, and the temperature where it is known."""
    found = heart_rate_drift(facts.arrays, facts.settings.drift)
    if found is None:
        return {"places": []}
    return {
        "hr_drift_percent": found.percent,
        "hr_first_half_bpm": found.hr_first,
        "hr_second_half_bpm": found.hr_second,
        "load_first_half": found.load_first,
        "load_second_half": found.load_second,
        "places": [],
        **heat(facts),
    }


def heat(facts: Facts) -> dict[str, float]:
    """The session's mean temperature [C] where the device tells it."""
    return {} if facts.temperature_c is None else {"temperature_c": facts.temperature_c}


RULE = Rule(
    "heart_rate_drift",
    40,
    ("endurance", "easy"),
    ("drift.hr_drift_percent", "drift.skip_s", "drift.hr_min_s", "drift.hr_load_within", "block.hot_c"),
    raised,
    evidence,
)
