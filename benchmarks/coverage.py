"""How often the 80 % ranges of floor and ceiling cover a known truth (METHOD 1.3).

    python benchmarks/coverage.py [--tests 2000]

Invented step tests: rest and flat part at 1.0 mmol/L, lactate rising from a break point that lies anywhere within one
step (uniform), analyser scatter sd(L) = max(0.18, 0.06 L), nine 20-W steps from 100 W, one or two samples a step. Each
goes through `make_zones` as an athlete's own test would. Truths:

- rise: the load where the known curve is plateau + 0.3 mmol/L;
- step: the first tested load at or above that, which is the floor that a test without scatter gives;
- ceiling: the load where the known curve is plateau + 1.0 mmol/L.

A truth counts as not at a step edge where it is at least a tenth of a step away from every tested load. "plain" is the
plain percentile range of the redrawn edges, shown for comparison; "covered" is the range the tool gives.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy.optimize import brentq

from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.curve.zones import make_zones
from steadyband.steptest.model import AnalyserSd, EdgeRange, Sample, Step, StepTest, ZoneSet

Curve = Callable[[float, float], float]
RISE, CEILING_RISE, PLATEAU = 0.3, 1.0, 1.0
FIRST_LOAD_W, STEPS, BREAK_AFTER = 100.0, 9, 3
ANALYSER = AnalyserSd(0.18, 0.06)
SETTINGS = StepTestSettings()

CURVES: dict[str, Curve] = {
    "straight": lambda load, start: PLATEAU + 0.02 * max(0.0, load - start),
    "parabola": lambda load, start: PLATEAU + 0.008 * max(0.0, load - start) + 0.0004 * max(0.0, load - start) ** 2,
    "exponential": lambda load, start: PLATEAU + 0.45 * (np.exp(max(0.0, load - start) / 32) - 1),
}


@dataclass(frozen=True, slots=True)
class Trial:
    """One invented test: its truths in W and what the tool made of it."""

    rise: float
    step: float
    ceiling: float
    zones: ZoneSet


def invented_test(curve: Curve, start: float, samples: int, step_w: float, rng: np.random.Generator) -> StepTest:
    """A step test with scatter from a known curve whose rise starts at `start` [W]."""

    def reading(level: float) -> float:
        return float(level + ANALYSER.at(level) * rng.standard_normal())

    minutes = (5.0, 10.0)[-samples:]
    loads = FIRST_LOAD_W + step_w * np.arange(STEPS)
    steps = tuple(
        Step(float(load), float(load), tuple(Sample(minute, reading(curve(load, start))) for minute in minutes))
        for load in loads
    )
    return StepTest(
        file="invented.toml",
        date=date(2026, 4, 20),
        sport="cycling",
        load_unit="W",
        state="fed",
        step_minutes=10.0,
        baseline=(reading(PLATEAU),),
        steps=steps,
        analyser_sd=ANALYSER,
        override="invented",
    )


def run_trial(curve: Curve, samples: int, step_w: float, rng: np.random.Generator) -> Trial:
    """One invented test with a break point drawn within one step, and its zone set."""
    start = FIRST_LOAD_W + step_w * (BREAK_AFTER + rng.uniform())

    def reached(extra: float) -> float:
        return float(brentq(lambda load: curve(load, start) - PLATEAU - extra, start, start + 300))

    rise, ceiling = reached(RISE), reached(CEILING_RISE)
    step = FIRST_LOAD_W + step_w * np.ceil((rise - FIRST_LOAD_W) / step_w)
    return Trial(rise, float(step), ceiling, make_zones(invented_test(curve, start, samples, step_w, rng), SETTINGS))


def covered(spread: EdgeRange, truth: float) -> bool:
    """True where the range holds the truth."""
    low, high = (np.inf if value is None else value for value in (spread.low, spread.high))
    return bool(low <= truth <= high)


def plainly_covered(draws: np.ndarray, truth: float) -> bool:
    """True where the plain percentile range of the redrawn edge holds the truth."""
    low, high = np.quantile(draws, [0.1, 0.9], method="inverted_cdf")
    return bool(low <= truth <= high)


def off_edge(truth: float, step_w: float) -> bool:
    """True where the truth is at least a tenth of a step away from every tested load."""
    part = (truth - FIRST_LOAD_W) / step_w % 1
    return 0.1 <= part <= 0.9


def coverage(curve: Curve, samples: int, step_w: float, tests: int, seed: int) -> dict[str, float]:
    """Shares of covered truths over `tests` invented tests, by truth; plain percentile ranges beside."""
    rng = np.random.default_rng(seed)
    trials = [run_trial(curve, samples, step_w, rng) for _ in range(tests)]
    at_rise = [item for item in trials if off_edge(item.rise, step_w)]
    at_ceiling = [item for item in trials if off_edge(item.ceiling, step_w)]
    return {
        "floor: rise": np.mean([covered(item.zones.ranges["floor"], item.rise) for item in at_rise]),
        "floor: step": np.mean([covered(item.zones.ranges["floor"], item.step) for item in at_rise]),
        "ceiling": np.mean([covered(item.zones.ranges["ceiling"], item.ceiling) for item in at_ceiling]),
        "plain floor: step": np.mean([plainly_covered(item.zones.draws.floor, item.step) for item in at_rise]),
        "plain ceiling": np.mean([plainly_covered(item.zones.draws.ceiling, item.ceiling) for item in at_ceiling]),
    }


def main() -> None:
    """Prints one line per curve, number of samples a step and step height."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tests", type=int, default=2000)
    parser.add_argument("--step-w", type=float, nargs="+", default=[20.0])
    args = parser.parse_args()
    header = ("floor: rise", "floor: step", "ceiling", "plain floor: step", "plain ceiling")
    print(f"{'curve':<12} samples step_w  " + "  ".join(f"{name:>17}" for name in header))
    for name, curve in CURVES.items():
        for samples in (1, 2):
            for step_w in args.step_w:
                shares = coverage(curve, samples, step_w, args.tests, seed=7)
                print(
                    f"{name:<12} {samples:>7} {step_w:>6.0f}  " + "  ".join(f"{shares[key]:>17.3f}" for key in header),
                    flush=True,
                )


if __name__ == "__main__":
    main()
