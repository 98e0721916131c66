"""Load that was held: means over two and ten minutes, against many ceilings at once.

Surges are short and counted by dose (`dose`). A sustained effort is time whose 2-min mean lies at or above the ceiling; drift into
zone 3 is a 10-min mean at or above the *ceiling*. Between target top and ceiling is the top of the band: a remark, no fault.
All take the measured seconds laid end to end, so that a stop neither ends an effort nor adds to it.

>>> import numpy as np
>>> load = np.concatenate((np.full(3000, 160.0), np.full(600, 185.0), np.full(1800, 168.0)))
>>> ceilings = np.array([176.0, 186.0])
>>> held_above(load, ceilings, DRIFT_S).tolist(), held_above(load, ceilings, SUSTAINED_S).tolist()
([534, 0], [587, 0])
>>> drifted(load, ceilings).tolist()
[True, False]
>>> longest_held(load, 176.0, np.inf, DRIFT_S)
Held(seconds=534, start=2784, end=3917)
>>> longest_held(load, 166.0, 176.0, DRIFT_S).seconds  # at the top of the band, on the way up and down too
1723
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.means import runs, trailing_mean

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

SUSTAINED_S = 120
"""Window of a sustained effort [s] (design choice, set by benchmarks/verdict_sessions.py)."""

DRIFT_S = 600
"""Window of drift into zone 3 [s] (design choice: the trade looks at the average, not at moments)."""

HR_JUDGED_S = 2400
"""By heart rate alone so many active seconds are judged: after that drift and load cannot be told apart (design choice)."""


@dataclass(frozen=True, slots=True)
class Held:
    """How long a mean was held: seconds (windows), and the measured seconds from `start` to `end` (exclusive) that the longest
    unbroken piece of it covers.
    """

    seconds: int
    start: int
    end: int


def held_above(load: FloatArray, ceilings: FloatArray, window_s: int) -> IntArray:
    """Seconds that the mean over the last `window_s` is at or above each ceiling [N].

    Args: `load` [k] over measured seconds laid end to end [W, m/s or bpm], no NaN; only full windows count.
    """
    means = np.sort(trailing_mean(load, window_s))
    return (len(means) - np.searchsorted(means, ceilings, side="left")).astype(np.int64)


def drifted(load: FloatArray, ceilings: FloatArray, window_s: int = DRIFT_S) -> BoolArray:
    """Under which ceilings [N] the session drifted into zone 3: some 10-min mean lies at or above the ceiling."""
    return np.asarray(held_above(load, ceilings, window_s) > 0)


def longest_held(load: FloatArray, low: float, high: float, window_s: int) -> Held | None:
    """Where the mean over `window_s` lies from `low` up to below `high`; None where it never does.

    With the ceiling and inf: a sustained effort or drift. With target top and ceiling: time at the top of the band.
    """
    means = trailing_mean(load, window_s)
    starts, ends = runs((means >= low) & (means < high))
    if not len(starts):
        return None
    longest = int(np.argmax(ends - starts))
    return Held(int((ends - starts).sum()), int(starts[longest]), int(ends[longest]) + window_s - 1)


def judged_by_heart_rate(heart_rate: FloatArray, judged_s: int = HR_JUDGED_S) -> FloatArray:
    """The part of a session that can be judged by heart rate alone: its first 40 active minutes.

    At constant load heart rate climbs by some beats an hour, so that later on it no longer tells the load.
    Source: cardiovascular drift, common practice, no source for the 40 minutes.
    """
    return heart_rate[:judged_s]
