"""Repeats of a hard session: number, length, mean, evenness and recoveries, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from steadyband.audit.measure.repeats import repeats
from steadyband.audit.model import EASY, HEAVY, Repeats
from steadyband.ground.settings import GuessSettings

CEILING, WINDOW_S = 170.0, 31


def found(pieces: list[tuple[float, int]], noise: float = 0.0) -> Repeats | None:
    """The repeats of pieces of (watts, seconds), found by the centred mean over 31 s."""
    load = np.concatenate([np.full(seconds, watts) for watts, seconds in pieces])
    load = load + np.random.default_rng(7).normal(0, noise, len(load))
    padded = np.pad(load, WINDOW_S // 2, mode="edge")
    band = np.convolve(padded, np.full(WINDOW_S, 1 / WINDOW_S), mode="valid")
    ribbon = np.where(band >= CEILING, HEAVY, EASY).astype(np.uint8)
    return repeats(ribbon, (load, band), np.full(len(load), 150.0), GuessSettings(), WINDOW_S)


@pytest.mark.parametrize(
    ("watts", "seconds", "rest", "count"), [(250, 240, 120, 5), (320, 60, 60, 8), (190, 480, 180, 3)]
)
@pytest.mark.parametrize("noise", [0.0, 15.0])
def test_planted_repeats_are_measured(watts: float, seconds: int, rest: int, count: int, noise: float) -> None:
    told = found([(120.0, 900), *[(watts, seconds), (100.0, rest)] * count, (120.0, 600)], noise)
    assert told is not None
    assert (told.number, told.others) == (count, 0)
    assert told.length_s == pytest.approx(seconds, abs=3)
    assert told.recovery_s == pytest.approx(rest, abs=3)
    assert told.mean == pytest.approx(watts, rel=0.02)
    assert told.recovery_mean == pytest.approx(100, rel=0.05)
    assert [item.recovery_s is None for item in told.efforts] == [False] * (count - 1) + [True]


def test_fading_repeats_tell_spread_and_change() -> None:
    told = found([(120.0, 900), (260.0, 240), (100.0, 180), (250.0, 240), (100.0, 180), (240.0, 240), (100.0, 300)])
    assert told is not None
    # By hand: mean 250 W; the furthest mean is 10 W off, 4 %; the last is 240 of 260 W, 7.7 % below the first.
    assert told.mean == pytest.approx(250, rel=0.01)
    assert told.spread == pytest.approx(0.04, abs=0.005)
    assert told.change == pytest.approx(-0.077, abs=0.005)


def test_an_effort_of_another_length_is_no_repeat_and_unlike_ones_are_all_told() -> None:
    hill = [(200.0, 70), (120.0, 300)]
    told = found([(120.0, 300), *hill, *[(250.0, 240), (100.0, 180)] * 4])
    assert told is not None
    assert (told.number, told.others) == (4, 1)
    ladder = found([(120.0, 300), *[piece for long in (60, 120, 240) for piece in ((250.0, long), (100.0, 120))]])
    assert ladder is not None
    assert (ladder.number, ladder.others) == (3, 0)
    assert (ladder.shortest_s, ladder.longest_s) == (pytest.approx(60, abs=2), pytest.approx(240, abs=2))


def test_one_effort_has_no_spread_and_none_is_none() -> None:
    race = found([(120.0, 600), (230.0, 1800), (120.0, 300)])
    assert race is not None
    assert (race.number, race.spread, race.change, race.recovery_s, race.recovery_mean) == (1, None, None, None, None)
    assert race.length_s == pytest.approx(1800, abs=2)
    assert found([(120.0, 1800)]) is None
