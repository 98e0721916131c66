"""The monotone line through the steps and the step that first stands up on it (METHOD 1.2): what the trade reads by eye.

Arrays hold tests [N, n + 1]: column 0 is the baseline at load 0, columns 1..n are the steps. Loads are W or m/s, lactate mmol/L.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.model import AnalyserSd, FloatArray

IntArray = NDArray[np.int64]

TINY = 1e-9
"""Slack of every "at least" on typed decimals: 1.1 + 0.3 and 1.4 must count as equal."""


@dataclass(frozen=True, slots=True)
class Rises:
    """First rise of every test: step number k [N] (0 where none), plateau [N] and the rise asked for [N], mmol/L."""

    k: IntArray
    plateau: FloatArray
    rise: FloatArray


def isotonic(values: FloatArray, weights: FloatArray) -> FloatArray:
    """Weighted isotonic (never falling) least-squares fit along the last axis (METHOD 1.2).

    What pool-adjacent-violators gives, written as the max-min formula so that all tests are fitted at once:
    fit_i = max over j <= i of min over k >= i of the weighted mean of values j..k.

    Args: values [N, n]; weights [N, n], positive. Returns the fit [N, n].
    Source: Barlow et al. (1972), Statistical Inference under Order Restrictions (from memory);
    tested against scipy.optimize.isotonic_regression.
    """
    zero = np.zeros((*values.shape[:-1], 1))
    weight = np.concatenate([zero, np.cumsum(weights, axis=-1)], axis=-1)
    total = np.concatenate([zero, np.cumsum(weights * values, axis=-1)], axis=-1)
    span = weight[:, None, 1:] - weight[:, :-1, None]
    inside = np.triu(np.ones((values.shape[-1],) * 2, dtype=bool))
    means = (total[:, None, 1:] - total[:, :-1, None]) / np.where(inside, span, 1.0)
    lowest = np.minimum.accumulate(np.where(inside, means, np.inf)[..., ::-1], axis=-1)[..., ::-1]
    fitted: FloatArray = np.where(inside, lowest, -np.inf).max(axis=1)
    return fitted


def crossing(loads: FloatArray, fitted: FloatArray, level: FloatArray) -> FloatArray:
    """Load at which each piecewise-linear curve first reaches its level (METHOD 1.2).

    Args: loads [n] rising, W or m/s; fitted [N, n] never falling and level [N], mmol/L.
    Returns [N], same unit as loads: the first load where the curve starts at or above the level, inf where it
    never reaches it.
    """
    reached = fitted >= level[:, None] - TINY
    at = np.argmax(reached, axis=1)
    before = np.maximum(at - 1, 0)
    row = np.arange(len(fitted))
    low, high = fitted[row, before], fitted[row, at]
    part = np.clip((level - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
    between = loads[before] + part * (loads[at] - loads[before])
    load = np.where(at == 0, loads[0], between)
    return np.where(reached.any(axis=1), load, np.inf)


def first_rises(raw: FloatArray, fitted: FloatArray, analyser: AnalyserSd, settings: StepTestSettings) -> Rises:
    """First step whose fitted lactate, and so every later one, stands materially above the steps before (METHOD 1.2).

    With k from 1: plateau_k = mean(L_0..L_{k-1}) of the raw values; the first k with fitted L_k >= plateau_k + rise.
    For k = 1, where the plateau is one sample, the rise is the repeatability limit 2.8 x sd(L_0) (ISO 5725-6).

    Args: raw and fitted [N, n + 1], mmol/L. Returns k = 0 where there is none, with the mean of all values.
    Source: SOURCES S1.
    """
    steps = raw.shape[1] - 1
    plateau = np.cumsum(raw, axis=1)[:, :-1] / np.arange(1, steps + 1)
    rise = np.full_like(plateau, settings.rise)
    rise[:, 0] = settings.repeatability * analyser.at(raw[:, 0])
    risen = fitted[:, 1:] >= plateau + rise - TINY
    found, at, row = risen.any(axis=1), np.argmax(risen, axis=1), np.arange(len(raw))
    return Rises(
        np.where(found, at + 1, 0),
        np.where(found, plateau[row, at], raw.mean(axis=1)),
        np.where(found, rise[row, at], settings.rise),
    )
