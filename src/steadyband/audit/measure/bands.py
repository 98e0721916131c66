"""Time in band (METHOD 3)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeSets, LoadEdges
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.model import BAND_NAMES, EASY, GAP, PAUSE, RESTING, STEADY, UNMEASURED, BandTime
from steadyband.recording.model import Rows

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
CodeArray = NDArray[np.uint8]


def classify(load: FloatArray, edges: LoadEdges, walked: BoolArray) -> CodeArray:
    """Band code of each load [n] (0 easy .. 3 severe, 5 unmeasured): easy < floor <= steady < ceiling <= heavy.

    Without an easy band everything below the ceiling is steady, except what was `walked` [n].
    Source: METHOD 3.
    """
    codes = np.searchsorted(np.array(edges.cuts()), load, side="right").astype(np.uint8)
    if edges.easy_empty:
        codes[walked & (codes == STEADY)] = EASY
    codes[np.isnan(load)] = UNMEASURED
    return codes


def band_times(arrays: SessionArrays, sets: EdgeSets, range_share: float) -> Mapping[str, BandTime]:
    """Seconds, shares and means of the four bands over active measured seconds, with ranges over the curves that fit the test.

    Source: METHOD 3.
    """
    keep, edges = arrays.measured, sets.one(0)
    smoothed = classify(arrays.band_load, edges, arrays.walked)[keep]
    plain = classify(arrays.load, edges, arrays.walked)[keep]
    tail = (1 - range_share) / 2
    ranges = np.quantile(counts_over_sets(arrays, sets, keep)[:, 1:] / np.count_nonzero(keep), (tail, 1 - tail), axis=1)
    return {
        name: BandTime(
            seconds=int(np.count_nonzero(smoothed == code)),
            share=float(np.mean(smoothed == code)),
            share_range=(float(ranges[0, code]), float(ranges[1, code])),
            seconds_1s=int(np.count_nonzero(plain == code)),
            mean_load=_mean(arrays.load[keep][smoothed == code]),
            mean_hr=_mean(arrays.heart_rate[keep][smoothed == code]),
        )
        for code, name in enumerate(BAND_NAMES)
    }


def _mean(values: FloatArray) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.mean()) if len(known) else None


def counts_over_sets(arrays: SessionArrays, sets: EdgeSets, among: BoolArray) -> NDArray[np.int64]:
    """Seconds `among` [n], all of them measured, in each band under each set of edges [4, N] (METHOD 3, 1.3)."""
    load = np.sort(arrays.band_load[among])
    floor, heavy, severe = (np.searchsorted(load, cut, side="left") for cut in sets.cuts())
    easy = np.where(sets.easy_empty, walked_below(arrays, among, sets.cuts()[1]), floor)
    return np.stack((easy, heavy - easy, severe - heavy, len(load) - severe))


def walked_below(arrays: SessionArrays, among: BoolArray, limit: FloatArray) -> NDArray[np.int64]:
    """How many walked seconds `among` [n] have a band load under each `limit` [N]."""
    load = np.sort(arrays.band_load[among & arrays.walked])
    return np.searchsorted(load, limit, side="left").astype(np.int64)


def ribbon(rows: Rows, arrays: SessionArrays | None, edges: LoadEdges | None) -> CodeArray:
    """Ribbon code per row [n]; active seconds without a load or without edges are unmeasured."""
    codes = np.full(len(rows), RESTING, np.uint8)
    codes[rows.active] = UNMEASURED
    if arrays is not None and edges is not None:
        keep = arrays.measured
        codes[keep] = classify(arrays.band_load, edges, arrays.walked)[keep]
    codes[rows.pause] = PAUSE
    codes[rows.gap] = GAP
    return codes
