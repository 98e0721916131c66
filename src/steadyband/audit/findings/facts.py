"""What is known about a session when it is judged: the measured rows, and what the edges as tested make of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeSets, LoadEdges
from steadyband.audit.measure.bands import classify
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.measure.means import runs
from steadyband.audit.model import EASY, BandTime, Drift, SessionInfo, Surges
from steadyband.ground.settings import Settings

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Facts:
    """One session with everything that its findings stand on; row 0 is the Unix second `start_s`.

    `arrays` and `temperature_c` are measured; `bands`, `surges` and `drift` are what the edges as tested, `sets` number 0,
    make of them.
    """

    info: SessionInfo
    start_s: int
    arrays: SessionArrays
    sets: EdgeSets
    bands: Mapping[str, BandTime]
    surges: Surges | None
    drift: Drift
    settings: Settings
    temperature_c: float | None = None

    @property
    def edges(self) -> LoadEdges:
        """The edges as tested."""
        return self.sets.one(0)

    def share_in(self, *codes: int) -> float:
        """Share of the judged seconds in these bands together, by the edges as tested."""
        return float(np.mean(self.in_bands(*codes)[self.arrays.judged]))

    def in_bands(self, *codes: int) -> BoolArray:
        """Judged seconds [n] in these bands by the edges as tested."""
        arrays = self.arrays
        return arrays.judged & np.isin(classify(arrays.band_load, self.edges, arrays.walked), codes)

    def certainly_easy(self) -> BoolArray:
        """Judged seconds [n] that are certainly easy: where no floor was found, those below the highest load tested."""
        if self.edges.easy_empty or math.isfinite(self.edges.floor):
            return self.in_bands(EASY)
        return self.arrays.judged & (self.arrays.band_load < self.edges.highest_easy)

    def place(self, row: int, length_s: int, **numbers: Any) -> dict[str, Any]:
        """One place of evidence: when ("HH:MM" for every reader), where from the session's start, how long, and its numbers."""
        local = datetime.fromtimestamp(self.start_s + row, tz=self.info.local_start.tzinfo)
        return {"time_of_day": f"{local:%H:%M}", "start_s": int(row), "length_s": int(length_s), **numbers}

    def longest_runs(self, mask: BoolArray) -> list[dict[str, Any]]:
        """The longest unbroken runs of `mask` [n] as places, in time order, with their mean load."""
        starts, ends = runs(mask, self.arrays.stretch)
        longest = np.sort(np.argsort(starts - ends, kind="stable")[: self.settings.verdict.places])
        return [
            self.place(start, end - start, mean_load=_mean(self.arrays.load[start:end]))
            for start, end in zip(starts[longest].tolist(), ends[longest].tolist(), strict=True)
        ]


def _mean(values: NDArray[np.float64]) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.mean()) if len(known) else None
