"""What an audit should find, worked out from the method's words in plain loops; shares no code with the package.

Every function works on lists with one value a second and None where nothing was measured. `runs` and `mean` are all
the machinery there is, on purpose: slow, and easy to check by eye.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Values = list[float | None]

HOLD_S = 10
BAND_HALF_S = 15
SURGE_HALF_S = 5
DOSE_LEAST_S = 1.5
MICRO_MOST_S = 60
DRIFT_WINDOW_S = 600
SKIP_S = 600
HEART_LEAST_S = 2400


@dataclass(frozen=True, slots=True)
class Edges:
    """Floor, target top and ceiling of the steady band, and the heart rate at the ceiling [bpm]."""

    floor: float
    top: float
    ceiling: float
    heart_ceiling: float


@dataclass(frozen=True, slots=True)
class Sample:
    """One record: second, load, heart rate [bpm] and speed [m/s]; None where missing."""

    second: int
    load: float | None
    heart: float | None
    speed: float | None


@dataclass(frozen=True, slots=True)
class FoundSurge:
    """A surge: first second, length, seconds at or above the ceiling, dose [s of the ceiling], and its highest 10-s mean."""

    start_s: int
    length_s: int
    seconds_above: int
    dose_s: float
    height: float


@dataclass(frozen=True, slots=True)
class Rows:
    """One value a second, and which seconds are recorded, paused and active."""

    load: Values
    heart: Values
    recorded: list[bool]
    paused: list[bool]
    active: list[bool]


def rows(samples: Sequence[Sample], pauses: Iterable[tuple[int, int]], has_power: bool) -> Rows:
    """Seconds from the first record to the last; pauses are (last second before, first second after)."""
    count = samples[-1].second + 1
    paused = [False] * count
    for stop, start in pauses:
        for second in range(stop + 1, start):
            paused[second] = True
    recorded = [False] * count
    for one, two in itertools.pairwise(samples):
        held = two.second - one.second <= HOLD_S
        for second in range(one.second, two.second if held else one.second + 1):
            recorded[second] = not paused[second]
    recorded[-1] = True
    load = _held([(item.second, item.load) for item in samples], recorded)
    heart = _held([(item.second, item.heart) for item in samples], recorded)
    speed = _held([(item.second, item.speed) for item in samples], recorded)
    active = [
        recorded[second] and ((speed[second] or 0.0) >= 0.5 or (has_power and (load[second] or 0.0) > 0.0))
        for second in range(count)
    ]
    return Rows(load, heart, recorded, paused, active)


def _held(pairs: Sequence[tuple[int, float | None]], recorded: Sequence[bool]) -> Values:
    valid = [(second, value) for second, value in pairs if value is not None]
    filled: Values = [None] * len(recorded)
    for (one, value), (two, _) in itertools.pairwise(valid):
        for second in range(one, two if two - one <= HOLD_S else one + 1):
            filled[second] = value if recorded[second] else None
    if valid:
        filled[valid[-1][0]] = valid[-1][1]
    return filled


def runs(flags: Sequence[bool]) -> list[tuple[int, int]]:
    """Maximal runs of True as (first, one after the last)."""
    found, first = [], None
    for place, flag in enumerate([*flags, False]):
        if flag and first is None:
            first = place
        if not flag and first is not None:
            found.append((first, place))
            first = None
    return found


def mean(values: Iterable[float | None]) -> float | None:
    """Mean of what is there; None of nothing."""
    there = [value for value in values if value is not None]
    return sum(there) / len(there) if there else None


def centred(values: Values, recorded: Sequence[bool], half: int) -> Values:
    """Mean of `half` seconds either side, cut at the ends of each recorded stretch."""
    out: Values = [None] * len(values)
    for first, after in runs(recorded):
        for second in range(first, after):
            if values[second] is not None:
                out[second] = mean(values[max(first, second - half) : min(after, second + half + 1)])
    return out


def surges(data: Rows, edges: Edges) -> list[FoundSurge]:
    """Runs with a 10-s mean at or above the target top whose sum above the ceiling is worth 1.5 s of it."""
    smooth = sharp(data)
    found = []
    for stretch, after in runs(data.recorded):
        part = [value if value is not None else 0.0 for value in smooth[stretch:after]]
        for first, end in runs([value >= edges.top for value in part]):
            above = [value - edges.ceiling for value in part[first:end] if value >= edges.ceiling]
            dose = sum(above) / edges.ceiling
            if dose >= DOSE_LEAST_S:
                found.append(FoundSurge(stretch + first, end - first, len(above), dose, max(part[first:end])))
    return found


def sharp(data: Rows) -> Values:
    """The 10-s mean of the load in active seconds: 5 s either side."""
    load = [value if active else None for value, active in zip(data.load, data.active, strict=True)]
    return centred(load, data.recorded, SURGE_HALF_S)


def dose_s(data: Rows, edges: Edges, start_s: int, length_s: int) -> float:
    """What the 10-s means around an effort lie above the ceiling, added up, in seconds' worth of the ceiling."""
    around = sharp(data)[max(0, start_s - SURGE_HALF_S) : start_s + length_s + SURGE_HALF_S]
    return sum(max(0.0, (value or 0.0) - edges.ceiling) for value in around) / edges.ceiling


