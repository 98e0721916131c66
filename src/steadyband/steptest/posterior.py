"""The lactate curves that the samples of one test allow, drawn from their posterior (METHOD 1.2, 1.3).

A curve is flat and then rises: base below a load x0, base + a (exp((load - x0) / s) - 1) above it (SOURCES S12). It is told by
four numbers that a test can show: base, the load where it stands `rise` above base (the floor), how much further up it stands
`ceiling_rise` above base (the width of the band), and how bent it is between straight and purely exponential. A fifth, scatter,
multiplies the analyser's SD: samples taken twice, and steps that lie off the curve, show how much this hand scatters on this day.

One sample in twenty may be a bad drop (sweat and a first drop read high), so no single one can drag the curve. The baseline may
belong to the flat part or not, and counts only as far as it agrees with it.

Sampled by adaptive importance sampling (Cornuet et al. 2012, Scand J Stat 39:798, from memory); tested against emcee.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.settings import StepTestSettings
from steadyband.steptest.model import AnalyserSd, FloatArray

IntArray = NDArray[np.int64]

BASE, BASE_SD = 1.2, 0.5
"""Prior of the flat part [mmol/L]: resting lactate as handheld units read it, brands differing by -10 to +42 % (S1)."""
WIDTH, WIDTH_LOG_SD = 0.14, 0.5
"""Prior of ceiling less floor, as a share of the last load (lognormal; design choice: 15 to 50 W of 200 W in 80 %)."""
SCATTER, SCATTER_LOG_SD = 1.4, 0.5
"""Prior of the scatter over the analyser's SD (lognormal; design choice: fingers scatter more than a laboratory's vials)."""
BAD, BAD_OFF, BAD_SD = 0.05, 0.5, 0.5
"""Share of bad drops, how much higher they read and with what scatter [mmol/L] (design choice: sweat reads high)."""
FOREIGN, FOREIGN_OFF, FOREIGN_SD = 0.3, 0.2, 0.5
"""The same for a baseline that is not part of the flat part: still clearing, or taken at rest (design choice)."""
CLEARING, CLEARING_LOG_SD, CLEARING_HALF_MIN = 0.06, 1.2, 10.0
"""Prior of lactate left over at the baseline [mmol/L] (lognormal: over 0.3 in one test of ten), and the minutes of easy work that
halve it (10 to 20 min from memory; the shortest, since the first steps are work and not rest)."""
BEYOND = 2.0
"""Steps beyond the first and the last load in which a floor is still looked for (design choice)."""
BENDS = (0.02, 0.97)
"""Least and most bend, as a share of that of a pure exponential without a flat part (design choice)."""
ROUNDS, PER_ROUND, TAIL = 6, 2000, 5.0
"""Rounds of importance sampling, draws in each, and degrees of freedom of the proposal (design choice: see METHOD 1.3)."""
DIMENSIONS = 6
ENOUGH = 200.0
"""Effective draws below which the weights of a round are flattened before they shape the next one."""


@dataclass(frozen=True, slots=True)
class Readings:
    """What a curve is drawn through: `loads` [n] of the steps, rising, W or m/s; every counted sample `lactate` [m] in
    mmol/L with the number of its step in `step` [m], from 0; the baseline in mmol/L, None where there is none."""

    loads: FloatArray
    step: IntArray
    lactate: FloatArray
    baseline: float | None
    step_minutes: float = 10.0


@dataclass(frozen=True, slots=True)
class Curves:
    """N curves: flat part `base` and `sharp` a [mmol/L], where the rise begins `start` x0 and its `spread` s [W or m/s],
    and the `scatter` each goes with (1 is the analyser's own SD). All [N]."""

    base: FloatArray
    sharp: FloatArray
    start: FloatArray
    spread: FloatArray
    scatter: FloatArray

    def __len__(self) -> int:
        return len(self.base)

    def lactate(self, loads: FloatArray) -> FloatArray:
        """Lactate [N, k], mmol/L, of every curve at `loads` [k], W or m/s."""
        return _lactate(self.base, self.sharp, self.start, self.spread, loads)

    def loads_at(self, rise: float) -> FloatArray:
        """Load [N], W or m/s, where every curve stands `rise` mmol/L above its flat part."""
        return self.start + self.spread * np.log1p(rise / self.sharp)


def draw_curves(readings: Readings, analyser: AnalyserSd, settings: StepTestSettings, draws: int) -> Curves:
    """`draws` curves from the posterior given the readings; seeded by `settings.seed`, so equal readings give equal curves."""
    rng = np.random.default_rng(settings.seed)
    problem = _Problem.of(readings, analyser, settings)
    points, weights = _weighted(problem, rng)
    at = (rng.random() + np.arange(draws)) / draws
    chosen = points[np.minimum(np.searchsorted(np.cumsum(weights), at), len(points) - 1)]
    return problem.curves(rng.permutation(chosen))


def edge_sets(curves: Curves, last_load: float, settings: StepTestSettings) -> FloatArray:
    """Floor, target top and ceiling of the test and of every curve, [1 + N, 3], W or m/s; never falling along a row.

    Row 0 is the nominal set, the medians over the curves; every verdict is told by it and judged by all rows. An edge whose
    median lies beyond `last_load` is open: it is inf in row 0, and in every row where it lies beyond the last load. In any
    other edge single rows may reach past the last load, as far as the curves do.
    """
    edges = np.column_stack(
        [curves.loads_at(rise) for rise in (settings.rise, settings.target_rise, settings.ceiling_rise)]
    )
    sets = np.vstack((np.median(edges, axis=0), edges))
    is_open = sets[0] > last_load
    sets[:, is_open] = np.where(sets[:, is_open] > last_load, np.inf, sets[:, is_open])
    return sets


@dataclass(frozen=True, slots=True)
class _Problem:
    """The readings in units of the last load, and what the prior needs to know of them."""

    readings: Readings
    analyser: AnalyserSd
    settings: StepTestSettings
    unit: float
    step: float

    @classmethod
    def of(cls, readings: Readings, analyser: AnalyserSd, settings: StepTestSettings) -> _Problem:
        loads = readings.loads
        step = float(np.median(np.diff(loads))) if len(loads) > 1 else 0.1 * float(loads[-1])
        return cls(readings, analyser, settings, float(loads[-1]), step / float(loads[-1]))

    @property
    def bounds(self) -> tuple[float, float]:
        """Lowest and highest floor looked for, in units of the last load."""
        return float(self.readings.loads[0]) / self.unit - BEYOND * self.step, 1.0 + BEYOND * self.step

    def curves(self, points: FloatArray) -> Curves:
        """Points [N, 6] (base, floor, log width, logit bend, log scatter, log clearing) as curves."""
        base, floor, width = points[:, 0], points[:, 1], np.exp(points[:, 2])
        low, high = BENDS
        most = np.log(self.settings.ceiling_rise / self.settings.rise)
        bend = most * (low + (high - low) / (1 + np.exp(-points[:, 3])))
        ratio = self.settings.ceiling_rise / self.settings.rise
        lift = (ratio - 1) / (ratio - np.exp(bend))
        spread = width / bend
        start, sharp = floor - spread * np.log(lift), self.settings.rise / (lift - 1)
        return Curves(base, sharp, start * self.unit, spread * self.unit, np.exp(points[:, 4]))

    def log_posterior(self, points: FloatArray) -> FloatArray:
        """Log of prior times likelihood of points [N, 6], up to a constant."""
        low, high = self.bounds
        curves = self.curves(points)
        read = self.readings
        clearing = np.exp(points[:, 5])
        steps = 1 + np.arange(len(read.loads))
        left = 0.5 ** (steps * read.step_minutes / CLEARING_HALF_MIN)
        levels = curves.lactate(read.loads) + clearing[:, None] * left
        sd = curves.scatter[:, None] * self.analyser.at(levels)
        result = _mixture(read.lactate - levels[:, read.step], sd[:, read.step], (BAD, BAD_OFF, BAD_SD)).sum(axis=1)
        if read.baseline is not None:
            off = read.baseline - curves.base - clearing
            result += _mixture(off, curves.scatter * self.analyser.at(curves.base), (FOREIGN, FOREIGN_OFF, FOREIGN_SD))
        result += _log_prior(points)
        result[(points[:, 1] < low) | (points[:, 1] > high)] = -np.inf
        return result


def _lactate(
    base: FloatArray, sharp: FloatArray, start: FloatArray, spread: FloatArray, loads: FloatArray
) -> FloatArray:
    above = np.maximum(loads - start[:, None], 0.0) / spread[:, None]
    result: FloatArray = base[:, None] + sharp[:, None] * np.expm1(np.minimum(above, 30.0))
    return result


def _mixture(off: FloatArray, sd: FloatArray, bad: tuple[float, float, float]) -> FloatArray:
    """Log density of readings `off` [mmol/L] their level: mostly Normal(0, sd), some bad ones (share, mean, SD)."""
    share, mean, wide = bad
    good = (1 - share) / sd * np.exp(-0.5 * (off / sd) ** 2)
    spoilt = np.hypot(sd, wide)
    poor = share / spoilt * np.exp(-0.5 * ((off - mean) / spoilt) ** 2)
    result: FloatArray = np.log(np.maximum(good + poor, 1e-300))
    return result


def _log_prior(points: FloatArray) -> FloatArray:
    base, width, bend, scatter = points[:, 0], points[:, 2], points[:, 3], points[:, 4]
    clearing = points[:, 5]
    result: FloatArray = (
        -0.5 * ((base - BASE) / BASE_SD) ** 2
        - 0.5 * ((width - np.log(WIDTH)) / WIDTH_LOG_SD) ** 2
        - 0.5 * ((scatter - np.log(SCATTER)) / SCATTER_LOG_SD) ** 2
        - 0.5 * ((clearing - np.log(CLEARING)) / CLEARING_LOG_SD) ** 2
        - bend
        - 2 * np.log1p(np.exp(-bend))
    )
    return result


def _weighted(problem: _Problem, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Points [N, 6] of all rounds but the first two, and their weights [N], which sum to one."""
    low, high = problem.bounds
    mean = np.array([BASE, (low + high) / 2, np.log(WIDTH), 0.0, np.log(SCATTER), np.log(CLEARING)])
    spread = np.diag([0.4, (high - low) / 3, WIDTH_LOG_SD, 1.5, SCATTER_LOG_SD, CLEARING_LOG_SD]) ** 2
    rounds, shapes, targets = [], [], []
    for _ in range(ROUNDS):
        root = np.linalg.cholesky(spread + 1e-9 * np.eye(DIMENSIONS))
        steps = rng.standard_normal((PER_ROUND, DIMENSIONS)) * np.sqrt(TAIL / rng.chisquare(TAIL, PER_ROUND))[:, None]
        points = mean + steps @ root.T
        target = problem.log_posterior(points)
        rounds.append(points), shapes.append((mean, root)), targets.append(target)
        weights = _flattened(target - _log_proposal(points, mean, root))
        mean = weights @ points
        spread = 1.2 * (weights[:, None] * (points - mean)).T @ (points - mean)
    points, target = np.concatenate(rounds[2:]), np.concatenate(targets[2:])
    proposed = np.logaddexp.reduce([_log_proposal(points, *shape) for shape in shapes[2:]], axis=0)
    weights = np.exp(target - proposed - np.max(target - proposed))
    return points, weights / weights.sum()


def _log_proposal(points: FloatArray, mean: FloatArray, root: FloatArray) -> FloatArray:
    z = np.linalg.solve(root, (points - mean).T)
    result: FloatArray = -(TAIL + DIMENSIONS) / 2 * np.log1p((z**2).sum(axis=0) / TAIL) - np.log(np.diag(root)).sum()
    return result


def _flattened(log_weights: FloatArray) -> FloatArray:
    """Weights that sum to one, raised to a power below 1 where too few points would carry them."""
    log_weights, power = log_weights - log_weights.max(), 1.0
    weights = np.exp(log_weights)
    while weights.sum() ** 2 / (weights**2).sum() < ENOUGH and power > 0.02:
        power *= 0.7
        weights = np.exp(power * log_weights)
    return weights / weights.sum()
