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

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.model import AnalyserSd, FloatArray

IntArray = NDArray[np.int64]

BASE, BASE_SD, BASE_TAIL, BASE_LEAST = 1.2, 0.5, 4.0, 0.2
"""Prior of the flat part [mmol/L], Student's t above a least value: resting lactate as handheld units read it, brands differing by -10 to +42 % (S1)."""
ROUNDED = 0.03
"""Least scatter of any reading [mmol/L]: analysers show tenths."""
FLOOR_AT, FLOOR_SD, FLOOR_STEPS = 0.65, 0.3, 0.5
"""Prior of the floor: where it lies between first and last load, and its SD, as a share of that distance, and half a step more
(design choice: a test begins easy and stops once the ceiling is passed)."""
PASSED_STEPS = 3.0
"""Prior of a ceiling past the last load once the test is over: SD of how far, in steps (design choice: a test goes on until its
ceiling is passed, see METHOD 1.6)."""
WIDTH, WIDTH_LOG_SD = 0.14, 0.65
"""Prior of ceiling less floor, as a share of the last load (lognormal; design choice: 11 to 56 W of 175 W in 80 %, so that a slow
straight rise is as likely as a sharp one)."""
SCATTER, SCATTER_LOG_SD = 1.6, 0.4
"""Prior of the scatter over the analyser's SD (lognormal; design choice: fingers scatter more than a laboratory's vials)."""
BAD, BAD_OFF, BAD_SD = 0.05, 0.5, 0.5
"""Share of bad drops, how much higher they read and with what scatter [mmol/L] (design choice: sweat reads high)."""
FOREIGN, FOREIGN_OFF, FOREIGN_SD = 0.15, 0.2, 0.5
"""The same for a baseline that is not part of the flat part: a bad drop, or taken at rest (design choice)."""
CLEARING, CLEARING_LOG_SD, CLEARING_HALF_MIN = 0.1, 1.4, 10.0
"""Prior of lactate left over at the baseline [mmol/L] (lognormal: over 0.6 in one test of ten; design choice), and the minutes of easy work that
halve it (10 to 20 min from memory; the shortest, since the first steps are work and not rest)."""
TOLD = 2.5
"""From this height over the lower samples [mmol/L] on, a reading says only that the curve is up there: one exponential does not go
on to the top of a maximal test (design choice)."""
BEYOND = 2.0
"""Steps beyond the first and the last load in which a floor is still looked for (design choice)."""
BENDS = (0.02, 0.97)
"""Least and most bend, as a share of that of a pure exponential without a flat part, all as likely (design choice)."""
ROUNDS, FINDING, PER_ROUND = (6, 16), 2, 2000
"""Fewest and most rounds of importance sampling, those that only find the place and do not count, and draws in each."""
TAIL = 9.0
"""Degrees of freedom of a round's proposal."""
ENOUGH, FEW = 1500.0, 40.0
"""Effective draws at which sampling ends, and those under which the weights of a round are flattened before they shape the next."""


@dataclass(frozen=True, slots=True)
class Readings:
    """What a curve is drawn through: `loads` [n] of the steps, rising, W or m/s; every counted sample `lactate` [m] in
    mmol/L with the number of its step in `step` [m], from 0; the baseline in mmol/L, None where there is none. `over`: the test has ended, and so has most likely passed its ceiling."""

    loads: FloatArray
    step: IntArray
    lactate: FloatArray
    baseline: float | None
    step_minutes: float = 10.0
    over: bool = True


@dataclass(frozen=True, slots=True)
class Curves:
    """N curves, all [N]: flat part `base` and `sharp` a [mmol/L], where the rise begins `start` x0 and its `spread` s
    [W or m/s], the `scatter` each goes with (1 is the analyser's own SD), and what was left over at the baseline, `clearing`
    [mmol/L]."""

    base: FloatArray
    sharp: FloatArray
    start: FloatArray
    spread: FloatArray
    scatter: FloatArray
    clearing: FloatArray

    def __len__(self) -> int:
        return len(self.base)

    def lactate(self, loads: FloatArray) -> FloatArray:
        """Lactate [N, k], mmol/L, of every curve at `loads` [k], W or m/s."""
        above = np.maximum(loads - self.start[:, None], 0.0) / self.spread[:, None]
        result: FloatArray = self.base[:, None] + self.sharp[:, None] * np.expm1(np.minimum(above, 30.0))
        return result

    def expected(self, loads: FloatArray, step_minutes: float) -> FloatArray:
        """Lactate [N, n], mmol/L, at the end of the steps at `loads` [n]: the curve, and what is left over of the baseline."""
        left = 0.5 ** (np.arange(1, len(loads) + 1) * step_minutes / CLEARING_HALF_MIN)
        result: FloatArray = self.lactate(loads) + self.clearing[:, None] * left
        return result

    def loads_at(self, rise: float) -> FloatArray:
        """Load [N], W or m/s, where every curve stands `rise` mmol/L above its flat part."""
        result: FloatArray = self.start + self.spread * np.log1p(rise / self.sharp)
        return result


