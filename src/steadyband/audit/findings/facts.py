"""What is known about a session when it is judged, and how loads, times and places are put into words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import LoadEdges
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.measure.means import runs
from steadyband.audit.model import BandTime, Drift, SessionInfo, Surges
from steadyband.ground.settings import Settings
from steadyband.ground.units import LoadUnit, load_text, time_of_day

NOUNS: Mapping[str, str] = {
    "power": "power",
    "flat_equivalent_speed": "flat-equivalent speed",
    "heart_rate": "heart rate",
}


@dataclass(frozen=True, slots=True)
class Facts:
    """One session with everything worked out that its findings stand on; row 0 is the Unix second `start_s`."""

    info: SessionInfo
    start_s: int
    load_unit: LoadUnit
    arrays: SessionArrays
    edges: LoadEdges
    hr_ceiling: float | None
    bands: Mapping[str, BandTime]
    surges: Surges | None
    drift: Drift
    settings: Settings
    temperature_c: float | None = None

    @property
    def noun(self) -> str:
        """The load in words."""
        return "flat-equivalent pace" if self._paced else NOUNS[self.arrays.channel]

    @property
    def above(self) -> str:
        """How a harder load stands to an edge, in words that hold for a pace too."""
        return "faster than" if self._paced else "above"

    @property
    def below(self) -> str:
        """How an easier load stands to an edge, in words that hold for a pace too."""
        return "slower than" if self._paced else "below"

    @property
    def _paced(self) -> bool:
        return self.arrays.channel == "flat_equivalent_speed" and self.load_unit in ("min/km", "min/mile")

    @property
    def is_hot(self) -> bool:
        """True where the device's mean temperature is known and hot."""
        return self.temperature_c is not None and self.temperature_c >= self.settings.block.hot_c

    def share_of(self, *bands: str) -> float:
        """Share of active measured seconds in these bands together."""
        total = sum(band.seconds for band in self.bands.values())
        return sum(self.bands[name].seconds for name in bands) / total

    def load(self, value: float | None) -> str:
        """A load for people, in the unit of the test; heart rate in bpm."""
        if self.arrays.channel == "heart_rate":
            return "–" if value is None or not np.isfinite(value) else f"{value:.0f} bpm"
        return load_text(value, self.load_unit)

    def used(self, *names: str) -> dict[str, float]:
        """Settings a finding used, as {"group.name": value}."""
        pairs = (name.split(".") for name in names)
        return {f"{group}.{key}": getattr(getattr(self.settings, group), key) for group, key in pairs}

    def time_of_day(self, row: int) -> str:
        """Local time of a row as its reader writes it."""
        return time_of_day(self._local(row))

    def _local(self, row: int) -> datetime:
        return datetime.fromtimestamp(self.start_s + row, tz=self.info.local_start.tzinfo)

    def place(self, row: int, length_s: int, **numbers: Any) -> dict[str, Any]:
        """One place of evidence: when ("HH:MM" for every reader), where from the session's start, how long, and its numbers."""
        return {"time_of_day": f"{self._local(row):%H:%M}", "start_s": int(row), "length_s": int(length_s), **numbers}

    def longest_runs(self, mask: NDArray[np.bool_]) -> list[dict[str, Any]]:
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


def percent(share: float) -> str:
    """A share for people: "4.5 %" or "3 %" under 10 %, else "23 %"."""
    value = 100 * share
    text = f"{value:.1f}".removesuffix(".0") if value < 9.95 else f"{value:.0f}"
    return f"{text} %"
