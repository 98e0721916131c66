"""The findings a session should raise, from the reference quantities and the method's defaults, with how far off each is."""

from __future__ import annotations

from dataclasses import dataclass

from simulation import reference
from simulation.reference import Edges, FoundSurge, Rows


@dataclass(frozen=True, slots=True)
class Measured:
    """Everything the findings of one session rest on."""

    active_s: int
    pause_s: int
    coasting_s: int
    mean_load: float
    mean_band_load: float
    bands: dict[str, int]
    easy_share: float
    surges: tuple[FoundSurge, ...]
    surges_per_h: float
    above_per_h_s: float
    share_above: float
    drifted_s: int
    top_s: int
    heart_drift_percent: float | None
    heart_above_s: int


def measure(data: Rows, edges: Edges, has_power: bool, by_heart: bool = False) -> Measured:
    """All reference quantities of one session; heart rate alone tells no surges and no drift against a load."""
    active = [second for second, flag in enumerate(data.active) if flag]
    smooth = reference.centred(data.load, data.recorded, reference.BAND_HALF_S)
    sharp = reference.sharp(data)
    coasting = [second for second in active if has_power and data.load[second] == 0.0]
    working = set(active) - set(coasting)
    found = [] if by_heart else reference.surges(data, edges)
    return Measured(
        active_s=len(active),
        pause_s=sum(data.paused),
        coasting_s=len(coasting),
        mean_load=reference.mean(data.load[second] for second in active) or 0.0,
        mean_band_load=reference.mean(smooth[second] for second in active) or 0.0,
        bands=reference.band_seconds(data, edges),
        easy_share=sum((smooth[second] or 0.0) < edges.floor for second in working) / len(working),
        surges=tuple(found),
        surges_per_h=len(found) * 3600.0 / len(active),
        above_per_h_s=0.0 if by_heart else reference.above_s(data, edges) * 3600.0 / len(active),
        share_above=0.0
        if by_heart
        else sum((sharp[second] or 0.0) >= edges.ceiling for second in active) / len(active),
        drifted_s=reference.drifted_run(data, edges.ceiling),
        top_s=reference.drifted_run(data, edges.top),
        heart_drift_percent=None if by_heart else reference.heart_drift_percent(data),
        heart_above_s=0 if by_heart else reference.heart_above_s(data, edges),
    )


def findings(of: Measured, edges: Edges, intent: str, labelled: bool) -> list[str]:
    """Codes in the order of the method; an empty list is "in band". Only who said "endurance" can ride too low.

    What scatter explains of the work above the ceiling is left out: `make_demo.py` holds every ride clear of where it could matter.
    """
    if intent not in ("endurance", "easy") or of.active_s < 1200:
        return ["not_judged"]
    tests = {
        "too_high": of.mean_band_load >= edges.ceiling,
        "surges": (of.surges_per_h >= 6.0 and of.above_per_h_s >= 10.0) or of.above_per_h_s >= 30.0,
        "zone_3_drift": of.drifted_s > 0,
        "heart_rate_drift": (of.heart_drift_percent or 0.0) > 5.0,
        "heart_rate_above_test": of.heart_above_s >= 300 and of.heart_above_s / of.active_s >= 0.10,
        "too_low": intent == "endurance" and labelled and of.easy_share >= 0.60,
        "steady_in_easy": intent == "easy" and (of.bands["steady"] + of.bands["heavy"]) / of.active_s >= 0.25,
    }
    return [code for code, raised in tests.items() if raised]