def draw_curves(readings: Readings, analyser: AnalyserSd, settings: StepTestSettings, draws: int) -> Curves:
    """`draws` curves from the posterior given the readings (METHOD 1.2, SOURCES S12).

    Seeded by `settings.seed`, so equal readings give equal curves. Loads in W or m/s, lactate in mmol/L.
    """
    rng = np.random.default_rng(settings.seed)
    problem = _Problem.of(readings, analyser, settings)
    points, weights = _weighted(problem, rng)
    at = (rng.random() + np.arange(draws)) / draws
    chosen = points[np.minimum(np.searchsorted(np.cumsum(weights), at), len(points) - 1)]
    return curves_of(rng.permutation(chosen), problem.unit, settings)


def edge_sets(curves: Curves, last_load: float, settings: StepTestSettings) -> FloatArray:
    """Floor, target top and ceiling of the test and of every curve, [1 + N, 3], W or m/s; never falling along a row.

    Where a curve stands 0.3, 0.65 and 1.0 mmol/L above its flat part by default (METHOD 1.2, SOURCES S2 for the last).
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

    def first_guess(self) -> tuple[FloatArray, FloatArray]:
        """Mean [6] and covariance [6, 6] of the first proposal."""
        low, high = self.bounds
        base = float(np.quantile(self.readings.lactate, 0.3))
        mean = np.array([base, (low + high) / 2, np.log(WIDTH), 0.0, np.log(SCATTER), np.log(CLEARING)])
        spread = np.array([0.4, (high - low) / 3, WIDTH_LOG_SD, 1.5, SCATTER_LOG_SD, CLEARING_LOG_SD])
        return mean, np.diag(spread**2)

    @property
    def floor_prior(self) -> tuple[float, float]:
        """Mean and SD of the floor, in units of the last load."""
        first = float(self.readings.loads[0]) / self.unit
        return first + FLOOR_AT * (1 - first), FLOOR_SD * (1 - first) + FLOOR_STEPS * self.step

    @property
    def bounds(self) -> tuple[float, float]:
        """Lowest and highest floor looked for, in units of the last load."""
        return float(self.readings.loads[0]) / self.unit - BEYOND * self.step, 1.0 + BEYOND * self.step

    def log_posterior(self, points: FloatArray) -> FloatArray:
        """Log of prior times likelihood of points [N, 6], up to a constant."""
        low, high = self.bounds
        curves = curves_of(points, self.unit, self.settings)
        result: FloatArray = _log_likelihoods(curves, self.readings, self.analyser).sum(axis=1)
        result += _log_prior(points)
        if self.readings.over:
            middle, spread = self.floor_prior
            result -= 0.5 * ((points[:, 1] - middle) / spread) ** 2
            past = np.maximum(points[:, 1] + np.exp(points[:, 2]) - 1.0, 0.0)
            result -= 0.5 * (past / (PASSED_STEPS * self.step)) ** 2
        result[(points[:, 1] < low) | (points[:, 1] > high) | (points[:, 0] < BASE_LEAST)] = -np.inf
        return result


def curves_of(points: FloatArray, unit: float, settings: StepTestSettings) -> Curves:
    """Points [N, 6] (base, floor and log width in `unit` [W or m/s], logit bend, log scatter, log clearing) as curves."""
    base, floor, width = points[:, 0], points[:, 1], np.exp(points[:, 2])
    low, high = BENDS
    ratio = settings.ceiling_rise / settings.rise
    bend = np.log(ratio) * (low + (high - low) / (1 + np.exp(-points[:, 3])))
    lift = (ratio - 1) / (ratio - np.exp(bend))
    spread = width / bend
    start, sharp = floor - spread * np.log(lift), settings.rise / (lift - 1)
    return Curves(base, sharp, start * unit, spread * unit, np.exp(points[:, 4]), np.exp(points[:, 5]))


def _log_likelihoods(curves: Curves, readings: Readings, analyser: AnalyserSd) -> FloatArray:
    """Log density of every sample under every curve [N, m], the baseline last where there is one."""
    good, poor = densities(curves, readings, analyser)
    result = np.log(np.maximum(good + poor, 1e-300))
    if readings.baseline is None:
        return result
    off = readings.baseline - curves.base - curves.clearing
    good, poor = _densities(off, curves.scatter * analyser.at(curves.base), (FOREIGN, FOREIGN_OFF, FOREIGN_SD))
    return np.column_stack((result, np.log(np.maximum(good + poor, 1e-300))))


def densities(curves: Curves, readings: Readings, analyser: AnalyserSd) -> tuple[FloatArray, FloatArray]:
    """Density of every sample under every curve, as a good drop and as a bad one, each [N, m]."""
    most = float(np.quantile(readings.lactate, 0.25)) + TOLD
    levels = np.minimum(curves.expected(readings.loads, readings.step_minutes), most)
    sd = np.hypot(curves.scatter[:, None] * analyser.at(levels), ROUNDED)
    off = np.minimum(readings.lactate, most) - levels[:, readings.step]
    return _densities(off, sd[:, readings.step], (BAD, BAD_OFF, BAD_SD))


def sample_density(off: FloatArray, sd: FloatArray) -> FloatArray:
    """Density of a reading `off` [mmol/L] its level, a good drop or a bad one, at scatter `sd` [mmol/L], same shape."""
    good, poor = _densities(off, sd, (BAD, BAD_OFF, BAD_SD))
    return good + poor


def _densities(off: FloatArray, sd: FloatArray, bad: tuple[float, float, float]) -> tuple[FloatArray, FloatArray]:
    """Density of readings `off` [mmol/L] their level as good ones, Normal(0, sd), and as `bad` ones (share, mean, SD)."""
    share, mean, wide = bad
    spoilt = np.hypot(sd, wide)
    good = (1 - share) / sd * np.exp(-0.5 * (off / sd) ** 2)
    return good, share / spoilt * np.exp(-0.5 * ((off - mean) / spoilt) ** 2)


def _log_prior(points: FloatArray) -> FloatArray:
    base, width, bend, scatter = points[:, 0], points[:, 2], points[:, 3], points[:, 4]
    clearing = points[:, 5]
    result: FloatArray = (
        -(BASE_TAIL + 1) / 2 * np.log1p(((base - BASE) / BASE_SD) ** 2 / BASE_TAIL)
        - 0.5 * ((width - np.log(WIDTH)) / WIDTH_LOG_SD) ** 2
        - 0.5 * ((scatter - np.log(SCATTER)) / SCATTER_LOG_SD) ** 2
        - 0.5 * ((clearing - np.log(CLEARING)) / CLEARING_LOG_SD) ** 2
        - bend
        - 2 * np.log1p(np.exp(-bend))
    )
    return result


def _weighted(problem: _Problem, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Points [N, 6] of all rounds but the first ones, and their weights [N], which sum to one."""
    mean, spread = problem.first_guess()
    points, targets, shapes = [], [], []
    for number in range(1, ROUNDS[1] + 1):
        root: FloatArray = np.linalg.cholesky(spread + 1e-9 * np.eye(len(mean))).astype(np.float64)
        steps = rng.standard_normal((PER_ROUND, len(mean))) * np.sqrt(TAIL / rng.chisquare(TAIL, PER_ROUND))[:, None]
        drawn = mean + steps @ root.T
        points.append(drawn)
        targets.append(problem.log_posterior(drawn))
        shapes.append((mean, root))
        if number >= ROUNDS[0]:
            kept, weights = _together(points[FINDING:], targets[FINDING:], shapes[FINDING:])
            if _effective(weights) >= ENOUGH:
                break
        near = _flattened(targets[-1] - _log_proposal(drawn, mean, root))
        mean = near @ drawn
        spread = (near[:, None] * (drawn - mean)).T @ (drawn - mean)
    return kept, weights


