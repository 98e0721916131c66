"""Too many surges above the ceiling (METHOD 4 and 7)."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.measure.micro_counts import micro_counts
from steadyband.audit.measure.surges import telling
from steadyband.audit.model import Surge
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """Micro-surges an hour, or the share of time above the ceiling, at their limits."""
    arrays, active_s = facts.arrays, _active_s(facts)
    if not arrays.surges_judged or not active_s:
        return np.zeros(len(sets), bool)
    load = np.sort(arrays.surge_load[arrays.measured])
    above = len(load) - np.searchsorted(load, sets.ceiling, side="left")
    micro = micro_counts(arrays, sets, settings.surges)
    often: BoolArray = 3600 * micro / active_s >= settings.verdict.micro_per_hour
    return np.isfinite(sets.ceiling) & (often | (above / active_s >= settings.verdict.share_above))


def _active_s(facts: Facts) -> int:
    return int(np.count_nonzero(facts.arrays.active))


def evidence(facts: Facts) -> dict[str, Any]:
    """Counts, time above the ceiling, causes, and the most telling surges."""
    found = facts.surges
    if found is None:
        return {"places": []}
    return {
        "micro": found.micro,
        "micro_per_hour": 3600 * found.micro / _active_s(facts),
        "sustained": found.sustained,
        "seconds_above": found.seconds_above,
        "share_above": found.share_above,
        **{f"from_{cause.replace(' ', '_')}": count for cause, count in found.by_cause.items() if count},
        **({} if found.forced is None else {"forced": found.forced, "avoidable": found.avoidable}),
        "places": [_place(facts, surge) for surge in telling(found, facts.settings.verdict.places)],
    }


def _place(facts: Facts, surge: Surge) -> dict[str, Any]:
    numbers = {
        "seconds_above": surge.seconds_above,
        "highest": surge.highest,
        "work_above_j": surge.work_above_j,
        "grade": surge.grade,
        "at_m": surge.at_m,
        "cause": surge.cause,
        "forced": surge.forced,
    }
    return facts.place(surge.start_s, surge.length_s, **numbers)


RULE = Rule(
    "surges",
    20,
    ("endurance", "easy"),
    ("verdict.micro_per_hour", "verdict.share_above", "surges.window_s", "surges.min_above_s", "surges.micro_max_s"),
    raised,
    evidence,
)
