"""Band edges in the unit of the load that a session is judged by: as tested, and for every redrawn test."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import Channel
from steadyband.steptest.model import ZoneSet

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LoadEdges:
    """Edges in W, m/s or bpm; inf where the edge lies above everything tested or, for the threshold, is not given."""

    floor: float
    target_top: float
    ceiling: float
    threshold: float
    easy_empty: bool

    @property
    def release(self) -> float:
        """Load at which a surge lets go: the target top, never above the ceiling."""
        return min(self.target_top, self.ceiling)

    @property
    def highest_easy(self) -> float:
        """Below this the load is certainly easy: the floor, or the highest load tested where no floor was found."""
        return min(self.floor, self.cuts()[1]) if math.isfinite(self.floor) else self.target_top

    def cuts(self) -> tuple[float, float, float]:
        """Lower borders of steady, heavy and severe, in order (METHOD 3)."""
        floor, heavy, severe = _cuts(
            np.array(self.floor), np.array(self.ceiling), self.threshold, np.array(self.easy_empty)
        )
        return float(floor), float(heavy), float(severe)


@dataclass(frozen=True, slots=True)
class EdgeDraws:
    """The same edges for N redrawn tests, each [N]; `hr_ceiling` [bpm] is NaN where it is unknown."""

    floor: FloatArray
    target_top: FloatArray
    ceiling: FloatArray
    threshold: float
    easy_empty: NDArray[np.bool_]
    hr_ceiling: FloatArray

    def __len__(self) -> int:
        return len(self.floor)

    def one(self, number: int) -> LoadEdges:
        """Edges of one redrawn test."""
        return LoadEdges(
            floor=float(self.floor[number]),
            target_top=float(self.target_top[number]),
            ceiling=float(self.ceiling[number]),
            threshold=self.threshold,
            easy_empty=bool(self.easy_empty[number]),
        )

    @property
    def release(self) -> FloatArray:
        """Load at which a surge lets go in each redrawn test [N]."""
        return np.minimum(self.target_top, self.ceiling)

    @property
    def highest_easy(self) -> FloatArray:
        """Below this the load is certainly easy, in each redrawn test [N]."""
        return np.where(np.isfinite(self.floor), np.minimum(self.floor, self.cuts()[1]), self.target_top)

    def cuts(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Lower borders of steady, heavy and severe in each redrawn test, each [N]."""
        return _cuts(self.floor, self.ceiling, self.threshold, self.easy_empty)


def _cuts(
    floor: FloatArray, ceiling: FloatArray, threshold: float, easy_empty: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    severe = np.where(np.isfinite(ceiling), np.maximum(ceiling, threshold), threshold)
    heavy = np.minimum(ceiling, severe)
    steady = np.where(easy_empty, -np.inf, np.minimum(floor, heavy))
    return steady, heavy, severe


def _open(value: float | None) -> float:
    return math.inf if value is None else float(value)


def has_hr_limits(zone_set: ZoneSet) -> bool:
    """True where heart rate was measured at every edge that the test found."""
    edges, hr = zone_set.edges, zone_set.hr
    floor_known = hr.floor is not None or edges.floor is None
    ceiling_known = hr.ceiling is not None or edges.ceiling is None
    return hr.target_top is not None and floor_known and ceiling_known


def edges_for(zone_set: ZoneSet, channel: Channel, threshold: float | None) -> LoadEdges:
    """Edges of `zone_set` on `channel`; the upper threshold [W or m/s] does not apply to heart rate."""
    source = zone_set.hr if channel == "heart_rate" else zone_set.edges
    return LoadEdges(
        floor=_open(source.floor),
        target_top=_open(source.target_top),
        ceiling=_open(source.ceiling),
        threshold=math.inf if channel == "heart_rate" else _open(threshold),
        easy_empty=zone_set.edges.easy_empty,
    )


def draws_for(zone_set: ZoneSet, channel: Channel, threshold: float | None) -> EdgeDraws:
    """Edges of every redrawn test on `channel`; an unknown heart-rate limit counts as never reached."""
    draws = zone_set.draws
    by_hr = channel == "heart_rate"
    chosen = (
        (draws.hr_floor, draws.hr_target_top, draws.hr_ceiling)
        if by_hr
        else (draws.floor, draws.target_top, draws.ceiling)
    )
    floor, target_top, ceiling = (np.where(np.isnan(edge), np.inf, edge) for edge in chosen)
    limit = math.inf if by_hr else _open(threshold)
    return EdgeDraws(floor, target_top, ceiling, limit, draws.easy_empty, draws.hr_ceiling)