def above_s(data: Rows, edges: Edges) -> float:
    """All that the 10-s mean lies above the ceiling, in seconds' worth of the ceiling."""
    return dose_s(data, edges, 0, len(data.load))


def band_seconds(data: Rows, edges: Edges) -> dict[str, int]:
    """Active measured seconds per band on the 31-s mean."""
    smooth = centred(data.load, data.recorded, BAND_HALF_S)
    counts = {"easy": 0, "steady": 0, "heavy": 0}
    for value, active in zip(smooth, data.active, strict=True):
        if active and value is not None:
            counts["easy" if value < edges.floor else "steady" if value < edges.ceiling else "heavy"] += 1
    return counts


def drifted_run(data: Rows, level: float) -> int:
    """Longest run of active seconds, laid end to end, whose trailing 10-min mean is at or above a load."""
    loads = [value or 0.0 for value, active in zip(data.load, data.active, strict=True) if active]
    total, flags = 0.0, []
    for place, value in enumerate(loads):
        total += value - (loads[place - DRIFT_WINDOW_S] if place >= DRIFT_WINDOW_S else 0.0)
        flags.append(place >= DRIFT_WINDOW_S - 1 and total / DRIFT_WINDOW_S >= level)
    return max((after - first for first, after in runs(flags)), default=0)


def heart_drift_percent(data: Rows) -> float | None:
    """Heart rate per load of the second half against the first, after the first 10 min; None where not judged."""
    pairs = [
        (load, heart)
        for load, heart, active in zip(data.load, data.heart, data.active, strict=True)
        if active and load is not None and heart is not None
    ][SKIP_S:]
    if len(pairs) < HEART_LEAST_S:
        return None
    half = len(pairs) // 2
    load_one, heart_one = _means(pairs[:half])
    load_two, heart_two = _means(pairs[half:])
    if abs(load_two / load_one - 1.0) > 0.10:
        return None
    return ((heart_two / load_two) / (heart_one / load_one) - 1.0) * 100.0


def _means(pairs: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return sum(load for load, _ in pairs) / len(pairs), sum(heart for _, heart in pairs) / len(pairs)


def heart_above_s(data: Rows, edges: Edges) -> int:
    """Active seconds with heart rate above the ceiling's while the 31-s load is below the ceiling."""
    smooth = centred(data.load, data.recorded, BAND_HALF_S)
    return sum(
        active and load is not None and load < edges.ceiling and heart is not None and heart > edges.heart_ceiling
        for active, load, heart in zip(data.active, smooth, data.heart, strict=True)
    )
