"""Band edges in the unit of the load that a session is judged by: as tested, and for every curve drawn.

Every rule takes N sets of edges at once; the first set is the nominal one, the edges as tested.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import Channel, ZonesUsed
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
        """Lower borders of steady, heavy and severe, in order (METHOD 3).

        >>> LoadEdges(floor=150.0, target_top=162.0, ceiling=176.0, threshold=math.inf, easy_empty=False).cuts()
        (150.0, 176.0, inf)
        """
        floor, heavy, severe = _cuts(
            np.array(self.floor), np.array(self.ceiling), self.threshold, np.array(self.easy_empty)
        )
        return float(floor), float(heavy), float(severe)


@dataclass(frozen=True, slots=True)
class EdgeSets:
    """N sets of edges, each [N]: the nominal one first, then one for every curve drawn.

    Loads in W, m/s or bpm, inf where an edge lies above everything tested; `hr_ceiling` [bpm] is NaN where it is unknown.
    """

    floor: FloatArray
    target_top: FloatArray
    ceiling: FloatArray
    threshold: float
    easy_empty: NDArray[np.bool_]
    hr_ceiling: FloatArray

    def __len__(self) -> int:
        return len(self.floor)

    def one(self, number: int) -> LoadEdges:
        """One of the sets; 0 is the nominal one."""
        return LoadEdges(
            floor=float(self.floor[number]),
            target_top=float(self.target_top[number]),
            ceiling=float(self.ceiling[number]),
            threshold=self.threshold,
            easy_empty=bool(self.easy_empty[number]),
        )

    @property
    def release(self) -> FloatArray:
        """Load at which a surge lets go in each set [N]."""
        return np.minimum(self.target_top, self.ceiling)

    @property
    def highest_easy(self) -> FloatArray:
        """Below this the load is certainly easy, in each set [N]."""
        return np.where(np.isfinite(self.floor), np.minimum(self.floor, self.cuts()[1]), self.target_top)

    def cuts(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Lower borders of steady, heavy and severe in each set, each [N]."""
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
    return _edges((source.floor, source.target_top, source.ceiling), channel, threshold, zone_set.edges.easy_empty)


def edges_used(zones: ZonesUsed, channel: Channel) -> LoadEdges:
    """The same from the zones that an audit names."""
    by_hr = zones.hr_floor, zones.hr_target_top, zones.hr_ceiling
    by_load = zones.floor, zones.target_top, zones.ceiling
    return _edges(by_hr if channel == "heart_rate" else by_load, channel, zones.threshold, zones.easy_empty)


def _edges(
    edges: tuple[float | None, float | None, float | None], channel: Channel, threshold: float | None, easy_empty: bool
) -> LoadEdges:
    floor, target_top, ceiling = map(_open, edges)
    return LoadEdges(floor, target_top, ceiling, _limit(channel, threshold), easy_empty)


def _limit(channel: Channel, threshold: float | None) -> float:
    return math.inf if channel == "heart_rate" else _open(threshold)


def edge_sets(zone_set: ZoneSet, channel: Channel, threshold: float | None) -> EdgeSets:
    """The edges on `channel` as tested and of every curve drawn; an unknown heart-rate limit counts as never reached.

    Where the target top is open it ends at the last load tested in every set, as the nominal one does.
    """
    nominal, draws = edges_for(zone_set, channel, threshold), zone_set.draws
    by_hr = channel == "heart_rate"
    floor, target_top, ceiling = (draws.hr if by_hr else draws.edges)[1:].T
    if not by_hr and np.isinf(draws.edges[0, 1]):
        target_top = np.minimum(target_top, nominal.target_top)
    hr_ceiling = math.nan if zone_set.hr.ceiling is None else zone_set.hr.ceiling
    return EdgeSets(
        floor=_with_nominal(nominal.floor, floor),
        target_top=_with_nominal(nominal.target_top, target_top),
        ceiling=_with_nominal(nominal.ceiling, ceiling),
        threshold=nominal.threshold,
        easy_empty=np.concatenate(([nominal.easy_empty], draws.easy_empty[1:])),
        hr_ceiling=np.concatenate(([hr_ceiling], draws.hr[1:, 2])),
    )


def _with_nominal(nominal: float, drawn: FloatArray) -> FloatArray:
    return np.concatenate(([nominal], np.where(np.isnan(drawn), np.inf, drawn)))
