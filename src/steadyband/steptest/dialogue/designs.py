"""What a step test can be expected to tell before it is done: the width of its ranges, by start and step height (METHOD 1.6).

The posterior of `posterior` seen from afar: for each of many likely curves, the samples that the test would take narrow the prior
of its five numbers as a straight-line model near that curve does (inverse of prior precision plus information; Chaloner and
Verdinelli 1995, Stat Sci 10:273, from memory). Held to the posterior itself by the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.posterior import (
    BASE_SD,
    CLEARING_HALF_MIN,
    FLOOR_SD,
    FLOOR_STEPS,
    SCATTER,
    WIDTH,
    WIDTH_LOG_SD,
    curves_of,
)
from steadyband.steptest.model import AnalyserSd, FloatArray, ZoneSet

BASE = 1.1
"""Flat part of the imagined curves [mmol/L]; it moves no width."""
ROUGH_SD = 0.08
"""How far a rough idea of the floor is out, as a share of it (design choice)."""
DAY_SD = 0.05
"""How far the edges of an earlier test are out on another day, as a share (SOURCES S2: 3.4 to 8.1 %)."""
BEND_SD, BEND = 1.8, 0.0
"""Scatter and centre of the logit of the bend (that of the posterior's prior)."""
CLEARING_SD = 0.15
"""Scatter of what is left over at the baseline [mmol/L] (that of the posterior's prior)."""
AFAR = 1.3
"""Ranges of the posterior over those of its straight-line model (measured: bad drops and a scatter to be learnt widen them)."""
FLOORS, WIDTHS = np.linspace(-1.5, 1.5, 7), np.linspace(-1.2, 1.2, 3)
"""Where the imagined floors and widths lie, in SD of what is known of them."""


@dataclass(frozen=True, slots=True)
class Likely:
    """Curves to plan for, all [k], W or m/s: floor and width (ceiling less floor), and how likely each is (sums to one)."""

    floor: FloatArray
    width: FloatArray
    weight: FloatArray


@dataclass(frozen=True, slots=True)
class Design:
    """A way to test, W or m/s: first load, step height, most steps, samples a step and minutes of a step."""

    start: float
    height: float
    most: int
    samples: int = 2
    minutes: float = 10.0


def likely_near(floor: float) -> Likely:
    """Curves about a rough idea of the floor [W or m/s]."""
    return _lattice(floor, ROUGH_SD * floor, WIDTH * floor / (1 - WIDTH), WIDTH_LOG_SD)


def likely_after(last: ZoneSet) -> Likely | None:
    """Curves about the edges of an earlier test; None where its ceiling was open."""
    floor, _, ceiling = last.draws.edges[1:].T
    if last.edges.floor is None or last.edges.ceiling is None:
        return None
    width = np.log(ceiling - floor)
    spread = np.hypot(np.std(floor), DAY_SD * last.edges.floor)
    return _lattice(last.edges.floor, float(spread), float(np.exp(np.median(width))), float(np.std(width)))


def _lattice(floor: float, floor_sd: float, width: float, width_log_sd: float) -> Likely:
    a, b = np.meshgrid(FLOORS, WIDTHS, indexing="ij")
    weight = np.exp(-0.5 * (a**2 + b**2)).ravel()
    return Likely(floor + floor_sd * a.ravel(), width * np.exp(width_log_sd * b.ravel()), weight / weight.sum())


def expected_widths(
    design: Design, likely: Likely, analyser: AnalyserSd, settings: StepTestSettings
) -> tuple[float, float]:
    """Widths of the ranges of floor and ceiling to be expected, W or m/s, in the mean over the likely curves (METHOD 1.6).

    Each imagined test stops one step past its ceiling, or after `most` steps.
    """
    loads: FloatArray = design.start + design.height * np.arange(design.most, dtype=np.float64)
    both = [
        _widths(design, loads, f, w, analyser, settings)
        for f, w in zip(likely.floor.tolist(), likely.width.tolist(), strict=True)
    ]
    floor, ceiling = likely.weight @ np.array(both)
    return float(floor), float(ceiling)


def _widths(
    design: Design, loads: FloatArray, floor: float, width: float, analyser: AnalyserSd, settings: StepTestSettings
) -> tuple[float, float]:
    loads = loads[: int(np.searchsorted(loads, floor + width)) + 1]
    unit = float(loads[-1])
    at = np.array([BASE, floor / unit, np.log(width / unit), BEND, 0.0])
    prior = np.array(
        [
            BASE_SD,
            (FLOOR_SD * (len(loads) - 1) + FLOOR_STEPS) * design.height / unit,
            WIDTH_LOG_SD,
            BEND_SD,
            CLEARING_SD,
        ]
    )
    sd = SCATTER * analyser.at(_levels(at[None, :], loads, unit, design, settings)[0])
    slopes = _slopes(at, 0.02 * prior, loads, unit, design, settings)
    weights = np.r_[1.0, np.full(len(loads), design.samples)] / sd**2
    spread = np.linalg.inv(np.diag(prior**-2.0) + slopes.T @ (weights[:, None] * slopes))
    to_ceiling = np.array([0.0, 1.0, width / unit, 0.0, 0.0])
    wide = AFAR * 2 * NormalDist().inv_cdf((1 + settings.range_share) / 2) * unit
    return wide * float(np.sqrt(spread[1, 1])), wide * float(np.sqrt(to_ceiling @ spread @ to_ceiling))


def _levels(
    points: FloatArray, loads: FloatArray, unit: float, design: Design, settings: StepTestSettings
) -> FloatArray:
    """Lactate at the baseline and at the end of each step [k, 1 + n] of points [k, 5], clearing last."""
    curves = curves_of(np.column_stack((points[:, :4], np.zeros((len(points), 2)))), unit, settings)
    left = 0.5 ** (np.arange(len(loads) + 1) * design.minutes / CLEARING_HALF_MIN)
    result: FloatArray = np.column_stack((curves.base, curves.lactate(loads))) + points[:, 4:] * left
    return result


def _slopes(
    at: FloatArray, steps: FloatArray, loads: FloatArray, unit: float, design: Design, settings: StepTestSettings
) -> FloatArray:
    """Slope of every level by each of the five numbers [1 + n, 5], by central differences."""
    up, down = (_levels(at + sign * np.diag(steps), loads, unit, design, settings) for sign in (1, -1))
    result: FloatArray = (up - down).T / (2 * steps)
    return result
