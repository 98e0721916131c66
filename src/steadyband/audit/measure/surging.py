"""When a session surged too often: surges an hour, and work above the ceiling beyond what uneven pedalling explains.

>>> import numpy as np
>>> from steadyband.audit.measure.dose import surge_mean
>>> load, stretch = np.full(3600, 150.0), np.zeros(3600, np.int32)
>>> for start in range(200, 3400, 400):
...     load[start : start + 20] = 230.0
>>> mean = surge_mean(load, stretch)
>>> found = surging(mean, stretch, np.array([176.0, 240.0]), np.array([166.0, 230.0]))
>>> found.per_hour.round(1).tolist(), found.beyond_s.round(1).tolist(), found.raised.tolist()
([8.0, 0.0], [40.4, 0.0], [True, False])
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.dose import FloatArray, StretchArray, above_ceilings, count_surges
from steadyband.audit.measure.scatter import calm_scatter, explained_above
from steadyband.ground.settings import Settings


@dataclass(frozen=True, slots=True)
class Surging:
    """Under each ceiling [N]: surges an hour, work above it and what scatter explains of it [s of the ceiling an hour], and
    whether that is too much; `scatter` is the calm scatter of the session's 11-s mean, as a share."""

    per_hour: FloatArray
    above_s: FloatArray
    explained_s: FloatArray
    raised: NDArray[np.bool_]
    scatter: float

    @property
    def beyond_s(self) -> FloatArray:
        """Work above the ceiling that scatter does not explain [s of the ceiling an hour, N]."""
        return self.above_s - self.explained_s


def surging(
    mean: FloatArray,
    stretch: StretchArray,
    ceilings: FloatArray,
    releases: FloatArray,
    settings: Settings = Settings(),
) -> Surging:
    """Whether a session surged too often, under each ceiling and release [N]; never under an open ceiling.

    Args: `mean` [T] of `surge_mean`, NaN wherever the session was not active or not measured; `stretch` [T].
    Of the settings: the least dose of a surge, and the three limits of the verdict (set by benchmarks/verdict_sessions.py).
    """
    limits = settings.verdict
    hours = np.count_nonzero(~np.isnan(mean)) / 3600
    scatter = calm_scatter(mean)
    if not hours:
        nothing = np.zeros(len(ceilings))
        return Surging(nothing, nothing, nothing, np.zeros(len(ceilings), bool), scatter)
    closed = np.isfinite(ceilings)
    per_hour = count_surges(mean, stretch, ceilings, releases, settings.surges.dose_s) / hours
    above = np.where(closed, above_ceilings(mean, ceilings)[1] / np.where(closed, ceilings, 1.0), 0.0) / hours
    explained = explained_above(mean, scatter, ceilings) / hours
    beyond = above - explained
    often = (per_hour >= limits.surges_per_hour) & (beyond >= limits.surges_beyond_s)
    return Surging(per_hour, above, explained, often | (beyond >= limits.surges_alone_s), scatter)
