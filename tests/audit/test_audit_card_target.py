"""A ride held at the card's target passes the audit, whatever the test (METHOD 1.2, 7)."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from audit_builders import SETTINGS, facts_of, make_arrays, make_info, power_rows, sets_of

from conftest import ROOT
from steadyband.audit.judge import judge
from steadyband.steptest import make_zones
from steadyband.steptest.workout import AIM, steady_workout

sys.path.insert(0, str(ROOT / "benchmarks"))
from verdict_edges import CURVES, Row, invented


@pytest.mark.parametrize("part", range(4))
def test_a_ride_at_the_cards_target_is_in_band(part: int) -> None:
    """200 random tests, good and bad, of five curves: an hour anywhere in the lower three quarters of the target is in band."""
    rng = np.random.default_rng(part)
    for number in range(50):
        row = Row(
            list(CURVES)[number % 5],
            (0.18, 0.3, 0.4)[number % 3],
            (15, 20, 25, 30)[number % 4],
            1 + number % 2,
            0.1,
            False,
        )
        test, _ = invented(row, rng)
        zone_set = make_zones(test)
        if zone_set.edges.floor is None:
            continue
        steady = steady_workout(zone_set, 60).parts[1]
        low, high = steady.low or 0.0, steady.high or 0.0
        held = rng.uniform(low, low + AIM * (high - low))
        power = held + 0.02 * held * rng.standard_normal(3600)
        arrays = make_arrays(power_rows(power), zone_set)
        verdict = judge(facts_of(arrays, sets_of(zone_set), make_info(), SETTINGS))
        assert verdict.in_band, (row, zone_set.edges, held, [finding.code for finding in verdict.findings])
