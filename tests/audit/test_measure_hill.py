"""The same hill again: identical efforts are as before, surges left away are smoother, and what scatter can do."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from steadyband.audit.measure.dose import surge_mean
from steadyband.audit.measure.hill import Effort, compared, effort_above

CEILING, SECONDS = 176.0, 400


def _effort(seed: int, surges: int = 0, scatter: float = 0.08) -> Effort:
    rng = np.random.default_rng(seed)
    level = np.full(SECONDS, 165.0)
    for number in range(surges):
        level[40 + 90 * number : 60 + 90 * number] = 230.0
    load = level * (1 + scatter * rng.standard_normal(SECONDS))
    return effort_above(surge_mean(load, np.zeros(SECONDS, np.int32)), CEILING, scatter / 10**0.5)


def test_identical_efforts_are_as_before_and_surges_tell() -> None:
    calm, rough = [_effort(seed) for seed in range(20)], [_effort(seed, 4) for seed in range(20)]
    alike = [compared(one, [other]) for one, other in zip(calm[1:], calm[:-1], strict=True)]
    assert alike.count("as_before") >= 18
    assert all(compared(one, rough[:3]) == "smoother" for one in calm)
    assert all(compared(one, calm[:3]) == "rougher" for one in rough)


def test_two_seconds_of_difference_are_nothing() -> None:
    """138 s after 140 s on identical effort was once told as smoother."""
    assert compared(Effort(3.0, 0.0), [Effort(4.5, 0.0)]) == "as_before"


def test_the_scatter_of_the_sum_is_what_many_efforts_show() -> None:
    """Outside check: efforts of independent pieces of 15 s drawn by scipy scatter as stated."""
    scatter, level = 0.08, 170.0
    pieces = stats.norm(level, scatter * level).rvs((4000, SECONDS // 10), random_state=3)
    sums = np.maximum(np.repeat(pieces, 10, axis=1) - CEILING, 0.0).sum(axis=1) / CEILING
    stated = effort_above(np.full(SECONDS, level), CEILING, scatter).scatter_s
    assert stated == pytest.approx(sums.std() * (15 / 10) ** 0.5, rel=0.05)


def test_an_effort_without_a_measured_second_is_empty() -> None:
    assert effort_above(np.full(30, np.nan), CEILING, 0.1) == Effort(0.0, 0.0)
    assert effort_above(np.empty(0), CEILING, 0.1).above_s == 0.0
