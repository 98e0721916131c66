"""How far off the edges of a step test are, how often their ranges hold the truth, and how often its warnings are right.

    python benchmarks/verdict_edges.py [--tests 100] [--quick] [--section edges|stated|checks|speed]

Invented tests of curves whose edges are known: three that rise exponentially, one straight, one as a power; flat part 0.9 to 1.3
mmol/L, two to three flat steps, stopped at the first step past 1.15 mmol/L above the flat part. Scatter of a sample: the larger of
SD and 6 % of the level. A bad drop reads 0.6 mmol/L too high; a baseline that is still clearing 0.4 too high, halved by each step.
Tests with fewer than four steps, or whose ceiling lies beyond the last step, are drawn again.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from itertools import product

import numpy as np
from numpy.typing import NDArray

from steadyband.steptest import StepTest, ZoneSet, make_zones
from steadyband.steptest.model import AnalyserSd, Sample, Step

FloatArray = NDArray[np.float64]
RISES = (0.3, 0.65, 1.0)
CURVES: dict[str, tuple[Callable[[FloatArray], FloatArray], Callable[[float], float]]] = {
    "exponential 0.1/20": (lambda x: 0.1 * np.expm1(x / 20), lambda up: 20 * np.log1p(up / 0.1)),
    "exponential 0.2/30": (lambda x: 0.2 * np.expm1(x / 30), lambda up: 30 * np.log1p(up / 0.2)),
    "exponential 0.5/60": (lambda x: 0.5 * np.expm1(x / 60), lambda up: 60 * np.log1p(up / 0.5)),
    "straight 0.012": (lambda x: 0.012 * x, lambda up: up / 0.012),
    "power 2.5 0.5/40": (lambda x: 0.5 * (x / 40) ** 2.5, lambda up: 40 * (up / 0.5) ** 0.4),
}
"""Rise [mmol/L] at x watts past the break, and the way back from a rise."""
BAD_DROP, CLEARING = 0.6, 0.4


@dataclass(frozen=True, slots=True)
class Row:
    """One kind of test: curve, SD [mmol/L], step height [W], samples a step, share of bad drops, clearing baseline or not."""

    curve: str
    sd: float
    height: int
    samples: int
    bad: float
    clearing: bool

    def __str__(self) -> str:
        more = (", 10 % bad" if self.bad else "") + (", clearing" if self.clearing else "")
        return f"{self.curve}, SD {self.sd}, {self.height} W, {self.samples} a step{more}"


def invented(row: Row, rng: np.random.Generator) -> tuple[StepTest, FloatArray]:
    """A test of this kind and its true edges [3], W."""
    while True:
        test, edges = _drawn(row, rng)
        if len(test.steps) >= 4 and edges[2] <= test.steps[-1].load:
            return test, edges


def _drawn(row: Row, rng: np.random.Generator) -> tuple[StepTest, FloatArray]:
    rise, back = CURVES[row.curve]
    base, first = rng.uniform(0.9, 1.3), 100 + rng.uniform(0, row.height)
    start = first + 2.6 * row.height + rng.uniform(0, row.height) - 30
    loads = first + row.height * np.arange(12)
    level = base + rise(np.maximum(loads - start, 0))
    count = min(int(np.searchsorted(level, base + 1.15)) + 1, len(loads))
    left = CLEARING * row.clearing * 0.5 ** np.arange(1, count + 1)
    steps = []
    for load, value in zip(loads[:count], level[:count] + left, strict=True):
        read = value + max(row.sd, 0.06 * value) * rng.standard_normal(row.samples)
        read[0] += BAD_DROP * (rng.random() < row.bad)
        minutes = (5.0, 10.0)[-row.samples :]
        samples = tuple(Sample(m, max(0.5, round(float(v), 2))) for m, v in zip(minutes, read, strict=True))
        steps.append(Step(float(load), float(load), samples))
    rest = max(0.5, round(float(base + CLEARING * row.clearing + max(row.sd, 0.06) * rng.standard_normal()), 2))
    test = StepTest(
        "invented",
        date(2026, 4, 20),
        "cycling",
        "W",
        "fed",
        10.0,
        (rest,),
        tuple(steps),
        AnalyserSd(0.18, 0.06),
        override="invented",
    )
    return test, np.array([start + back(up) for up in RISES])


def edges_of(row: Row, tests: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Bias, scatter and share of 80 % ranges that hold the truth, each [3], of floor, target top and ceiling.

    An open edge counts as the last load.
    """
    rng, errors, held = np.random.default_rng(7), [], []
    for _ in range(tests):
        test, truth = invented(row, rng)
        zone_set = make_zones(test)
        errors.append(np.minimum(zone_set.draws.edges[0], test.steps[-1].load) - truth)
        held.append([_holds(zone_set, name, edge) for name, edge in zip(zone_set.ranges, truth, strict=True)])
    return np.mean(errors, axis=0), np.std(errors, axis=0), np.mean(held, axis=0)


