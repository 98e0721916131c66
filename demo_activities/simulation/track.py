"""What a simulated session is before a device records it: one value a second, nothing rounded but power."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Planted:
    """An effort put in on purpose: second of its first pedal stroke, length [s], height [W or m/s], and why it is there."""

    start_s: int
    seconds: int
    watts: float
    cause: str
    forced: bool | None
    counts: bool = True


@dataclass(frozen=True, slots=True)
class Pause:
    """Timer stopped: second of the last record before and of the first one after."""

    stop_s: int
    start_s: int
    kind: str


@dataclass(slots=True)
class Track:
    """One value a second. `running` is False while the timer is stopped."""

    power_w: list[int] = field(default_factory=list)
    speed_mps: list[float] = field(default_factory=list)
    distance_m: list[float] = field(default_factory=list)
    altitude_m: list[float] = field(default_factory=list)
    lat_deg: list[float] = field(default_factory=list)
    lon_deg: list[float] = field(default_factory=list)
    cadence_rpm: list[int] = field(default_factory=list)
    load: list[float] = field(default_factory=list)
    running: list[bool] = field(default_factory=list)
    heart_rate_bpm: list[int] = field(default_factory=list)
    temperature_c: list[int] = field(default_factory=list)
    planted: list[Planted] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.running)


def pauses(running: Sequence[bool], kinds: Sequence[str]) -> list[Pause]:
    """Timer stops of a track, with the kind of each in order."""
    edges = [second for second in range(1, len(running)) if running[second] != running[second - 1]]
    stops = list(zip(edges[0::2], edges[1::2], strict=True))
    return [Pause(stop - 1, start, kind) for (stop, start), kind in zip(stops, kinds, strict=True)]