def _together(
    points: list[FloatArray], targets: list[FloatArray], shapes: list[tuple[FloatArray, FloatArray]]
) -> tuple[FloatArray, FloatArray]:
    """All rounds as one sample: every point weighed against the mixture of all proposals."""
    kept = np.concatenate(points)
    proposed = np.logaddexp.reduce([_log_proposal(kept, *shape) for shape in shapes], axis=0)
    log_weights = np.concatenate(targets) - proposed
    weights = np.exp(log_weights - log_weights.max())
    return kept, weights / weights.sum()


def _effective(weights: FloatArray) -> float:
    """How many equal weights would tell as much."""
    return float(weights.sum() ** 2 / (weights**2).sum())


def _log_proposal(points: FloatArray, mean: FloatArray, root: FloatArray) -> FloatArray:
    z = np.linalg.inv(root) @ (points - mean).T  # six by six: a solver takes several times as long over so many points
    result: FloatArray = -(TAIL + len(root)) / 2 * np.log1p((z**2).sum(axis=0) / TAIL) - np.log(np.diag(root)).sum()
    return result


def _flattened(log_weights: FloatArray) -> FloatArray:
    """Weights that sum to one, raised to a power below 1 where too few points would carry them."""
    log_weights, power = log_weights - log_weights.max(), 1.0
    weights = np.exp(log_weights)
    while _effective(weights) < FEW and power > 0.02:
        power *= 0.7
        weights = np.exp(power * log_weights)
    result: FloatArray = weights / weights.sum()
    return result
