"""The findings about a session's load (METHOD 7): each the rule, the sentence and the evidence in one place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.causewords import advice_text, causes_text, telling
from steadyband.audit.findings.facts import Facts, percent
from steadyband.audit.measure.bands import classify
from steadyband.audit.model import EASY, HEAVY, SEVERE, STEADY, Surge, Surges
from steadyband.ground.units import clock_text, duration_text


@dataclass(frozen=True, slots=True)
class Draft:
    """A finding that is raised, before its agreement is known."""

    code: str
    text: str
    evidence: dict[str, Any]


def too_high(facts: Facts) -> Draft | None:
    """Mean band load above the target top, or the heavy share at its limit."""
    mean = mean_band_load(facts)
    heavy = facts.share_of("heavy", "severe")
    limit = facts.settings.verdict.heavy_share
    over_mean, over_share = mean > facts.edges.target_top, heavy >= limit
    if not (over_mean or over_share):
        return None
    found = []
    if over_mean:
        above = f"just {facts.above}" if facts.load(mean) == _top(facts) else facts.above
        found.append(f"mean {facts.noun} was {facts.load(mean)}, {above} the target top of {_top(facts)}")
    if over_share:
        found.append(
            f"{percent(heavy)} of the measured time was heavy, {facts.above} {_ceiling(facts)} (limit {percent(limit)})"
        )
    evidence = {
        "mean_band_load": mean,
        "target_top": facts.edges.target_top,
        "heavy_share": heavy,
        "places": facts.longest_runs(_in_bands(facts, HEAVY, SEVERE)),
        "settings": facts.used("verdict.heavy_share", "bands.window_s"),
    }
    text = f"Too high: {' and '.join(found)}. Start easier and keep the average {aim(facts)}."
    return Draft("too_high", text, evidence)


def surges(facts: Facts) -> Draft | None:
    """Micro-surges an hour, or the share of time above the ceiling, at their limits."""
    found, active_s = facts.surges, int(np.count_nonzero(facts.arrays.active))
    if found is None or not active_s:
        return None
    verdict, per_hour = facts.settings.verdict, 3600 * found.micro / active_s
    if per_hour < verdict.micro_per_hour and found.share_above < verdict.share_above:
        return None
    evidence = {
        "micro": found.micro,
        "micro_per_hour": per_hour,
        "sustained": found.sustained,
        "seconds_above": found.seconds_above,
        "share_above": found.share_above,
        **{f"from_{cause.replace(' ', '_')}": count for cause, count in found.by_cause.items() if count},
        **({} if found.forced is None else {"forced": found.forced, "avoidable": found.avoidable}),
        "places": [_surge_place(facts, surge) for surge in telling(found, verdict.places)],
        "settings": facts.used(
            "verdict.micro_per_hour",
            "verdict.share_above",
            "surges.window_s",
            "surges.min_above_s",
            "surges.micro_max_s",
        ),
    }
    return Draft("surges", _surges_text(facts, found, per_hour), evidence)


def _surges_text(facts: Facts, found: Surges, per_hour: float) -> str:
    verdict = facts.settings.verdict
    sustained = f" and {_count(found.sustained, 'sustained effort')}" if found.sustained else ""
    return (
        f"{_count(found.micro, 'micro-surge')}{sustained} {facts.above} {_ceiling(facts)}: {per_hour:.0f} an hour (flagged from "
        f"{verdict.micro_per_hour:g}), {percent(found.share_above)} of the active time (flagged from "
        f"{percent(verdict.share_above)}). {_where_and_what(facts, found)}"
    )


def _where_and_what(facts: Facts, found: Surges) -> str:
    advice = advice_text(found, facts.arrays.on_foot) or _SMOOTHER.get(facts.info.sport, _SMOOTHER_ANY)
    return f"{causes_text(found, facts.settings.verdict.causes_named)} {advice}".strip()


_SMOOTHER = {
    "cycling": "Ease off before each rise, shift down early and start again gently after every stop.",
    "running": "Shorten the stride before each rise, and walk where the hill would force the load up.",
}
_SMOOTHER_ANY = "Ease off before each rise and start again gently after every stop."


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _surge_place(facts: Facts, surge: Surge) -> dict[str, Any]:
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


def zone_3_drift(facts: Facts) -> Draft | None:
    """The trailing mean at or above the target top for the flagged time."""
    drift, limits = facts.drift, facts.settings.drift
    start = drift.load_longest_start_s
    if start is None or drift.load_longest_s < limits.flag_s:
        return None
    evidence = {
        "load_longest_s": drift.load_longest_s,
        "load_drifted_s": drift.load_drifted_s,
        "load_slope_per_h": drift.load_slope_per_h,
        "target_top": facts.edges.target_top,
        "places": [facts.place(start, drift.load_longest_s)],
        "settings": facts.used("drift.window_s", "drift.flag_s"),
    }
    text = (
        f"Drifted into zone 3 (lower heavy): from {facts.time_of_day(start)} ({clock_text(start)} into the session) the "
        f"{duration_text(limits.window_s)} mean of {facts.noun} stayed at or {facts.above} the target top of {_top(facts)} for "
        f"{duration_text(drift.load_longest_s)}. Cap the load there and let the pace fall, or end the session earlier."
    )
    return Draft("zone_3_drift", text, evidence)


def too_low(facts: Facts) -> Draft | None:
    """Steady was intended, and most of the time other than coasting was easy."""
    share = easy_share(facts)
    limit = facts.settings.verdict.easy_share
    if share is None or share < limit:
        return None
    evidence = {
        "easy_share": share,
        "floor": facts.edges.floor,
        "intent_source": facts.info.intent_source,
        "places": facts.longest_runs(_easy(facts)),
        "settings": facts.used("verdict.easy_share", "bands.window_s"),
    }
    hint = (
        " If it was meant to be easy, label it easy in sessions.csv." if facts.info.intent_source == "assumed" else ""
    )
    where = "walked" if facts.edges.easy_empty else f"easy, {facts.below} {facts.load(facts.edges.highest_easy)}"
    apart = " other than coasting" if facts.arrays.coasting.any() else ""
    text = (
        f"Too low: {percent(share)} of the time{apart} was {where} (limit {percent(limit)}). "
        f"For a steady session keep the average {aim(facts)}.{hint}"
    )
    return Draft("too_low", text, evidence)


def steady_in_easy(facts: Facts) -> Draft | None:
    """Easy was intended, and too much was steady or harder; without an easy band the plan itself is the finding."""
    share = facts.share_of("steady", "heavy", "severe")
    limit = facts.settings.verdict.steady_share
    if share < limit:
        return None
    evidence = {
        "share_steady_or_harder": share,
        "floor": None if facts.edges.easy_empty else facts.edges.floor,
        "places": facts.longest_runs(_in_bands(facts, STEADY, HEAVY, SEVERE)),
        "settings": facts.used("verdict.steady_share", "bands.window_s"),
    }
    if facts.edges.easy_empty:
        return Draft("no_easy_band", _no_easy_text(facts, share), evidence)
    text = (
        f"{percent(share)} of a session meant to be easy was steady or harder (limit {percent(limit)}). "
        f"Stay {facts.below} {facts.load(facts.edges.floor)}."
    )
    return Draft("steady_in_easy", text, evidence)


def _no_easy_text(facts: Facts, share: float) -> str:
    if facts.info.sport == "running":
        return (
            f"This test shows no easy running, so a run cannot be an easy session: {percent(share)} of it was steady or "
            "harder. Put the easy time on the bike or on foot walking."
        )
    return (
        f"This test shows no easy band: {percent(share)} of a session meant to be easy was steady or harder. "
        "Test again from a lower first load to find out where easy begins."
    )


def mean_band_load(facts: Facts) -> float:
    """Mean band load over active measured seconds [W, m/s or bpm]."""
    return float(facts.arrays.band_load[facts.arrays.measured].mean())


def easy_share(facts: Facts) -> float | None:
    """Easy share of active measured seconds other than coasting; None where there are none."""
    among = facts.arrays.measured & ~facts.arrays.coasting
    return float(np.mean(_easy(facts)[among])) if among.any() else None


def _easy(facts: Facts) -> NDArray[np.bool_]:
    """Seconds [n] that are certainly easy: where no floor was found, those below the highest load tested."""
    if facts.edges.easy_empty or math.isfinite(facts.edges.floor):
        return _in_bands(facts, EASY)
    return facts.arrays.measured & (facts.arrays.band_load < facts.edges.highest_easy)


def _in_bands(facts: Facts, *codes: int) -> NDArray[np.bool_]:
    arrays = facts.arrays
    return arrays.measured & np.isin(classify(arrays.band_load, facts.edges, arrays.walked), codes)


def aim(facts: Facts) -> str:
    """Where the average belongs, in words."""
    edges = facts.edges
    if edges.easy_empty or not math.isfinite(edges.floor) or edges.floor >= edges.target_top:
        return f"at or {facts.below} {_top(facts)}"
    return f"between {facts.load(edges.floor)} and {_top(facts)}"


def _top(facts: Facts) -> str:
    return facts.load(facts.edges.target_top)


def _ceiling(facts: Facts) -> str:
    name = "ceiling" if math.isfinite(facts.edges.ceiling) else "upper threshold"
    return f"the {name} of {facts.load(facts.edges.cuts()[1])}"
