"""How the loads of one session or test are written, and how they stand to its edges in words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from steadyband.audit.edges import LoadEdges, edges_used
from steadyband.audit.model import Audit
from steadyband.ground.units import LoadUnit, ShownUnit, load_text, pace_unit, shown_unit

EDGES = ("floor", "target top", "ceiling", "upper threshold")
NOUNS: Mapping[str, str] = {
    "power": "power",
    "flat_equivalent_speed": "flat-equivalent speed",
    "heart_rate": "heart rate",
}


@dataclass(frozen=True, slots=True)
class Loads:
    """How loads of one session or test are written: in the unit of the test (or its counterpart in miles), or beats a minute."""

    unit: LoadUnit | Literal["bpm"]

    @property
    def shown(self) -> ShownUnit | Literal["bpm"]:
        """The unit loads are written in for this reader."""
        return "bpm" if self.unit == "bpm" else shown_unit(self.unit)

    def text(self, value: float | None) -> str:
        """One load [W, m/s or bpm] with its unit; a dash where there is none.

        >>> Loads("min/km").text(3.0), Loads("bpm").text(156.0), Loads("W").text(None)
        ('5:33 min/km', '156 bpm', '–')
        """
        if self.unit != "bpm":
            return load_text(value, self.unit)
        return "–" if value is None or not math.isfinite(value) else f"{value:.0f} bpm"

    def bare(self, value: float | None) -> str:
        """One load without its unit."""
        return self.text(value).removesuffix(f" {self.shown}")

    def range(self, low: float | None, high: float | None) -> str:
        """ "166 to 174 W"; an end that lies above the last load of the test is said to."""
        if low is None and high is None:
            return "above the last load"
        if high is None:
            return f"{self.text(low)} or {'more' if self.unit in ('W', 'bpm') else 'faster'}"
        return f"{self.bare(low)} to {self.text(high)}" if self.text(low) != self.text(high) else self.text(high)


def unit_shown(sport: str, unit: LoadUnit) -> LoadUnit:
    """The unit that loads of a sport are told in: a pace for every run, whatever unit its test was typed in."""
    return pace_unit() if sport == "running" and unit == "km/h" else unit


def loads_of(audit: Audit) -> Loads:
    """How this session's loads are written."""
    if audit.load is not None and audit.load.channel == "heart_rate":
        return Loads("bpm")
    if audit.zones is not None:
        return Loads(unit_shown(audit.info.sport, audit.zones.load_unit))
    return Loads("W" if audit.load is None or audit.load.unit == "W" else pace_unit())


def edges_of(audit: Audit) -> dict[str, float | None]:
    """The edges of the bands in the unit of the session's load (heart-rate limits where that is the load)."""
    zones = audit.zones
    if zones is None:
        return dict.fromkeys(EDGES)
    if audit.load is not None and audit.load.channel == "heart_rate":
        return dict(zip(EDGES, (zones.hr_floor, zones.hr_target_top, zones.hr_ceiling, None), strict=True))
    return dict(zip(EDGES, (zones.floor, zones.target_top, zones.ceiling, zones.threshold), strict=True))


@dataclass(frozen=True, slots=True)
class Phrases:
    """The load of one judged session against its edges, in words that hold for a pace too."""

    edges: LoadEdges
    loads: Loads
    noun: str
    above: str
    below: str

    @property
    def top(self) -> str:
        """The target top."""
        return self.loads.text(self.edges.target_top)

    @property
    def ceiling(self) -> str:
        """ "the ceiling of 176 W", or the upper threshold where the ceiling is open."""
        name = "ceiling" if math.isfinite(self.edges.ceiling) else "upper threshold"
        return f"the {name} of {self.loads.text(self.edges.cuts()[1])}"

    @property
    def aim(self) -> str:
        """Where the average belongs."""
        edges = self.edges
        if edges.easy_empty or not math.isfinite(edges.floor) or edges.floor >= edges.target_top:
            return f"at or {self.below} {self.top}"
        return f"between {self.loads.text(edges.floor)} and {self.top}"


def phrases_of(audit: Audit) -> Phrases:
    """The phrases of a session that has a load and zones.

    Raises ValueError where it has not.
    """
    if audit.load is None or audit.zones is None:
        raise ValueError("expected a session with a load and zones, found one that was not judged.")
    channel = audit.load.channel
    paced = channel == "flat_equivalent_speed" and loads_of(audit).unit in ("min/km", "min/mile")
    return Phrases(
        edges=edges_used(audit.zones, channel),
        loads=loads_of(audit),
        noun="flat-equivalent pace" if paced else NOUNS[channel],
        above="faster than" if paced else "above",
        below="slower than" if paced else "below",
    )


def percent(share: float) -> str:
    """A share for people: one decimal at most under 10 %, none above.

    >>> percent(0.045), percent(0.03), percent(0.234)
    ('4.5 %', '3 %', '23 %')
    """
    value = 100 * share
    text = f"{value:.1f}".removesuffix(".0") if value < 9.95 else f"{value:.0f}"
    return f"{text} %"
