"""Grade on courses of known shape."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from audit_builders import SETTINGS, make_rows

from steadyband.audit.measure.terrain import grade

TERRAIN = SETTINGS.terrain


def course(slopes: list[tuple[float, float]], speed: float = 8.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Distance, altitude and true grade per second over (length in m, grade) pieces."""
    ends = np.cumsum([length for length, _ in slopes])
    distance = np.arange(0.0, ends[-1], speed)
    heights = np.concatenate(([0.0], np.cumsum([length * slope for length, slope in slopes])))
    altitude = 200 + np.interp(distance, np.concatenate(([0.0], ends)), heights)
    true = np.array([slope for _, slope in slopes])[np.searchsorted(ends, distance, side="right")]
    return distance, altitude, true


def grade_of(distance: np.ndarray, altitude: np.ndarray, **more: object) -> np.ndarray:
    return grade(make_rows({"distance_m": distance, "altitude_m": altitude}, **more), TERRAIN)  # type: ignore[arg-type]


@pytest.mark.parametrize("slope", [-0.12, -0.02, 0.0, 0.03, 0.08, 0.45])
@pytest.mark.parametrize("speed", [0.9, 3.0, 8.0, 18.0])
def test_a_ramp_has_its_grade_everywhere(slope: float, speed: float) -> None:
    distance, altitude, true = course([(2000, slope)], speed)
    np.testing.assert_allclose(grade_of(distance, altitude), true, atol=1e-9)


def test_each_piece_of_a_course_has_its_grade_away_from_the_bends() -> None:
    distance, altitude, true = course([(500, 0.0), (800, 0.06), (600, -0.05), (400, 0.02)])
    found = grade_of(distance, altitude)
    bends = np.array([500.0, 1300.0, 1900.0])
    # smoothing reaches 15 m and the slope 30 m: 45 m from a bend nothing of it is left, but for the interpolated
    # altitude between two rows 8 m apart
    clear = np.min(np.abs(distance[:, None] - bends), axis=1) > 45 + 8
    np.testing.assert_allclose(found[clear], true[clear], atol=1e-9)
    assert np.all((found > -0.05 - 1e-9) & (found < 0.06 + 1e-9))


def test_altimeter_steps_of_20_cm_scatter_the_grade_less_than_published() -> None:
    # published (SOURCES S10): steps of 0.2 m alone give 0.16 % SD of grade over 50 m; ours looks at 60 m, smoothed
    distance, altitude, true = course([(3000, 0.021), (3000, -0.013), (3000, 0.047)], 7.3)
    found = grade_of(distance, np.round(altitude / 0.2) * 0.2)
    clear = np.min(np.abs(distance[:, None] - np.array([3000.0, 6000.0])), axis=1) > 53
    error = (found - true)[clear]
    assert np.std(error) < 0.0016
    assert abs(np.mean(error)) < 0.0002


def test_standing_still_while_the_altimeter_drifts_makes_no_hill() -> None:
    distance, altitude, _true = course([(2000, 0.04)])
    wait = 600
    stopped = np.insert(distance, [100] * wait, distance[100])
    drifting = np.insert(altitude, [100] * wait, altitude[100] + np.linspace(-0.5, 0.5, wait))
    found = grade_of(stopped, drifting)
    assert np.all(np.isfinite(found))
    np.testing.assert_allclose(found, 0.04, atol=0.002)


def test_held_records_give_the_grade_of_their_distance() -> None:
    distance, altitude, _true = course([(3000, 0.05)])
    held = np.arange(len(distance)) // 6 * 6
    np.testing.assert_allclose(grade_of(distance[held], altitude[held]), 0.05, atol=1e-9)


def test_speed_stands_in_for_a_missing_distance() -> None:
    speed = np.full(300, 8.0)
    altitude = 100 + 0.03 * np.cumsum(speed)
    np.testing.assert_allclose(grade(make_rows({"speed_mps": speed, "altitude_m": altitude}), TERRAIN), 0.03, atol=1e-9)


def test_unknown_is_nan() -> None:
    length = 200
    distance, altitude = np.arange(length) * 8.0, np.full(length, 100.0)
    assert np.all(np.isnan(grade(make_rows({"distance_m": distance}), TERRAIN)))
    assert np.all(np.isnan(grade(make_rows({"altitude_m": altitude}), TERRAIN)))
    assert np.all(np.isnan(grade_of(np.zeros(length), altitude)))  # no progress
    assert np.all(np.isnan(grade_of(np.linspace(0, 25, length), altitude)))  # shorter than the half window
    hole = altitude.copy()
    hole[50:100] = np.nan
    found = grade_of(distance, hole)
    assert np.all(np.isnan(found[50:100]))
    assert np.all(found[:50] == 0)


def test_no_slope_runs_across_a_pause() -> None:
    pause = np.zeros(200, bool)
    pause[100:110] = True
    distance = np.arange(200) * 8.0
    altitude = np.where(np.arange(200) < 105, 100.0, 130.0)  # the altimeter was set anew during the pause
    found = grade_of(distance, altitude, pause=pause)
    assert np.all(np.isnan(found[pause]))
    np.testing.assert_allclose(found[~pause], 0.0, atol=1e-9)


def test_a_distance_that_restarts_or_leaps_begins_a_new_piece() -> None:
    step = np.full(300, 8.0)
    step[100], step[200] = -700.0, 50_000.0
    altitude = 100 + 0.04 * np.cumsum(np.full(300, 8.0))
    np.testing.assert_allclose(grade_of(np.cumsum(step), altitude), 0.04, atol=1e-9)


def test_an_altimeter_set_anew_on_the_way_makes_no_cliff() -> None:
    distance, altitude, _ = course([(2000, 0.04)])
    shifted = altitude + np.where(np.arange(len(altitude)) >= 120, -60.0, 0.0)
    np.testing.assert_allclose(grade_of(distance, shifted), 0.04, atol=1e-9)


def test_a_course_no_one_can_have_covered_is_unknown() -> None:
    assert np.all(np.isnan(grade_of(np.arange(200) * 900.0, np.arange(200) * 5.0)))


def test_grade_has_no_dimension() -> None:
    # the same course measured in double metres throughout, windows too, has the same grade
    distance, altitude, _ = course([(500, 0.0), (800, 0.06), (600, -0.05)])
    doubled = dataclasses.replace(TERRAIN, smooth_m=60.0, slope_half_m=60.0)
    rows = make_rows({"distance_m": 2 * distance, "altitude_m": 2 * altitude})
    np.testing.assert_allclose(grade(rows, doubled), grade_of(distance, altitude), atol=0.002)
