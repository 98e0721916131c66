"""The findings about heart rate (METHOD 6 and 7): rule, sentence and evidence in one place."""

from __future__ import annotations

import numpy as np

from steadyband.audit.findings.facts import Facts, percent
from steadyband.audit.findings.load import Draft
from steadyband.audit.measure.drift import heart_rate_above, heart_rate_drift
from steadyband.ground.units import duration_text, temperature_text


def hr_drift(facts: Facts) -> Draft | None:
    """Heart rate against load rose by more than the flagged percentage from half to half."""
    limits = facts.settings.drift
    found = heart_rate_drift(facts.arrays, limits)
    if found is None or found.percent <= limits.hr_drift_percent:
        return None
    evidence = {
        "hr_drift_percent": found.percent,
        "hr_first_half_bpm": found.hr_first,
        "hr_second_half_bpm": found.hr_second,
        "load_first_half": found.load_first,
        "load_second_half": found.load_second,
        "places": [],
        **_heat_evidence(facts),
        "settings": facts.used(
            "drift.hr_drift_percent", "drift.skip_s", "drift.hr_min_s", "drift.hr_load_within", "block.hot_c"
        ),
    }
    text = (
        f"Heart rate against {facts.noun} rose by {found.percent:.1f} % from the first half to the second "
        f"({found.hr_first:.0f} bpm at {facts.load(found.load_first)}, then {found.hr_second:.0f} bpm at "
        f"{facts.load(found.load_second)}; flagged over {limits.hr_drift_percent:g} % by common practice, no published "
        f"cut-off exists). {_heat(facts)}Heat, little airflow, too little fluid, fatigue and sheer duration all "
        "do this: mend those first, and keep the next one cooler or shorter."
    )
    return Draft("heart_rate_drift", text, evidence)


def hr_above_test(facts: Facts) -> Draft | None:
    """Heart rate above the test's limit for long enough, while the load was below the ceiling."""
    seconds, limits = facts.drift.hr_above_test_s, facts.settings.drift
    if seconds is None or facts.hr_ceiling is None or seconds < limits.hr_above_s:
        return None
    share = seconds / int(np.count_nonzero(facts.arrays.active & ~np.isnan(facts.arrays.heart_rate)))
    if share < limits.hr_above_share:
        return None
    evidence = {
        "hr_above_test_s": seconds,
        "share": share,
        "hr_ceiling_bpm": facts.hr_ceiling,
        "places": facts.longest_runs(heart_rate_above(facts.arrays, facts.edges.ceiling, facts.hr_ceiling)),
        **_heat_evidence(facts),
        "settings": facts.used("drift.hr_above_s", "drift.hr_above_share", "bands.window_s", "block.hot_c"),
    }
    text = (
        f"Heart rate was above {facts.hr_ceiling:.0f} bpm, the test's limit at the ceiling, for "
        f"{duration_text(seconds)} ({percent(share)} of the time) while the {facts.noun} was {facts.below} the ceiling. {_heat(facts)}"
        "Heat, fatigue, illness or an old test can do this: rest if you feel unwell, and test again if it keeps coming."
    )
    return Draft("heart_rate_above_test", text, evidence)


def _heat(facts: Facts) -> str:
    return f"It was {temperature_text(facts.temperature_c)} by the device: a hot session. " if facts.is_hot else ""


def _heat_evidence(facts: Facts) -> dict[str, float]:
    return {} if facts.temperature_c is None else {"temperature_c": facts.temperature_c}
