"""What a session may have been for, read from its load alone: a guess to show, never one to store unasked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import HEAVY, SEVERE, Audit, Finding, Verdict
from steadyband.units import duration_text

EFFORT_MIN_S = 60
"""Shortest effort of an interval session, in seconds of 31-s load above the ceiling (design choice)."""
DIP_S = 15
"""A dip below the ceiling up to this long does not end an effort (design choice)."""
EFFORTS_MIN = 3
"""Fewest efforts of an interval session (design choice)."""
TOTAL_MIN_S = 360
"""Shortest sum of the efforts of an interval session (design choice)."""
ALIKE_LENGTH = 0.25
"""Efforts alike differ from their median length by at most this share (design choice)."""
ALIKE_SHARE = 0.75
ABOVE_CEILING = 1.08
"""Median load of the efforts over the ceiling (design choice): hills ridden a little too hard stay below it."""
EASED = 0.85
"""Load over the ceiling that a break between efforts falls to (design choice)."""
RACE_SHARE = 0.5
"""Share above the ceiling from which a session is hard as a whole (design choice)."""
EASY_SHARE = 0.85
"""Share below the floor from which a session looks easy (design choice)."""


@dataclass(frozen=True, slots=True)
class Guess:
    """An intent that fits the load, why, and the numbers it rests on; intent None where nothing can be said."""

    intent: str | None
    reason: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Effort:
    """A run of seconds above the ceiling by 31-s load."""

    start_s: int
    length_s: int
    mean: float


def guess_intent(audit: Audit) -> Guess:
    """The intent that the load of a session fits best."""
    if audit.bands is None or audit.zones is None or audit.zones.ceiling is None or audit.load is None:
        return Guess(None, "there is no load to tell it from")
    intervals = _intervals(audit)
    if intervals:
        return intervals
    hard = audit.bands["heavy"].share + audit.bands["severe"].share
    easy = audit.bands["easy"].share
    if hard >= RACE_SHARE:
        return Guess("hard", f"{100 * hard:.0f} % of it was above the ceiling", {"share_above": hard})
    if easy >= EASY_SHARE:
        return Guess("easy", f"{100 * easy:.0f} % of it was easy", {"share_easy": easy})
    return Guess("endurance", f"{100 * (1 - hard):.0f} % of it was below the ceiling", {"share_below": 1 - hard})


def is_hard(guess: Guess) -> bool:
    """True where an endurance session is unlikely."""
    return guess.intent == "hard"


def to_be_asked(audit: Audit, guess: Guess) -> bool:
    """True where nobody said what a session was for and its load looks like a hard one."""
    return audit.info.intent_source == "assumed" and is_hard(guess)


def asked(audit: Audit, guess: Guess) -> Audit:
    """The same session, asked about rather than judged."""
    text = f"Was this a hard session? {guess.reason[:1].upper()}{guess.reason[1:]}. Say so with `steadyband label`; until then it is not judged."
    return replace(audit, verdict=Verdict((Finding("not_judged", text, None, dict(guess.numbers)),), None, None))


def _intervals(audit: Audit) -> Guess | None:
    ceiling = _ceiling(audit)
    found = [item for item in efforts(audit.traces.ribbon, audit.traces.band_load) if item.length_s >= EFFORT_MIN_S]
    if ceiling is None or len(found) < EFFORTS_MIN or not _alike(found):
        return None
    lengths = np.array([item.length_s for item in found])
    load = float(np.median([item.mean for item in found]))
    strong = lengths.sum() >= TOTAL_MIN_S and load >= ABOVE_CEILING * ceiling
    if not strong or not _eased_between(audit.traces.band_load, found, ceiling):
        return None
    typical = duration_text(float(np.median(lengths)))
    numbers = {"efforts": len(found), "median_length_s": float(np.median(lengths)), "load_over_ceiling": load / ceiling}
    reason = f"{len(found)} efforts of about {typical}, {100 * (load / ceiling - 1):.0f} % above the ceiling, with easy going between them"
    return Guess("hard", reason, numbers)


def _ceiling(audit: Audit) -> float | None:
    if audit.zones is None or audit.load is None:
        return None
    return audit.zones.hr_ceiling if audit.load.channel == "heart_rate" else audit.zones.ceiling


def efforts(ribbon: NDArray[np.uint8], band_load: NDArray[np.float64]) -> list[Effort]:
    """Runs of heavy or severe seconds of a ribbon [n], dips of up to `DIP_S` seconds taken in."""
    above = np.isin(ribbon, (HEAVY, SEVERE))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], above.astype(np.int8), [0]))))
    spans = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    joined: list[tuple[int, int]] = []
    for start, end in spans:
        if joined and start - joined[-1][1] <= DIP_S:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return [Effort(a, b - a, float(np.nanmean(band_load[a:b]))) for a, b in joined]


def _alike(found: list[Effort]) -> bool:
    lengths = np.array([item.length_s for item in found], dtype=np.float64)
    middle = np.median(lengths)
    alike = np.abs(lengths / middle - 1) <= ALIKE_LENGTH
    return int(np.count_nonzero(alike)) >= EFFORTS_MIN and bool(alike.mean() >= ALIKE_SHARE)


def _eased_between(band_load: NDArray[np.float64], found: list[Effort], ceiling: float) -> bool:
    """True where the load falls well below the ceiling, or stops, in most breaks between efforts."""
    gaps = [band_load[a.start_s + a.length_s : b.start_s] for a, b in pairwise(found)]
    eased = [not bool(np.all(gap > EASED * ceiling)) for gap in gaps]
    return float(np.mean(eased)) >= ALIKE_SHARE
