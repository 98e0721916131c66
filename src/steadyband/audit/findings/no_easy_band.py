"""Easy was intended, but the test shows no easy band: then the plan itself is the finding (METHOD 7)."""

from __future__ import annotations

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.findings.rule import Rule
from steadyband.audit.findings.steady_in_easy import evidence, harder
from steadyband.ground.settings import Settings


def raised(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    """The share of steady or harder at its limit, where the test has no easy band."""
    return harder(facts, sets, settings) & sets.easy_empty


RULE = Rule(
    "no_easy_band", 80, ("easy",), ("verdict.steady_share", "bands.window_s"), raised, evidence, labelled_only=True
)
