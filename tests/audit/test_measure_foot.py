"""How far a run's altimeter and speed are believed: scatters planted and found again, and the window that follows."""

from __future__ import annotations

import numpy as np
import pytest

from steadyband.audit.measure.foot import (
    HALVES_M,
    altimeter_scatter,
    between_records,
    flattened,
    footing,
    grade_error,
    slope_window,
    speed_scatter,
)
from steadyband.audit.measure.terrain import Course, on_grid
from steadyband.ground.settings import FootSettings, TerrainSettings

MOVING = np.ones(3600, bool)
PACE = 3.3


def _wander(seed: int, sd: float, size: int = 3600) -> np.ndarray:
    rng, keep = np.random.default_rng(seed), np.exp(-1 / 40)
    out = np.empty(size)
    out[0] = rng.standard_normal()
    for row, push in enumerate(rng.standard_normal(size - 1), 1):
        out[row] = keep * out[row - 1] + (1 - keep**2) ** 0.5 * push
    return sd * out


@pytest.mark.parametrize("sd", [0.5, 1.0, 3.0])
@pytest.mark.parametrize("slope", [0.0, 0.05])
def test_the_altimeters_scatter_is_found_again_on_the_flat_and_uphill(sd: float, slope: float) -> None:
    altitude = 200 + slope * PACE * np.arange(3600) + _wander(1, sd)
    assert altimeter_scatter(altitude, MOVING) == pytest.approx(sd, rel=0.10)


def test_a_rolling_road_is_not_taken_for_scatter() -> None:
    altitude = 20 * np.sin(PACE * np.arange(3600) / 150)
    assert altimeter_scatter(altitude, MOVING) < 0.5


def test_leaps_and_stops_stay_out() -> None:
    altitude = _wander(2, 1.0)
    altitude[1000:] += 40
    altitude[2000:2400] = np.nan
    moving = MOVING.copy()
    moving[500:700] = False
    altitude[500:700] = 900.0
    assert altimeter_scatter(altitude, moving) == pytest.approx(1.0, rel=0.15)


def test_the_speeds_scatter_is_found_again() -> None:
    speed = PACE + 0.3 * np.random.default_rng(3).standard_normal(3600)
    assert speed_scatter(speed, MOVING) == pytest.approx(0.3, rel=0.05)


@pytest.mark.parametrize("half", [30.0, 90.0, 180.0])
def test_the_error_of_the_grade_is_that_of_the_slope_really_taken(half: float) -> None:
    along = PACE * np.arange(20_000)
    settings = TerrainSettings(slope_half_m=half)
    rows = (np.arange(len(along)), along, np.zeros(len(along)), np.zeros(len(along)))
    course = on_grid(rows, (along, _wander(4, 1.0, len(along))), settings)
    inside = course.slope[400:-400]
    assert inside.std() == pytest.approx(grade_error(half, PACE), rel=0.10)


def test_the_window_grows_with_the_scatter_until_it_fails() -> None:
    halves = [slope_window(sd, PACE) for sd in (0.0, 0.5, 1.0)]
    assert [half for half, _ in halves] == sorted(half for half, _ in halves)
    assert halves[0][0] == HALVES_M[0]
    assert all(error <= FootSettings().grade_good for _, error in halves)
    assert slope_window(3.0, PACE)[0] == HALVES_M[-1]
    assert slope_window(3.0, PACE)[1] > FootSettings().grade_most


def rolling(wave_m: float, sd: float, size: int = 3600) -> Course:
    """Hills of up to 6 % under an altimeter that wanders, as a course along which 3.3 m are run a second."""
    along = PACE * np.arange(size)
    height = 0.06 * wave_m / (2 * np.pi) * np.sin(2 * np.pi * along / wave_m)
    rows = (np.arange(size), along, np.zeros(size), np.zeros(size))
    return on_grid(rows, (along, height + _wander(7, sd, size)), TerrainSettings())


def test_a_window_flattens_what_the_hills_have() -> None:
    # by hand: the least-squares slope over +-h of sin(kx) is 3 (sin kh - kh cos kh) / (kh)^3 of it, the mean over 30 m sin(15k) / 15k,
    # and 6 % at most are 6 / sqrt(2) points root mean square
    turn = 2 * np.pi / 600

    def kept(half: float) -> float:
        u = turn * half
        return 3 * (np.sin(u) - u * np.cos(u)) / u**3 * np.sin(15 * turn) / (15 * turn)

    by_hand = 0.06 / 2**0.5 * (kept(30) - kept(150))
    assert flattened([rolling(600, 0.0, 36_000)], 150.0, 0.0) == pytest.approx(by_hand, rel=0.02)
    noisy = flattened([rolling(600, 1.0, 36_000)], 150.0, grade_error(150.0, PACE, less_m=30.0))
    assert noisy == pytest.approx(by_hand, rel=0.10)
    assert flattened([], 150.0, 0.0) == 0.0


def test_on_short_hills_the_window_stays_short_and_may_not_do() -> None:
    flat, hilly = slope_window(1.0, PACE)[0], slope_window(1.0, PACE, found=[rolling(500, 1.0)])
    assert hilly[0] < flat
    assert hilly[1] > FootSettings().grade_good
    assert slope_window(0.4, PACE, found=[rolling(2000, 0.4)])[0] == slope_window(0.4, PACE)[0]


def test_the_settings_bound_the_window_and_say_what_is_good() -> None:
    strict, short = FootSettings(grade_good=0.002), FootSettings(slope_half_most_m=50)
    assert slope_window(0.5, PACE, strict)[0] > slope_window(0.5, PACE)[0]
    assert slope_window(1.0, PACE, short)[0] == 50
    wide = TerrainSettings(slope_half_m=200)
    assert slope_window(0.0, PACE, FootSettings(), wide)[0] == 200


@pytest.mark.parametrize("held", [2, 4, 7])
def test_records_that_are_held_are_no_scatter(held: int) -> None:
    """A run up 6 % recorded every few seconds: the steps of held records are no wandering."""
    own = np.arange(3600) // held * held
    along, altitude = PACE * own, 0.06 * PACE * own.astype(float)
    assert altimeter_scatter(altitude, MOVING) > 0.1
    assert altimeter_scatter(between_records(altitude, along), MOVING) < 0.02


def test_what_cannot_be_judged_says_which_sensor() -> None:
    speed = np.full(3600, PACE)
    assert footing(_wander(5, 1.0), speed, MOVING).code is None
    assert footing(_wander(5, 3.0), speed, MOVING).code == "grade_unsure"
    jitter = speed + 0.8 * np.random.default_rng(6).standard_normal(3600)
    assert footing(np.zeros(3600), jitter, MOVING).code == "speed_unsure"


def test_nothing_recorded_is_no_crash() -> None:
    nothing = np.full(100, np.nan)
    found = footing(nothing, nothing, np.ones(100, bool))
    assert (found.altimeter_m, found.speed_mps, found.slope_half_m) == (0.0, 0.0, HALVES_M[0])
    assert footing(np.empty(0), np.empty(0), np.empty(0, bool)).surges_judged
