"""Steady was intended, and most of it was easy (METHOD 7)."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.measure.bands import walked_below
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """Most of the time other than coasting was certainly easy; where no floor was found, below the highest load tested."""
    among = _pedalled(facts)
    if not among.any():
        return np.zeros(len(sets), bool)
    below = np.searchsorted(np.sort(facts.arrays.band_load[among]), sets.highest_easy, side="left")
    easy = np.where(sets.easy_empty, walked_below(facts.arrays, among, sets.cuts()[1]), below)
    low: BoolArray = easy / np.count_nonzero(among) >= settings.verdict.easy_share
    return low


def _pedalled(facts: Facts) -> BoolArray:
    return facts.arrays.judged & ~facts.arrays.coasting


def evidence(facts: Facts) -> dict[str, Any]:
    """Easy share, floor, and the longest easy runs."""
    return {
        "easy_share": float(np.mean(facts.certainly_easy()[_pedalled(facts)])),
        "floor": facts.edges.floor,
        "places": facts.longest_runs(facts.certainly_easy()),
    }


RULE = Rule(
    "too_low", 60, ("endurance",), ("verdict.easy_share", "bands.window_s"), raised, evidence, labelled_only=True
)
