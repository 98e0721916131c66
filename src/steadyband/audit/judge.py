"""The verdict of a session: which findings are raised, and how far the curves that fit the test agree (METHOD 7)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from steadyband.audit.findings import RULES
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.model import Finding, Seconds, SessionInfo, Verdict
from steadyband.ground.said import Said
from steadyband.ground.settings import VerdictSettings

JUDGED_INTENTS: tuple[str, ...] = ("endurance", "easy")


def raised_by_code(facts: Facts) -> dict[str, BoolArray]:
    """For each finding that the session's intent asks for: under which of its N sets of edges [N] it is raised (METHOD 1.3, 7)."""
    wanted = [rule for rule in RULES if rule.asked_of(facts.info)]
    return {rule.code: rule.raised(facts, facts.sets, facts.settings) for rule in wanted}


def judge(facts: Facts) -> Verdict:
    """Verdict of a session that can be judged; in band where no finding is raised (METHOD 7).

    Agreement is the share of the curves that fit the test (every set of edges but the first, which are their medians) that
    raise the same finding, or for the whole that come to the same verdict.
    """
    raised = raised_by_code(facts)
    findings = tuple(
        Finding(rule.code, float(np.mean(raised[rule.code][1:])), rule.told(facts))
        for rule in RULES
        if rule.code in raised and raised[rule.code][0]
    )
    in_band = not findings
    same = np.logical_or.reduce([found[1:] for found in raised.values()]) != in_band
    return Verdict(findings, in_band, float(np.mean(same)))


def not_judged(reasons: Sequence[Said]) -> Verdict:
    """Verdict of a session that cannot be judged."""
    found = Finding("not_judged", None, {"reasons": [reason.code for reason in reasons]})
    return Verdict((found,), None, None, tuple(reasons))


def reasons_against(
    info: SessionInfo, seconds: Seconds, no_zones: Said | None, has_load: bool, settings: VerdictSettings
) -> tuple[Said, ...]:
    """Why a session cannot be judged; empty where it can (METHOD 7)."""
    reasons = []
    if info.intent not in JUDGED_INTENTS:
        reasons.append(Said("intent", {"intent": info.intent}))
    if no_zones is not None:
        reasons.append(no_zones)
    elif not has_load:
        reasons.append(Said("no_load"))
    if seconds.active < settings.active_min_s:
        reasons.append(Said("too_short", {"active_s": seconds.active, "least_s": settings.active_min_s}))
    if has_load and seconds.unmeasured > settings.unmeasured_share * seconds.active:
        numbers = {"share": seconds.unmeasured / seconds.active, "limit": settings.unmeasured_share}
        reasons.append(Said("unmeasured", numbers))
    return tuple(reasons)
