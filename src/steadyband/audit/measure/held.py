"""Load that was held for ten minutes: drift into zone 3, and time at the top of the band, under many ceilings at once.

Drift into zone 3 is a 10-min mean at or above the *ceiling*, by more than the scatter of the ride leaves in such a mean. Between target
top and ceiling is the top of the band: a remark, no fault. Measured seconds are laid end to end, so that a stop neither
ends an effort nor adds to it.

>>> import numpy as np
>>> load = np.concatenate((np.full(3000, 160.0), np.full(600, 185.0), np.full(1800, 168.0)))
>>> highest_mean(load)
185.0
>>> drifted(load, 0.08, np.array([176.0, 183.0, 184.0])).tolist()
[True, True, False]
>>> longest_held(load, 176.0, np.inf)
Held(seconds=534, start=2784, end=3917)
>>> longest_held(load, 166.0, 176.0).seconds  # at the top of the band, on the way up and down too
1723
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.means import runs, trailing_mean

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

DRIFT_S = 600
"""Window of drift into zone 3 [s] (design choice: the trade looks at the average, not at moments)."""

SCATTER_LEFT = 0.1
"""Share of the scatter of the 11-s mean by which a 10-min mean must pass the ceiling: two thirds of what the scatter leaves in such
a mean (simulated: 0.15; set by benchmarks/verdict_sessions.py)."""

HR_JUDGED_S = 2400
"""By heart rate alone so many active seconds are judged: at constant load it climbs by some beats an hour, so that later on it
no longer tells the load (common practice, no source for the 40 minutes)."""


@dataclass(frozen=True, slots=True)
class Held:
    """How long a mean was held: seconds (windows), and the measured seconds from `start` to `end` (exclusive) that the longest
    unbroken piece of it covers.
    """

    seconds: int
    start: int
    end: int


def highest_mean(load: FloatArray, window_s: int = DRIFT_S) -> float:
    """Highest mean over `window_s`, -inf where the session is shorter.

    Args: `load` [k] over active measured seconds laid end to end [W, m/s or bpm], no NaN.
    """
    return float(np.max(trailing_mean(load, window_s), initial=-np.inf))


def drifted(load: FloatArray, scatter: float, ceilings: FloatArray, window_s: int = DRIFT_S) -> BoolArray:
    """Under which ceilings [N] the session drifted into zone 3; `scatter` is `calm_scatter` of its 11-s mean, as a share."""
    return np.asarray(highest_mean(load, window_s) >= drift_level(ceilings, scatter))


def drift_level(ceilings: FloatArray, scatter: float) -> FloatArray:
    """The 10-min mean from which each ceiling [N] was certainly passed."""
    return ceilings * (1 + SCATTER_LEFT * scatter)


def longest_held(load: FloatArray, low: float, high: float, window_s: int = DRIFT_S) -> Held | None:
    """Where the mean over `window_s` lies from `low` up to below `high`; None where it never does.

    With the level of drift and inf: drift into zone 3. With target top and ceiling: time at the top of the band.
    """
    means = trailing_mean(load, window_s)
    starts, ends = runs((means >= low) & (means < high))
    if not len(starts):
        return None
    longest = int(np.argmax(ends - starts))
    return Held(int((ends - starts).sum()), int(starts[longest]), int(ends[longest]) + window_s - 1)
