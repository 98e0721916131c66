"""From a step test to its zone set: curves, edges, ranges, heart-rate limits, checks, other readings (METHOD 1)."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.checks import run_checks
from steadyband.steptest.curve.methods import other_readings
from steadyband.steptest.curve.monotone import first_rises, isotonic
from steadyband.steptest.curve.posterior import Curves, draw_curves, edge_sets
from steadyband.steptest.curve.readings import (
    first_running_step,
    hr_values,
    lactate_values,
    load_values,
    readings_of,
)
from steadyband.steptest.model import (
    CurvePoint,
    EdgeRange,
    Edges,
    FloatArray,
    HrLimits,
    Ribbon,
    StepTest,
    ZoneDraws,
    ZoneSet,
)

EDGE_NAMES = ("floor", "target_top", "ceiling")
RIBBON_POINTS = 60
HR_NOTED = 4
"""Fewest steps with a heart rate that show how it scatters about a straight line (design choice)."""


@lru_cache(maxsize=64)
def make_zones(test: StepTest, settings: StepTestSettings = StepTestSettings()) -> ZoneSet:
    """The zone set of one test (METHOD 1.2, 1.3, 1.4).

    Args: test, as loaded; settings, the method's defaults where not given.
    Returns the zone set; `usable` is False where a check blocks and the athlete has not overridden it by name. Equal tests
    give the same one: nothing may write into its arrays.

    In the folder of the project, with the test of the invented athlete:

    >>> from steadyband.steptest.file.reading import load_test
    >>> zones = make_zones(load_test("demo_activities/tests/2026-04-20-bike.toml"))
    >>> zones.edges.floor < zones.edges.target_top < zones.edges.ceiling
    True
    """
    loads, raw, read = load_values(test), lactate_values(test), readings_of(test)
    fitted = isotonic(raw[None, :], test.analyser_sd.at(raw[None, :]) ** -2.0)
    rises = first_rises(raw[None, :], fitted, test.analyser_sd, settings)
    curves = draw_curves(read, test.analyser_sd, settings, settings.draws)
    draws = _draws(test, edge_sets(curves, loads[-1], settings), settings.seed)
    edges = _edges(test, draws, int(rises.k[0]) or None, float(np.median(curves.base)))
    checks = run_checks(test, edges, curves, settings)
    return ZoneSet(
        test=test,
        usable=test.override is not None or all(check.severity != "block" for check in checks),
        edges=edges,
        ranges=_ranges(draws.edges[1:], loads[-1], settings.range_share),
        hr=HrLimits(*(_finite(value) for value in draws.hr[0])),
        hr_ranges=_hr_ranges(test, draws, settings.range_share),
        curve=_curve(test, raw, curves),
        ribbon=_ribbon(curves, loads[1:], settings.range_share),
        scatter=float(np.median(curves.scatter)),
        checks=checks,
        methods=other_readings(loads, raw, fitted[0]),
        draws=draws,
        settings=settings,
    )


def hr_at(test: StepTest, loads: FloatArray) -> FloatArray:
    """Highest heart rate at any load, piecewise linear between the steps where it was noted (METHOD 1.2).

    Args: loads [any shape], W or m/s. Returns bpm, same shape: below the first step noted that step's own, an upper bound; NaN
    above the last one noted.
    """
    hr, steps = hr_values(test), load_values(test)[1:]
    noted = ~np.isnan(hr)
    if not noted.any():
        return np.full(np.shape(loads), np.nan)
    result: FloatArray = np.interp(loads, steps[noted], hr[noted], right=np.nan)
    return result


def _draws(test: StepTest, sets: FloatArray, seed: int) -> ZoneDraws:
    """The edge sets with their heart rates; the nominal set is never put below the first step."""
    first, easy_to = test.steps[0].load_si, test.steps[first_running_step(test) - 1].load_si
    easy_empty = sets[:, 0] <= easy_to
    sets = sets.copy()
    sets[0] = np.maximum(sets[0], first)
    return ZoneDraws(sets, np.vstack((hr_at(test, sets[:1]), _hr_drawn(test, sets[1:], seed))), easy_empty)


def _hr_drawn(test: StepTest, loads: FloatArray, seed: int) -> FloatArray:
    """`hr_at` [bpm] of drawn edges [N, 3], with the scatter of the heart rates noted about their straight line over load.

    Edges past the last step noted go on by that line: a curve may have its ceiling there where that of the test lies before it, and
    without a limit of its own heart rate could never be above it. The scatter shifts all three limits of a curve together;
    under `HR_NOTED` steps noted it cannot be told and is left out.
    """
    noted = ~np.isnan(hr_values(test))
    steps, hr = load_values(test)[1:][noted], hr_values(test)[noted]
    found = hr_at(test, loads)
    if len(hr) < HR_NOTED:
        return found
    slope, start = np.polyfit(steps, hr, 1)
    scatter = float(np.sqrt(np.sum((hr - start - slope * steps) ** 2) / (len(hr) - 2)))
    beyond = np.isfinite(loads) & (loads > steps[-1])
    found[beyond] = hr[-1] + max(slope, 0.0) * (loads[beyond] - steps[-1])
    result: FloatArray = found + scatter * np.random.default_rng(seed).standard_normal((len(found), 1))
    return result


def _edges(test: StepTest, draws: ZoneDraws, first_rise: int | None, plateau: float) -> Edges:
    floor, target_top, ceiling = (_finite(value) for value in draws.edges[0])
    last = test.steps[-1].load_si
    inside = any((floor or np.inf) <= step.load_si <= (ceiling or np.inf) for step in test.steps)
    return Edges(
        first_rise=first_rise,
        plateau=plateau,
        floor=floor,
        target_top=last if target_top is None else target_top,
        ceiling=ceiling,
        ceiling_at_least=last if ceiling is None else None,
        untested=floor is not None and not inside,
        easy_empty=bool(draws.easy_empty[0]),
    )


def _ranges(draws: FloatArray, last: float, share: float) -> dict[str, EdgeRange]:
    """Range of every edge over its draws [N, 3]; an end beyond `last` is None."""
    tail = (1 - share) / 2
    ends = np.quantile(draws, (tail, 1 - tail), axis=0, method="inverted_cdf")
    return {
        name: EdgeRange(*(float(end) if np.isfinite(end) and end <= last else None for end in ends[:, column]))
        for column, name in enumerate(EDGE_NAMES)
    }


def _hr_ranges(test: StepTest, draws: ZoneDraws, share: float) -> dict[str, EdgeRange]:
    """Ranges of the heart-rate limits; an end past the last step noted is None."""
    last = max((step.hr_max_bpm for step in test.steps if step.hr_max_bpm is not None), default=np.inf)
    return _ranges(np.where(np.isnan(draws.hr[1:]), np.inf, draws.hr[1:]), last, share)


def _curve(test: StepTest, raw: FloatArray, curves: Curves) -> tuple[CurvePoint, ...]:
    fitted = np.median(curves.lactate(load_values(test)), axis=0)
    sd = test.analyser_sd.at(raw)
    hr = (None, *(step.hr_max_bpm for step in test.steps))
    rows = zip(load_values(test), raw, fitted, sd, hr, strict=True)
    return tuple(CurvePoint(float(x), float(y), float(fit), float(s), beats) for x, y, fit, s, beats in rows)


def _ribbon(curves: Curves, steps: FloatArray, share: float) -> Ribbon:
    loads = np.linspace(steps[0], steps[-1], RIBBON_POINTS)
    low, middle, high = np.quantile(curves.lactate(loads), ((1 - share) / 2, 0.5, (1 + share) / 2), axis=0)
    return Ribbon(loads, low, middle, high)


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
