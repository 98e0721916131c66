"""What a session may have been for, read from its load alone: a guess to show, never one to store unasked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.repeats import Effort, efforts
from steadyband.audit.model import Audit, Finding, Verdict
from steadyband.ground.said import Said
from steadyband.ground.settings import GuessSettings


@dataclass(frozen=True, slots=True)
class Guess:
    """An intent that fits the load, the code of what it looks like, and its numbers; intent None where nothing can be said."""

    intent: str | None
    looks: str
    numbers: Mapping[str, float] = field(default_factory=dict)


def guess_intent(audit: Audit) -> Guess:
    """The intent that the load of a session fits best."""
    if audit.load is None:
        return Guess(None, "unknown" if audit.zones else "no_test")
    if audit.zones is None or audit.bands is None:
        return Guess(None, "no_test")
    if audit.zones.ceiling is None:
        easy = audit.bands["easy"].share
        return (
            Guess("easy", "share_easy", {"share_easy": easy})
            if easy >= audit.settings.guess.easy_share
            else Guess(None, "open_ceiling")
        )
    limits, intervals = audit.settings.guess, _intervals(audit)
    if intervals:
        return intervals
    hard = audit.bands["heavy"].share + audit.bands["severe"].share
    easy = audit.bands["easy"].share
    if hard >= limits.hard_share:
        return Guess("hard", "share_above", {"share_above": hard})
    if easy >= limits.easy_share:
        return Guess("easy", "share_easy", {"share_easy": easy})
    return Guess("endurance", "share_below", {"share_below": 1 - hard})


def is_hard(guess: Guess) -> bool:
    """True where an endurance session is unlikely."""
    return guess.intent == "hard"


def to_be_asked(audit: Audit, guess: Guess) -> bool:
    """True where nobody said what a session was for and its load looks like a hard one."""
    return not audit.info.is_labelled and is_hard(guess)


def asked(audit: Audit, guess: Guess) -> Audit:
    """The same session, asked about rather than judged, and taken for nothing until somebody answers."""
    reason = Said("asked", {"looks": guess.looks, **guess.numbers})
    found = Finding("not_judged", None, dict(guess.numbers))
    notes = tuple(note for note in audit.quality.notes if note.code != "taken_as_easy")
    return replace(
        audit,
        info=replace(audit.info, intent=audit.info.stated_intent, intent_source="assumed"),
        quality=replace(audit.quality, notes=notes),
        verdict=Verdict((found,), None, None, (reason,)),
    )


def _intervals(audit: Audit) -> Guess | None:
    ceiling, limits = _ceiling(audit), audit.settings.guess
    every = efforts(audit.traces.ribbon, audit.traces.band_load, limits.dip_s)
    found = [item for item in every if item.length_s >= limits.effort_min_s]
    if ceiling is None or len(found) < limits.efforts_min or not _alike(found, limits):
        return None
    lengths = np.array([item.length_s for item in found])
    load = float(np.median([item.mean for item in found]))
    strong = lengths.sum() >= limits.total_min_s and load >= limits.above_ceiling * ceiling
    if not strong or not _eased_between(audit.traces.band_load, found, ceiling, limits):
        return None
    numbers = {"efforts": len(found), "median_length_s": float(np.median(lengths)), "load_over_ceiling": load / ceiling}
    return Guess("hard", "efforts", numbers)


def _ceiling(audit: Audit) -> float | None:
    if audit.zones is None or audit.load is None:
        return None
    return audit.zones.hr_ceiling if audit.load.channel == "heart_rate" else audit.zones.ceiling


def _alike(found: list[Effort], limits: GuessSettings) -> bool:
    lengths = np.array([item.length_s for item in found], dtype=np.float64)
    middle = np.median(lengths)
    alike = np.abs(lengths / middle - 1) <= limits.alike_length
    return int(np.count_nonzero(alike)) >= limits.efforts_min and bool(alike.mean() >= limits.alike_share)


def _eased_between(band_load: NDArray[np.float64], found: list[Effort], ceiling: float, limits: GuessSettings) -> bool:
    """True where the load falls well below the ceiling, or stops, in most breaks between efforts."""
    gaps = [band_load[a.start_s + a.length_s : b.start_s] for a, b in pairwise(found)]
    eased = [not bool(np.all(gap > limits.eased * ceiling)) for gap in gaps]
    return float(np.mean(eased)) >= limits.alike_share
