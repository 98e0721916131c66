"""Edges of all tests over time: what changed beyond the ranges, and what did not (METHOD 1.3, 1.5)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from steadyband.ground.units import LoadUnit, is_speed, load_text
from steadyband.steptest.model import FloatArray, ZoneSet

EDGES = ("floor", "target_top", "ceiling")
DAY_TO_DAY_PERCENT = (3.4, 8.1)
"""Repeatability of lactate thresholds within a person, % CV over five tests (SOURCES S2, Heuberger 2018)."""

Way = Literal["up", "down", "same", "unknown"]


@dataclass(frozen=True, slots=True)
class EdgeChange:
    """One edge in two tests [W or m/s; None where not found]: `higher` and `lower` are the shares of pairs of
    curves in which the later edge lies above or below the earlier one."""

    edge: str
    before: float | None
    now: float | None
    higher: float
    lower: float
    way: Way


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two tests of one sport, state and kind of load, the earlier first; `cautions` say what else differs."""

    before: ZoneSet
    now: ZoneSet
    changes: tuple[EdgeChange, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HistoryGroup:
    """All tests of one sport, state and kind of load (W or speed), by date, and each against the one before."""

    sport: str
    state: str
    load_unit: LoadUnit
    zone_sets: tuple[ZoneSet, ...]
    comparisons: tuple[Comparison, ...]


def history(zone_sets: Sequence[ZoneSet]) -> tuple[HistoryGroup, ...]:
    """Tests grouped by sport, state and kind of load; blocked tests are left out of the comparisons, not of the list."""
    keys = sorted({_key(item) for item in zone_sets})
    return tuple(_group([item for item in zone_sets if _key(item) == key]) for key in keys)


def compare_tests(before: ZoneSet, now: ZoneSet) -> Comparison:
    """Every edge of two tests against each other (METHOD 1.3, SOURCES S2).

    An edge has changed beyond the ranges where the range of the difference (80 % by default), over pairs of curves,
    leaves out zero: at least 90 % of the pairs lie on one side.
    """
    changes = tuple(_change(name, before, now) for name in EDGES)
    return Comparison(before, now, changes, tuple(_cautions(before, now)))


def change_sentence(change: EdgeChange, unit: LoadUnit) -> str:
    """One edge's change in a sentence."""
    name = change.edge.replace("_", " ").capitalize()
    texts = [load_text(value, unit) if value is not None else "not found" for value in (change.before, change.now)]
    if change.way == "unknown":
        return f"{name}: {texts[0]}, then {texts[1]}; not compared, because it lies above the last load of a test."
    if change.way == "same":
        return f"{name}: {texts[0]}, then {texts[1]}; no change beyond the ranges."
    share = change.higher if change.way == "up" else change.lower
    return (
        f"{name}: {texts[0]}, then {texts[1]}; {change.way} beyond the ranges ({100 * share:.0f} % of pairs of curves)."
        f"{_day_to_day(change)}"
    )


def _key(zone_set: ZoneSet) -> tuple[str, str, bool]:
    return (zone_set.test.sport, zone_set.test.state, is_speed(zone_set.test.load_unit))


def _group(zone_sets: Sequence[ZoneSet]) -> HistoryGroup:
    ordered = tuple(sorted(zone_sets, key=lambda item: (item.test.date, item.test.file)))
    usable = [item for item in ordered if item.usable]
    latest = ordered[-1].test
    comparisons = tuple(compare_tests(before, now) for before, now in pairwise(usable))
    return HistoryGroup(latest.sport, latest.state, latest.load_unit, ordered, comparisons)


def _change(name: str, before: ZoneSet, now: ZoneSet) -> EdgeChange:
    values = [getattr(item.edges, name) for item in (before, now)]
    column = EDGES.index(name)
    higher, lower = _pair_shares(before.draws.edges[1:, column], now.draws.edges[1:, column])
    side = (1 + now.settings.range_share) / 2
    way: Way = "up" if higher >= side else "down" if lower >= side else "same"
    if None in values:
        way = "unknown"
    return EdgeChange(name, values[0], values[1], higher, lower, way)


def _pair_shares(before: FloatArray, now: FloatArray) -> tuple[float, float]:
    """Shares of pairs with now above and below before. Equal seeds make equal noise, so the draws are paired out of step."""
    count = min(len(before), len(now))
    earlier, later = np.roll(before[:count], count // 2), now[:count]
    return float(np.mean(later > earlier * (1 + 1e-9))), float(np.mean(later < earlier * (1 - 1e-9)))


def _day_to_day(change: EdgeChange) -> str:
    if change.before is None or change.now is None or not math.isfinite(change.before):
        return ""
    percent = 100 * abs(change.now / change.before - 1)
    low, high = DAY_TO_DAY_PERCENT
    if percent > high:
        return ""
    return f" That is {percent:.1f} %; the same person varies by {low:g}-{high:g} % (CV) from day to day, which the ranges leave out."


def _cautions(before: ZoneSet, now: ZoneSet) -> Iterator[str]:
    old, new = before.test, now.test
    yield from _devices(
        "analyser", old.analyser, new.analyser, "brands differ by -10 to +42 %, so this is no clean trend"
    )
    yield from _devices(
        "meter", old.meter, new.meter, "compare them with `steadyband compare-meters` before trusting the trend"
    )
    if abs(old.step_minutes - new.step_minutes) > 1e-6:
        yield (
            f"Step length differs: {old.step_minutes:g}, then {new.step_minutes:g} minutes; shorter steps read the first rise "
            "too high."
        )
    for item in (before, now):
        if item.test.override:
            yield f"The test of {item.test.date} failed a check and is used all the same, because: {item.test.override}."


def _devices(what: str, old: str, new: str, why: str) -> Iterator[str]:
    if old and new and old != new:
        yield f"Two {what}s are mixed ({old}, then {new}): {why}."
    elif old != new:
        yield f"The {what} is named in only one of the two tests: {why if what == 'analyser' else 'it may have been another'}."
