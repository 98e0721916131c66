"""The verdict of a session: which findings are raised, and how far the redrawn tests agree (METHOD 7)."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeDraws
from steadyband.audit.findings import heart as heartfindings
from steadyband.audit.findings import load as findings
from steadyband.audit.findings.agreement import raised_over_draws
from steadyband.audit.findings.facts import Facts, percent
from steadyband.audit.findings.load import Draft
from steadyband.audit.model import Finding, Seconds, SessionInfo, Verdict
from steadyband.ground.settings import VerdictSettings
from steadyband.ground.units import duration_text

BoolArray = NDArray[np.bool_]
Finder = Callable[[Facts], Draft | None]

JUDGED_INTENTS: tuple[str, ...] = ("endurance", "easy")
_ALWAYS: tuple[Finder, ...] = (
    findings.too_high,
    findings.surges,
    findings.zone_3_drift,
    heartfindings.hr_drift,
    heartfindings.hr_above_test,
)
FINDERS: Mapping[str, tuple[Finder, ...]] = {
    "endurance": (*_ALWAYS, findings.too_low),
    "easy": (*_ALWAYS, findings.steady_in_easy),
}


def judge(facts: Facts, draws: EdgeDraws) -> Verdict:
    """Verdict of a session that can be judged; in band where no finding is raised (METHOD 7)."""
    drafts = [draft for find in FINDERS[facts.info.intent] if (draft := find(facts)) is not None]
    raised = raised_over_draws(facts.arrays, draws, facts.info.intent, facts.settings)
    in_band = not drafts
    same = np.logical_or.reduce(list(raised.values())) != in_band
    return Verdict(
        findings=tuple(_finding(draft, raised[draft.code], facts.settings.verdict) for draft in drafts),
        in_band=in_band,
        agreement=float(np.mean(same)),
    )


def _finding(draft: Draft, raised: BoolArray, settings: VerdictSettings) -> Finding:
    agreement = float(np.mean(raised))
    text = draft.text
    if agreement < settings.unsure_below:
        text = f"{text} Unsure: only {percent(agreement)} of the redrawn tests agree."
    return Finding(draft.code, text, agreement, draft.evidence)


def not_judged(reasons: Mapping[str, str]) -> Verdict:
    """Verdict of a session that cannot be judged; `reasons` by code, each a clause of a sentence."""
    text = f"Not judged: {'; '.join(reasons.values())}."
    found = Finding("not_judged", text, None, {"reasons": list(reasons)})
    return Verdict((found,), None, None)


def reasons_against(
    info: SessionInfo, seconds: Seconds, test_reason: str | None, has_load: bool, settings: VerdictSettings
) -> dict[str, str]:
    """Why a session cannot be judged, by code; empty where it can (METHOD 7)."""
    reasons = {}
    if info.intent not in JUDGED_INTENTS:
        reasons["intent"] = f"labelled {info.intent}; such sessions are counted in the week's bands but not judged"
    if test_reason is not None:
        reasons["no_test"] = test_reason
    elif not has_load:
        reasons["no_load"] = "the recording holds nothing to judge by: neither the load of the test nor its heart rate"
    if seconds.active < settings.active_min_s:
        least = duration_text(settings.active_min_s)
        reasons["too_short"] = f"{duration_text(seconds.active)} active, at least {least} are needed"
    if has_load and seconds.unmeasured > settings.unmeasured_share * seconds.active:
        share, limit = percent(seconds.unmeasured / seconds.active), percent(settings.unmeasured_share)
        reasons["unmeasured"] = f"{share} of the active time is unmeasured (limit {limit})"
    return reasons
