"""Too many surges above the ceiling, or too much work above it (METHOD 4 and 7)."""

from __future__ import annotations

from typing import Any

import numpy as np

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.measure.surges import telling
from steadyband.audit.measure.surging import surging
from steadyband.audit.model import Surge
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """Surges an hour with work beyond what scatter explains, or much of that work alone, at their limits."""
    arrays = facts.arrays
    if not arrays.surges_judged:
        return np.zeros(len(sets), bool)
    return surging(arrays.surge_load, arrays.stretch, sets.ceiling, sets.release, settings).raised


def evidence(facts: Facts) -> dict[str, Any]:
    """Counts, time and work above the ceiling, causes, and the most telling surges."""
    found = facts.surges
    if found is None:
        return {"places": []}
    return {
        "surges_per_hour": found.per_hour,
        "micro": found.micro,
        "sustained": found.sustained,
        "seconds_above": found.seconds_above,
        **({} if found.work_above_kj is None else {"work_above_kj": found.work_above_kj}),
        "above_per_hour_s": found.above_per_hour_s,
        "explained_per_hour_s": found.explained_per_hour_s,
        **{f"from_{cause.replace(' ', '_')}": count for cause, count in found.by_cause.items() if count},
        **({} if found.forced is None else {"forced": found.forced, "avoidable": found.avoidable}),
        "places": [_place(facts, surge) for surge in telling(found, facts.settings.verdict.places)],
    }


def _place(facts: Facts, surge: Surge) -> dict[str, Any]:
    numbers = {
        "seconds_above": surge.seconds_above,
        "highest": surge.highest,
        "dose_s": surge.dose_s,
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
    (
        "verdict.surges_per_hour",
        "verdict.surges_beyond_s",
        "verdict.surges_alone_s",
        "surges.window_s",
        "surges.dose_s",
        "surges.micro_max_s",
    ),
    raised,
    evidence,
)
