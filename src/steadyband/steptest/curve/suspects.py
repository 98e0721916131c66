"""Samples that do not sit with the rest of a test, by the posterior over its curves (METHOD 1.1)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.posterior import Curves, Readings, densities
from steadyband.steptest.model import AnalyserSd, FloatArray


@dataclass(frozen=True, slots=True)
class Suspect:
    """One sample [mmol/L] of a step (from 0): the chance that it is a bad drop, and how far [W or m/s] the edge that it moves
    most would go without it."""

    step: int
    lactate: float
    share: float
    moves: float


def suspects(
    readings: Readings, curves: Curves, analyser: AnalyserSd, settings: StepTestSettings, *, asking: bool = False
) -> tuple[Suspect, ...]:
    """The sample that would matter most, where one may well be a bad drop; none in a clean test (METHOD 1.1).

    Raised where a sample is a bad drop with `suspect_share`, or, if taking it for one moves an edge by `suspect_moves` of the last load,
    with the lower `suspect_share_moving`, `suspect_share_alone` in a step of one sample: nothing contradicts that one but the curve. `asking`: while the test lasts another sample is cheap, and one is asked for
    from `suspect_asked` on.
    """
    good, poor = densities(curves, readings, analyser)
    bad = poor / np.maximum(good + poor, 1e-300)
    share, moves = bad.mean(axis=0), _moves(curves, bad, float(readings.loads[-1]), settings)
    moving = moves >= settings.suspect_moves * readings.loads[-1]
    alone = np.bincount(readings.step)[readings.step] == 1
    lower = np.where(alone, settings.suspect_share_alone, settings.suspect_share_moving)
    least = settings.suspect_asked if asking else np.where(moving, lower, settings.suspect_share)
    raised = share >= least
    if not raised.any():
        return ()
    at = int(np.argmax(np.where(raised, share * (moves + 1e-9), -1.0)))
    return (Suspect(int(readings.step[at]), float(readings.lactate[at]), float(share[at]), float(moves[at])),)


def _moves(curves: Curves, bad: FloatArray, last: float, settings: StepTestSettings) -> FloatArray:
    """How far the edge that moves most goes if a sample is taken for a bad drop [m]: medians over the curves that say so.

    Edges beyond the last load do not count.
    """
    edges = [curves.loads_at(rise) for rise in (settings.rise, settings.target_rise, settings.ceiling_rise)]
    shifts = [_shift(edge, bad) for edge in edges if np.median(edge) <= last]
    result: FloatArray = np.max([np.zeros(bad.shape[1]), *shifts], axis=0)
    return result


def _shift(edge: FloatArray, weights: FloatArray) -> FloatArray:
    order = np.argsort(edge)
    summed = np.cumsum(weights[order], axis=0)
    middle = np.argmax(summed >= 0.5 * summed[-1], axis=0)
    result: FloatArray = np.abs(edge[order][middle] - np.median(edge))
    return result
