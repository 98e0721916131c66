"""Easy was intended, and too much was steady or harder (METHOD 7)."""

from __future__ import annotations

from typing import Any

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.measure.bands import counts_over_sets
from steadyband.audit.model import HEAVY, SEVERE, STEADY
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """The share of steady or harder at its limit, where the test has an easy band."""
    return harder(facts, sets, settings) & ~sets.easy_empty


def harder(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """The share of steady or harder at its limit [N]."""
    counts = counts_over_sets(facts.arrays, sets, facts.arrays.judged)
    reached: BoolArray = counts[STEADY:].sum(axis=0) / counts.sum(axis=0) >= settings.verdict.steady_share
    return reached


def evidence(facts: Facts) -> dict[str, Any]:
    """That share, the floor, and the longest runs of steady or harder."""
    return {
        "share_steady_or_harder": facts.share_in(STEADY, HEAVY, SEVERE),
        "floor": None if facts.edges.easy_empty else facts.edges.floor,
        "places": facts.longest_runs(facts.in_bands(STEADY, HEAVY, SEVERE)),
    }


RULE = Rule(
    "steady_in_easy", 70, ("easy",), ("verdict.steady_share", "bands.window_s"), raised, evidence, labelled_only=True
)