def _holds(zone_set: ZoneSet, name: str, edge: float) -> bool:
    span = zone_set.ranges[name]
    low, high = np.inf if span.low is None else span.low, np.inf if span.high is None else span.high
    return bool(low <= edge <= high or (np.isinf(low) and edge > zone_set.test.steps[-1].load_si))


def edge_rows(quick: bool) -> Iterator[Row]:
    """Every kind of test; with `quick` three curves and 20-W steps."""
    curves = list(CURVES)[1::2] + list(CURVES)[4:] if quick else list(CURVES)
    heights = (20,) if quick else (15, 20, 25, 30)
    for curve, sd, height, samples, bad in product(curves, (0.18, 0.3, 0.4), heights, (2, 1), (0.0, 0.1)):
        yield Row(curve, sd, height, samples, bad, False)
    for curve, sd, height in product(curves, (0.18, 0.3, 0.4), heights):
        yield Row(curve, sd, height, 2, 0.0, True)


def print_edges(tests: int, quick: bool, pool: ProcessPoolExecutor) -> None:
    """Bias and scatter in W and coverage of every row, and the worst of them."""
    rows = list(edge_rows(quick))
    shares = []
    print(
        f"edges: bias ± scatter in W of floor, target top, ceiling; share of 80 % ranges that hold the truth ({tests} tests a row)"
    )
    for row, (bias, scatter, held) in zip(rows, pool.map(edges_of, rows, [tests] * len(rows)), strict=True):
        shares.append(held)
        told = "  ".join(f"{b:+5.1f} ± {s:4.1f}" for b, s in zip(bias, scatter, strict=True))
        print(f"  {row!s:58} {told}   {' '.join(f'{share:.2f}' for share in held)}", flush=True)
    for samples in (2, 1):
        held = np.array([share for row, share in zip(rows, shares, strict=True) if row.samples == samples])
        print(
            f"  {samples} a step: ranges hold {held.min():.2f} to {held.max():.2f}, mean {held.mean():.2f}, in {held.size} rows and edges"
        )


def stated_of(seed: int, tests: int) -> FloatArray:
    """(stated, true) of "this mean lies above the edge", for means spread evenly within 30 W of floor and ceiling."""
    rng, found = np.random.default_rng(seed), []
    for number in range(tests):
        row = Row(list(CURVES)[number % 5], (0.18, 0.3)[number % 2], (15, 20, 25)[number % 3], 2, 0.0, False)
        test, truth = invented(row, rng)
        sets = make_zones(test).draws.edges[1:]
        for column in (0, 2):
            for off in rng.uniform(-30, 30, 6):
                found.append((np.mean(sets[:, column] < truth[column] + off), off > 0))
    return np.array(found, dtype=np.float64)


def print_stated(tests: int, pool: ProcessPoolExecutor) -> None:
    """Stated against true certainty in bins of 0.1."""
    found = np.concatenate(list(pool.map(stated_of, (11, 12), [tests] * 2)))
    print(f'stated: certainty of "above the edge" against how often it is ({2 * tests} tests, 6 means an edge)')
    for low in range(10):
        chosen = np.minimum((10 * found[:, 0]).astype(int), 9) == low
        stated, true = found[chosen].mean(axis=0)
        print(
            f"  {low / 10:.1f} to {low / 10 + 0.1:.1f}: {chosen.sum():5d} cases, stated {stated:.2f}, true {true:.2f}"
        )


