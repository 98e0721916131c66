"""What a session is taken for where nobody said what it was for (METHOD 7)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from steadyband.audit.findings.facts import Facts
from steadyband.ground.said import Said


def easy_share(facts: Facts) -> float:
    """Share of the judged seconds, coasting among them, that are certainly easy."""
    return float(np.mean(facts.certainly_easy()[facts.arrays.judged]))


def as_it_looks(facts: Facts) -> tuple[Facts, tuple[Said, ...]]:
    """The facts with the intent that the session is taken for, and what has to be said about that (METHOD 7).

    A session with a label, or one whose own name tells its intent, stays as it is. One that nobody labelled is taken as easy
    from `guess.easy_share` of its active time below the floor; otherwise it stays assumed endurance.
    """
    info, limit = facts.info, facts.settings.guess.easy_share
    share = easy_share(facts)
    if info.intent_source != "assumed" or share < limit:
        return facts, ()
    numbers = {
        "share": share,
        "date": info.local_start.date().isoformat(),
        "time": f"{info.local_start:%H:%M}",
        "sport": info.sport,
    }
    taken = replace(info, intent="easy", intent_source="look")
    return replace(facts, info=taken), (Said("taken_as_easy", numbers),)
