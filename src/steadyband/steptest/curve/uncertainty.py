"""Redrawn tests, and what they say about the edges (METHOD 1.3).

Ranges. The plain percentile range of the redrawn edges covers the ceiling about as often as it says, a little lopsided.
It does not do so for the floor, which is always one of the tested loads: there an 80 % range covers 95-98 %, and still
says nothing of where between two steps the rise began. So
1. every range is the bias-corrected percentile range: redrawing noisy readings shifts the edges once more the way the
   noise has shifted them already ("first" rise: noise makes it earlier);
2. the floor's range is that of the load where the curve crosses plateau + rise. Its upper end is stretched to the floor
   itself, the first tested load at or after that crossing, and its lower end then moved up until the share is held again.
The redrawn tests themselves are plain, and so is every agreement. How often the ranges cover a known truth is measured
by `benchmarks/coverage.py`. Over 6 x 2,000 invented tests of 20-W steps whose truth is off a step edge, 80 % ranges
covered the load where the known curve rises by 0.3 mmol/L in 80-86 % of the tests (mean 83), the floor of the test
without scatter in 79-88 % (mean 83), the ceiling in 78-81 % (mean 80). Steps of 25 W and more on a strongly bent curve read
the ceiling too low by the chord between two steps (covered in 72 %): smaller steps are the remedy.
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.monotone import TINY, EdgeArrays, band_edges
from steadyband.steptest.curve.readings import counted_readings, first_running_step, load_values
from steadyband.steptest.model import EdgeRange, FloatArray, StepTest

NORMAL = NormalDist()


def redraw_lactate(test: StepTest, settings: StepTestSettings) -> FloatArray:
    """Step lactate of `settings.draws` redrawn tests [N, n + 1], mmol/L (METHOD 1.3).

    Every counted sample is drawn again from Normal(L, sd(L)) and the step's median taken again; samples that do not
    count for a step cannot move an edge and are left alone. Seeded by `settings.seed`: same file, same answer.
    """
    readings = counted_readings(test)
    flat = np.array([value for values in readings for value in values])
    noise = np.random.default_rng(settings.seed).standard_normal((settings.draws, flat.size))
    drawn = flat + test.analyser_sd.at(flat) * noise
    ends = np.cumsum([len(values) for values in readings])
    return np.stack([np.median(part, axis=1) for part in np.split(drawn, ends[:-1], axis=1)], axis=1)


def redraw_edges(test: StepTest, settings: StepTestSettings) -> EdgeArrays:
    """Edges of every redrawn test [N], W or m/s; inf where an edge lies above the last load."""
    raw = redraw_lactate(test, settings)
    return band_edges(load_values(test), raw, test.analyser_sd, settings, first_running_step(test))


def edge_ranges(found: EdgeArrays, drawn: EdgeArrays, share: float) -> dict[str, EdgeRange]:
    """Median and range of floor, target top and ceiling from the test's own edges [1] and the redrawn ones [N]."""
    return {
        "floor": _edge_range(found.rise_load[0], drawn.rise_load, share, at_least=found.floor[0], of=drawn.floor),
        "target_top": _edge_range(found.target_top[0], drawn.target_top, share),
        "ceiling": _edge_range(found.ceiling[0], drawn.ceiling, share),
    }


def corrected_range(estimate: float, draws: FloatArray, share: float, at_least: float = -np.inf) -> tuple[float, float]:
    """Bias-corrected percentile range of an edge, ending at `at_least` or above (METHOD 1.3).

    With p the share of draws below the estimate (ties count half) and z0 = Phi^-1(p), the limit of corrected
    probability c is the quantile of the draws at Phi(2 z0 + Phi^-1(c)); the range runs from c = (1 - share) / 2 to
    (1 + share) / 2. For p = 1/2 that is the plain percentile range, which also stands where the estimate is infinite.
    Where the upper end has to be stretched to `at_least`, the lower end moves up until the range holds `share` again.

    Args: estimate [W or m/s]; draws [N], same unit, inf allowed; share, 0..1. Returns (low, high), same unit.
    Source: Efron B (1981) Can J Stat 9:139-158, bias-corrected percentile interval (from memory); the stretch is ours.
    """
    z0 = NORMAL.inv_cdf(_share_below(draws, estimate)) if np.isfinite(estimate) else 0.0
    low, high = (1 - share) / 2, (1 + share) / 2
    top = max(_corrected(draws, z0, high), at_least)
    if top == at_least:
        high = max(high, NORMAL.cdf(NORMAL.inv_cdf(_share_below(draws, at_least)) - 2 * z0))
    return _corrected(draws, z0, max(low, high - share)), top


def _edge_range(
    estimate: float, draws: FloatArray, share: float, *, at_least: float = -np.inf, of: FloatArray | None = None
) -> EdgeRange:
    low, high = corrected_range(estimate, draws, share, at_least)
    middle = float(np.quantile(draws if of is None else of, 0.5, method="inverted_cdf"))
    return EdgeRange(_finite(middle), _finite(min(low, estimate)), _finite(max(high, estimate)))


def _corrected(draws: FloatArray, z0: float, probability: float) -> float:
    level = NORMAL.cdf(2 * z0 + NORMAL.inv_cdf(probability))
    return float(np.quantile(draws, level, method="inverted_cdf"))


def _share_below(draws: FloatArray, load: float) -> float:
    """Share of draws below a load, ties counted half, kept off 0 and 1."""
    slack = TINY * abs(load) if np.isfinite(load) else 0.0
    share = (np.mean(draws < load - slack) + np.mean(draws <= load + slack)) / 2
    return float(np.clip(share, 0.5 / len(draws), 1 - 0.5 / len(draws)))


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
