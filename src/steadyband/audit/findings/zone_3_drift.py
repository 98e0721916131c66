"""The load drifted into zone 3 (METHOD 6 and 7)."""

from __future__ import annotations

from typing import Any

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.measure.drift import load_held, ride_scatter
from steadyband.audit.measure.held import drifted
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """A 10-min mean at or above the ceiling, by more than the ride's own scatter leaves in such a mean."""
    arrays = facts.arrays
    return drifted(load_held(arrays), ride_scatter(arrays), sets.ceiling, settings.drift.window_s)


def evidence(facts: Facts) -> dict[str, Any]:
    """The longest run, all of it, the trend, and where the longest run began."""
    drift = facts.drift
    return {
        "load_longest_s": drift.load_longest_s,
        "load_drifted_s": drift.load_drifted_s,
        "load_slope_per_h": drift.load_slope_per_h,
        "ceiling": facts.edges.ceiling,
        "places": [facts.place(drift.load_longest_start_s or 0, drift.load_longest_s)],
    }


RULE = Rule("zone_3_drift", 30, ("endurance", "easy"), ("drift.window_s",), raised, evidence)