def checks_of(row: Row, tests: int) -> tuple[float, FloatArray]:
    """Share of clean tests with a suspect sample; and of each test with one bad drop added (moved at least 10 W, warned)."""
    rng, warned, spoilt = np.random.default_rng(9), 0, []
    for _ in range(tests):
        test, _ = invented(row, rng)
        clean = make_zones(test)
        at = int(rng.integers(len(test.steps)))
        bad = make_zones(_with_bad_drop(test, at))
        warned += _suspect(clean)
        before, after = (np.minimum(item.draws.edges[0], test.steps[-1].load) for item in (clean, bad))
        spoilt.append((np.max(np.abs(after - before)) >= 10, _suspect(bad)))
    return warned / tests, np.array(spoilt, dtype=np.float64)


def _with_bad_drop(test: StepTest, at: int) -> StepTest:
    step = test.steps[at]
    first = replace(step.samples[0], lactate_mmol_l=step.samples[0].lactate_mmol_l + BAD_DROP)
    return replace(
        test, steps=(*test.steps[:at], replace(step, samples=(first, *step.samples[1:])), *test.steps[at + 1 :])
    )


def _suspect(zone_set: ZoneSet) -> bool:
    return any(check.code == "suspect_sample" for check in zone_set.checks)


def print_checks(tests: int, pool: ProcessPoolExecutor) -> None:
    """False warnings of clean tests, and what becomes of one bad drop."""
    kinds = list(product((0.18, 0.3), (2, 1)))
    rows = [Row(curve, sd, 20, samples, 0.0, False) for sd, samples in kinds for curve in CURVES]
    print(
        f"checks: one bad drop of {BAD_DROP} mmol/L in a test ({tests} tests of each of {len(CURVES)} curves, 20-W steps)"
    )
    results = list(pool.map(checks_of, rows, [tests] * len(rows)))
    for number, (sd, samples) in enumerate(kinds):
        part = results[number * len(CURVES) : (number + 1) * len(CURVES)]
        false = np.mean([share for share, _ in part])
        moved, found = np.concatenate([spoilt for _, spoilt in part]).T.astype(bool)
        told = f"{found[moved].mean():.0%} of them warned of" if moved.any() else "none"
        print(
            f"  SD {sd}, {samples} a step: clean tests warned {false:.0%}; bad drops warned of {found.mean():.0%}; "
            f"an edge moved by 10 W in {moved.mean():.0%}, {told}"
        )


def print_speed() -> None:
    """Milliseconds for the zone set of one test."""
    test, _ = invented(Row("exponential 0.2/30", 0.18, 20, 2, 0.0, False), np.random.default_rng(1))
    plain = make_zones.__wrapped__  # what was worked out before would be found again
    plain(test)
    begun = time.process_time()
    for _ in range(20):
        plain(test)
    print(f"speed: {50 * (time.process_time() - begun):.0f} ms a test, posterior, ranges, checks and all")


def main() -> None:
    """Prints the sections asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tests", type=int, help="tests of each kind (100, or 40 with --quick)")
    parser.add_argument("--quick", action="store_true", help="three curves and 20-W steps")
    parser.add_argument("--section", choices=("edges", "stated", "checks", "speed"), help="one section only")
    args = parser.parse_args()
    run(args.tests or (40 if args.quick else 100), args.quick, args.section)


def run(tests: int, quick: bool, section: str | None = None) -> None:
    """The sections, in two processes."""
    with ProcessPoolExecutor(2) as pool:
        if section in (None, "edges"):
            print_edges(tests, quick, pool)
        if section in (None, "stated"):
            print_stated(2 * tests, pool)
        if section in (None, "checks"):
            print_checks(tests, pool)
    if section in (None, "speed"):
        print_speed()


if __name__ == "__main__":
    main()
