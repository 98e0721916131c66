"""From a step test to its zone set: curve, edges, ranges, heart-rate limits, checks, other readings (METHOD 1)."""

from __future__ import annotations

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.methods import other_readings
from steadyband.steptest.curve.monotone import EdgeArrays, band_edges
from steadyband.steptest.curve.readings import first_running_step, hr_values, lactate_values, load_values
from steadyband.steptest.curve.uncertainty import edge_ranges, redraw_edges
from steadyband.steptest.file.checks import run_checks
from steadyband.steptest.model import (
    CurvePoint,
    Edges,
    FloatArray,
    HrLimits,
    StepTest,
    ZoneDraws,
    ZoneSet,
)


def make_zones(test: StepTest, settings: StepTestSettings = StepTestSettings()) -> ZoneSet:
    """The zone set of one test (METHOD 1.2-1.4).

    Args: test, as loaded; settings, the method's defaults where not given.
    Returns the zone set; `usable` is False where a check blocks and the athlete has not overridden it by name.
    """
    loads, raw = load_values(test), lactate_values(test)
    found = band_edges(loads, raw[None, :], test.analyser_sd, settings, first_running_step(test))
    drawn = redraw_edges(test, settings)
    edges = _edges(test, found)
    checks = run_checks(test, edges, settings)
    return ZoneSet(
        test=test,
        usable=test.override is not None or all(check.severity != "block" for check in checks),
        edges=edges,
        ranges=edge_ranges(found, drawn, settings.range_share),
        hr=_hr_limits(test, found),
        curve=_curve(test, raw, found.fitted[0]),
        checks=checks,
        methods=other_readings(loads, raw, found.fitted[0]),
        draws=_draws(test, drawn),
        settings=settings,
    )


def hr_at(test: StepTest, loads: FloatArray) -> FloatArray:
    """Highest heart rate at any load, piecewise linear between the steps where it was noted (METHOD 1.2).

    Args: loads [any shape], W or m/s. Returns bpm, same shape; NaN outside the loads where heart rate was noted.
    """
    hr, steps = hr_values(test), load_values(test)[1:]
    noted = ~np.isnan(hr)
    if not noted.any():
        return np.full(np.shape(loads), np.nan)
    result: FloatArray = np.interp(loads, steps[noted], hr[noted], left=np.nan, right=np.nan)
    return result


def _edges(test: StepTest, found: EdgeArrays) -> Edges:
    first_rise = int(found.rises.k[0])
    ceiling = _finite(found.ceiling[0])
    return Edges(
        first_rise=first_rise or None,
        plateau=float(found.rises.plateau[0]),
        floor=_finite(found.floor[0]),
        target_top=float(found.target_top[0]),
        ceiling=ceiling,
        ceiling_at_least=test.steps[-1].load_si if ceiling is None else None,
        jumped=bool(found.jumped[0]),
        easy_empty=bool(found.easy_empty[0]),
    )


def _hr_limits(test: StepTest, found: EdgeArrays) -> HrLimits:
    at_edges = hr_at(test, np.array([found.floor[0], found.target_top[0], found.ceiling[0]]))
    floor, target_top, ceiling = (_finite(value) for value in at_edges)
    return HrLimits(floor, target_top, ceiling)


def _curve(test: StepTest, raw: FloatArray, fitted: FloatArray) -> tuple[CurvePoint, ...]:
    sd = test.analyser_sd.at(raw)
    hr = (None, *(step.hr_max_bpm for step in test.steps))
    rows = zip(load_values(test), raw, fitted, sd, hr, strict=True)
    return tuple(CurvePoint(float(x), float(y), float(fit), float(s), beats) for x, y, fit, s, beats in rows)


def _draws(test: StepTest, drawn: EdgeArrays) -> ZoneDraws:
    return ZoneDraws(
        floor=drawn.floor,
        target_top=drawn.target_top,
        ceiling=drawn.ceiling,
        hr_floor=hr_at(test, drawn.floor),
        hr_target_top=hr_at(test, drawn.target_top),
        hr_ceiling=hr_at(test, drawn.ceiling),
        easy_empty=drawn.easy_empty,
    )


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
