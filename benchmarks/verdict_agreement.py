"""Whether a stated agreement is true: of all findings stated with 80 %, do 80 % hold under the true edges? Prints; passes no judgement.

    python benchmarks/verdict_agreement.py [--tests 240] [--seed 7]

Step tests are those of verdict_edges.py: five curves, SD 0.18 and 0.3, steps of 15 to 30 W, one or two samples a step, with and without
bad drops; apart from them those whose baseline still clears by 0.4 mmol/L. Sessions of one hour, by power and by heart rate alone, spread evenly from 35 W below the true floor to
30 W above the true ceiling, half of them with surges. Every finding is that of the package, asked of the test's 2,000 curves and of
the true edges.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import UTC, datetime
from itertools import product

import numpy as np
import verdict_edges
from numpy.typing import NDArray
from verdict_sessions import Floats, Rng, kinds, one_stretch, scatter_of, wander

from steadyband.audit.edges import EdgeSets, edge_sets
from steadyband.audit.findings import RULES
from steadyband.audit.findings.facts import Facts
from steadyband.audit.measure.dose import surge_mean
from steadyband.audit.measure.loads import SessionArrays
from steadyband.audit.measure.means import centred_mean
from steadyband.audit.model import Channel, Drift, SessionInfo
from steadyband.ground.settings import Settings
from steadyband.steptest import StepTest, make_zones

SETTINGS = Settings()
NO_DRIFT = Drift(0, 0, None, None, None, None, None)
START = datetime(2026, 5, 2, 8, tzinfo=UTC)
SIZE = 3600
SESSIONS = 12
BEATS_AT, BEATS_PER_W = 95.0, 0.28
"""Heart rate at 100 W and its rise [bpm, bpm/W] of the invented athlete."""


def tests_of(count: int, rng: Rng, clearing: bool) -> list[tuple[StepTest, Floats]]:
    """Step tests of all kinds in turn, with highest heart rates, and their true edges [3]."""
    grid = [
        verdict_edges.Row(*kind)
        for kind in product(verdict_edges.CURVES, (0.18, 0.3), (15, 20, 25, 30), (2, 2, 1), (0.0, 0.1), (clearing,))
    ]
    found = []
    for place in rng.permutation(len(grid))[np.arange(count) % len(grid)]:
        test, edges = verdict_edges.invented(grid[place], rng)
        steps = tuple(
            replace(step, hr_max_bpm=float(round(beats(step.load) + rng.normal(0, 1.5)))) for step in test.steps
        )
        found.append((replace(test, steps=steps), edges))
    return found


def beats(load: Floats | float) -> Floats | float:
    """Steady heart rate at a load [bpm]."""
    return BEATS_AT + BEATS_PER_W * (np.asarray(load) - 100)


def true_sets(edges: Floats, first_load: float, channel: Channel) -> EdgeSets:
    """The true edges [3] as the one set of edges of a session."""
    at_hr = beats(edges)
    floor, top, ceiling = (np.array([value]) for value in (at_hr if channel == "heart_rate" else edges))
    empty = np.array([edges[0] <= first_load])
    return EdgeSets(floor, top, ceiling, np.inf, empty, np.array([at_hr[2]]))


def session_of(edges: Floats, channel: Channel, kind: float | Floats, rng: Rng) -> SessionArrays:
    """One hour around the true edges."""
    level = np.full(SIZE, rng.uniform(edges[0] - 35, edges[2] + 30))
    if rng.random() < 0.5:
        for start in rng.choice(np.arange(60, SIZE - 120, 90), rng.integers(1, 14), replace=False):
            level[start : start + 20] += rng.uniform(30, 80)
    power = level * scatter_of(kind, SIZE, rng)
    none, every = np.zeros(SIZE, bool), np.ones(SIZE, bool)
    stretch = one_stretch(power)
    lagged = centred_mean(level, stretch, 121)
    heart = np.round(beats(lagged) + rng.uniform(0, 6) * np.arange(SIZE) / 3600 + wander(1.5, SIZE, rng, 100.0))
    load = heart if channel == "heart_rate" else power
    nowhere = np.full(SIZE, np.nan)
    return SessionArrays(
        channel=channel,
        load=load,
        band_load=centred_mean(load, stretch, SETTINGS.bands.window_s),
        surge_load=surge_mean(load, stretch, SETTINGS.surges.window_s),
        heart_rate=heart,
        grade=nowhere,
        lat=nowhere,
        lon=nowhere,
        stretch=stretch,
        active=every,
        measured=every,
        coasting=none,
        walked=none,
        surges_judged=channel == "power",
    )


def asked(arrays: SessionArrays, sets: EdgeSets, intent: str) -> dict[str, NDArray[np.bool_]]:
    """Every finding of a session that was labelled so, under each set of edges [N], and "in band"."""
    info = SessionInfo("ride.fit", "0" * 64, "cycling", None, START, START, intent, "sessions.csv")
    facts = Facts(info, 0, arrays, sets, {}, None, NO_DRIFT, SETTINGS)
    found = {rule.code: rule.raised(facts, sets, SETTINGS) for rule in RULES if rule.asked_of(info)}
    found[f"in band, {intent}"] = ~np.logical_or.reduce(list(found.values()))
    return found


def collected(seed: int, tests: int, channel: Channel, clearing: bool) -> dict[str, list[tuple[float, bool, bool]]]:
    """For each finding (stated, true, told by the edges as tested) of every session."""
    rng = np.random.default_rng(seed)
    scatters = [kind for name, kind in kinds().items() if name != "25%"]
    cases: dict[str, list[tuple[float, bool, bool]]] = {}
    for test, edges in tests_of(tests, rng, clearing):
        sets = edge_sets(make_zones(test), channel, None)
        truth = true_sets(edges, test.steps[0].load_si, channel)
        for number in range(SESSIONS):
            arrays = session_of(edges, channel, scatters[rng.integers(len(scatters))], rng)
            intent = ("endurance", "easy")[number % 2]
            said, held = asked(arrays, sets, intent), asked(arrays, truth, intent)
            for code, raised in said.items():
                cases.setdefault(code, []).append((float(raised[1:].mean()), bool(held[code][0]), bool(raised[0])))
    return cases


def printed(cases: dict[str, list[tuple[float, bool, bool]]]) -> None:
    """Bins of 0.1 of every finding; then the findings that an athlete would read, which the edges as tested raise."""
    for code, told in cases.items():
        said, held, raised = np.array(told, dtype=float).T
        rows = _bins(said, held)
        worst = max((abs(a - b) for a, b, count in rows if count >= 100), default=0.0)
        shown = raised == 1
        read = (
            f"read: {said[shown].mean():.2f}/{held[shown].mean():.2f} ({shown.sum()})" if shown.any() else "read: none"
        )
        print(
            f"  {code:22s} {worst:.2f} | {'  '.join(f'{a:.2f}/{b:.2f} ({c})' for a, b, c in rows)} | {read}", flush=True
        )


def _bins(said: Floats, held: Floats) -> list[tuple[float, float, int]]:
    place = np.minimum((10 * said).astype(int), 9)
    parts = [place == number for number in range(10)]
    return [(float(said[p].mean()), float(held[p].mean()), int(p.sum())) for p in parts if p.any()]


def run(seed: int, tests: int) -> None:
    """Power and heart rate; power with a baseline that still clears."""
    print(
        "agreement: stated/true (cases) by bins of 0.1, after the largest distance in a bin that holds 100; read: as the edges tested raise it"
    )
    kinds_of: tuple[tuple[Channel, bool], ...] = (("power", False), ("heart_rate", False), ("power", True))
    for channel, clearing in kinds_of:
        share = tests if channel == "power" and not clearing else tests // 2
        print(
            f" by {channel.replace('_', ' ')}{', baseline still clearing' if clearing else ''} ({share} tests)",
            flush=True,
        )
        printed(collected(seed, share, channel, clearing))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tests", type=int, default=240)
    parser.add_argument("--seed", type=int, default=7)
    chosen = parser.parse_args()
    run(chosen.seed, chosen.tests)


if __name__ == "__main__":
    main()
