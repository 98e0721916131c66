"""Stretches of a session in the steady band, with the heart rate the test had there (METHOD 6)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import GAP, PAUSE, STEADY, Audit
from steadyband.ground.settings import BlockSettings

FloatArray = NDArray[np.float64]


SLIDE_S = 30


@dataclass(frozen=True, slots=True)
class SteadyStretch:
    """Ten minutes or so in the steady band: mean load [W or m/s], heart rate [bpm] and what the test had there."""

    start_s: int
    length_s: int
    mean_load: float
    heart_rate: float
    expected: float

    @property
    def shift(self) -> float:
        """Heart rate above the test's at the same load [bpm]."""
        return self.heart_rate - self.expected


def steady_stretches(audit: Audit) -> tuple[SteadyStretch, ...]:
    """Every full stretch of `stretch_s` seconds, none overlapping, that lies in the steady band, with its heart rate.

    A stretch lies within recorded seconds, after the warm-up and before heart rate drifts by itself; its mean band
    load is from floor to target top, at least `stretch_share` of its seconds are steady, and heart rate is known for
    `hr_known` of them. Expected is the test's heart rate at that mean load, linear between floor and target top.
    """
    zones, limits = audit.zones, audit.settings.block
    if zones is None or audit.load is None or audit.load.channel == "heart_rate":
        return ()
    if zones.floor is None or zones.hr_floor is None or zones.hr_target_top is None or zones.target_top <= zones.floor:
        return ()
    found: list[SteadyStretch] = []
    start, traces = limits.stretch_from_s, audit.traces
    end_of_search = min(len(traces.ribbon), limits.stretch_until_s)
    while start + limits.stretch_s <= end_of_search:
        part = slice(start, start + limits.stretch_s)
        stretch = _stretch(audit, part, (zones.floor, zones.target_top), (zones.hr_floor, zones.hr_target_top), limits)
        if stretch:
            found.append(stretch)
        start += limits.stretch_s if stretch else SLIDE_S
    return tuple(found)


def _stretch(
    audit: Audit, part: slice, loads: tuple[float, float], pulses: tuple[float, float], limits: BlockSettings
) -> SteadyStretch | None:
    ribbon, load = audit.traces.ribbon[part], audit.traces.band_load[part]
    pulse = audit.traces.heart_rate_bpm[part]
    broken = bool(np.any((ribbon == PAUSE) | (ribbon == GAP)))
    if broken or np.mean(ribbon == STEADY) < limits.stretch_share or np.mean(np.isfinite(pulse)) < limits.hr_known:
        return None
    mean = float(np.nanmean(load))
    if not loads[0] <= mean <= loads[1]:
        return None
    share = (mean - loads[0]) / (loads[1] - loads[0])
    expected = pulses[0] + share * (pulses[1] - pulses[0])
    return SteadyStretch(part.start, part.stop - part.start, mean, highest_mean(pulse, limits.hr_mean_s), expected)


def highest_mean(values: FloatArray, window: int) -> float:
    """Highest mean over `window` values that are all known; the mean of all known values where there is no such run."""
    known = np.isfinite(values)
    totals = np.cumsum(np.concatenate(([0.0], np.where(known, values, 0.0))))
    counts = np.cumsum(np.concatenate(([0], known)))
    full = counts[window:] - counts[:-window] == window
    means = (totals[window:] - totals[:-window])[full] / window
    return float(means.max()) if len(means) else float(values[known].mean())
