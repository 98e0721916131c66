"""Time over three domains, and the polarization index (METHOD 8, SOURCES S8): described, never prescribed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from steadyband.athlete.condensed import Condensed

TAKEN = 0.01
"""Share taken from zone 3 where zone 2 is empty (Treff et al. 2019, from memory)."""


@dataclass(frozen=True, slots=True)
class Distribution:
    """Shares of banded time below, between and above two borders, and the polarization index.

    `by_threshold`: the upper border is the upper threshold of athlete.toml; otherwise it is the ceiling of the test,
    which lies lower, and the index is then not the published one. `index` None where it is not computed.
    """

    seconds: int
    low: float
    middle: float
    high: float
    index: float | None
    by_threshold: bool


def polarization_index(low: float, middle: float, high: float) -> float | None:
    """log10(Z1 / Z2 x Z3 x 100) of time shares as fractions (Treff et al. 2019, doi:10.3389/fphys.2019.00707; S8).

    Polarized above 2.00. Without time in zone 3 the index is 0; without time in zone 2 a hundredth is taken from zone
    3; None (not computed) where zone 3 holds more than zone 1. These three rules are from memory.
    Raises ValueError where a share is negative or the shares do not add up to 1.
    """
    if min(low, middle, high) < 0 or not math.isclose(low + middle + high, 1, abs_tol=1e-6):
        raise ValueError(f"expected three shares that add up to 1, found {low}, {middle}, {high}")
    if high > low:
        return None
    if middle == 0 and high > 0:
        middle, high = TAKEN, high - TAKEN
    if high <= 0 or low <= 0:
        return 0.0 if low > 0 else None
    return math.log10(low / middle * high * 100)  # Treff et al. (2019), equation of the polarization index


def distribution(sessions: Sequence[Condensed]) -> Distribution | None:
    """The distribution over all sessions with bands, None without one (METHOD 8, SOURCES S8).

    With an upper threshold in every one of them the domains are those of physiology: below the first rise, up to the
    threshold, above it. Otherwise the ceiling is the upper border.
    """
    banded = [item.audit for item in sessions if item.audit.bands]
    seconds = {
        name: sum(audit.bands[name].seconds for audit in banded if audit.bands)
        for name in ("easy", "steady", "heavy", "severe")
    }
    total = sum(seconds.values())
    if not total:
        return None
    strict = all(audit.zones is not None and audit.zones.threshold is not None for audit in banded)
    between = seconds["steady"] + (seconds["heavy"] if strict else 0)
    low, middle = seconds["easy"] / total, between / total
    high = max(0.0, 1 - low - middle)
    high = 0.0 if seconds["severe"] + (0 if strict else seconds["heavy"]) == 0 else high
    return Distribution(total, low, middle, high, polarization_index(low, middle, high), strict)
