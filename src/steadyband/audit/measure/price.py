"""The price of riding smooth: the same course ridden again by the road model with avoidable surges clipped (METHOD 4.3)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.measure.gears import vehicle_of
from steadyband.audit.model import Price, Rider, Surges
from steadyband.ground.road import (
    BEARINGS_KG_S,
    BEARINGS_N,
    CHAIN,
    WHEEL_DRAG_M2,
    Vehicle,
    bearing_force,
    climbing_force,
    drag_factor,
    effective_mass,
    kinetic_energy,
    rolling_factor,
)
from steadyband.ground.said import Said
from steadyband.ground.settings import TerrainSettings
from steadyband.recording.model import Rows

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELL_M = 20.0
"""Length of the pieces the course is ridden in [m] (design choice: a few seconds, like the shortest surge)."""

MOVING_MPS = 1.0
"""Slower seconds are taken for standing [m/s] (design choice: under the slowest sensible speed)."""

COAST_W = 20.0
"""A piece ridden with less power than this was coasted, maybe braked: the model goes no faster there than the rider [W]."""

WINDOW_S = 60
"""Energy balances of this length fit drag and rolling [s] (design choice)."""

CDA_BOUNDS = (0.15, 0.7)
CRR_BOUNDS = (0.002, 0.015)
"""Drag area [m²] and rolling coefficient beyond which a fit is no rider on a road (common practice, no source)."""

LEAST_WINDOWS = 10
FIELD_ERROR = 0.20
"""Least relative error told, so that it holds the truth in 80 % with winds up to 6 m/s that the model does not know (simulated rides,
benchmarks/verdict_sessions.py); in still air such models are out by up to about 10 % (95 % interval, SOURCES S4)."""

CREEP_MPS = 1.2
"""Speed under which pedalling is taken to pull as at this speed [m/s], so that a start from standing is finite (design choice)."""

ESTIMATE = Said("estimate")


@dataclass(frozen=True, slots=True)
class Moving:
    """The moving seconds of a ride on known ground [k]: row, metres covered, speed before and after, power, grade."""

    row: IntArray
    metres: FloatArray
    speed: FloatArray
    power: FloatArray
    grade: FloatArray


@dataclass(frozen=True, slots=True)
class Pieces:
    """The course in pieces [p]: metres, seconds taken, grade, mean power, and the speed not passed at the end of each [m/s],
    inf for none; `starts` where the rider stood before.
    """

    metres: FloatArray
    seconds: FloatArray
    grade: FloatArray
    power: FloatArray
    most: FloatArray
    starts: NDArray[np.bool_]


def price_of_smooth(
    rows: Rows, grade: FloatArray, surges: Surges, rider: Rider, limits: tuple[float, TerrainSettings]
) -> Price | None:
    """What clipping the avoidable surges at the ceiling would have cost (METHOD 4.3, SOURCES S4).

    `grade` [n]; `limits` are the ceiling [W] and the settings. None where mass is not known or no surge was avoidable.
    """
    ceiling, settings = limits
    saved = [event for event in surges.events if event.forced is False]
    mass = rider.mass_kg
    if mass is None or not saved or not (rows.has("power_w") and rows.has("speed_mps")):
        return None
    moving = _moving(rows, grade)
    vehicle = fitted(moving, vehicle_of(rider, mass, settings), rider)
    if vehicle is None:
        return _withheld(len(saved), Said("too_little_known"))
    clipped = rows.channels["power_w"].copy()
    for event in saved:
        piece = slice(event.start_s, event.start_s + event.length_s)
        clipped[piece] = np.minimum(clipped[piece], ceiling)
    return _priced(moving, clipped[moving.row], vehicle, (len(saved), rider, settings))


def _priced(moving: Moving, clipped: FloatArray, vehicle: Vehicle, rest: tuple[int, Rider, TerrainSettings]) -> Price:
    saved, rider, settings = rest
    ridden, smooth = pieces(moving, moving.power), pieces(moving, clipped)
    real, modelled = float(ridden.seconds.sum()), ride_time(ridden, vehicle)
    error = modelled / real - 1
    if abs(error) > settings.price_within:
        return replace(_withheld(saved, Said("model_misses", {"error": error})), model_error=error)
    lost = ride_time(smooth, vehicle) - modelled
    halves = [half for half in _halves(moving, vehicle, rider) if half is not None]
    others = [ride_time(smooth, half) - ride_time(ridden, half) for half in halves]
    spread = max((abs(other - lost) for other in others), default=0.0)
    return Price(
        seconds_lost=lost,
        seconds_error=max(spread, abs(error) * abs(lost), FIELD_ERROR * abs(lost)),
        share_lost=lost / real,
        surges_saved=saved,
        moving_s=real,
        model_error=error,
        cda_m2=vehicle.cda_m2,
        crr=vehicle.crr,
        note=ESTIMATE,
    )


def _withheld(saved: int, why: Said) -> Price:
    return Price(None, None, None, saved, None, None, None, None, why)


def _moving(rows: Rows, grade: FloatArray) -> Moving:
    power, speed = rows.channels["power_w"], rows.channels["speed_mps"]
    distance = rows.channels["distance_m"] if rows.has("distance_m") else np.cumsum(np.nan_to_num(speed))
    metres = np.diff(distance, prepend=distance[:1])
    known = np.isfinite(power) & np.isfinite(speed) & np.isfinite(grade) & (rows.stretch >= 0)
    row = np.flatnonzero(known & (speed >= MOVING_MPS) & (metres > 0) & (metres < 40))
    return Moving(row, metres[row], speed[row], power[row], grade[row])


def _unbroken(moving: Moving) -> NDArray[np.bool_]:
    """True [k] where a moving second follows the one before it."""
    return np.asarray(np.diff(moving.row, prepend=moving.row[:1] - 1) == 1)


def fitted(moving: Moving, start: Vehicle, rider: Rider, part: int | None = None) -> Vehicle | None:
    """The vehicle with drag area and rolling coefficient that balance the energy of the ride best, within bounds.

    Windows of unbroken riding without coasting; each says energy put in = climbing + speeding up + bearings + what drag
    and rolling took, linear in both (S4). What the athlete file gives is kept. `part` takes every second window only.
    None with too few windows.
    """
    windows = np.array(list(_balances(moving, start)))
    windows = windows if part is None else windows[part::2]
    if len(windows) < LEAST_WINDOWS:
        return None
    cda, crr = _bounded_fit(windows, rider.cda_m2, rider.crr)
    return replace(start, cda_m2=cda, crr=crr)


def _halves(moving: Moving, start: Vehicle, rider: Rider) -> list[Vehicle | None]:
    return [fitted(moving, start, rider, part) for part in (0, 1)]


def _balances(moving: Moving, vehicle: Vehicle) -> Iterator[tuple[float, float, float]]:
    """(air, rolling, energy) of each window [J per m², J, J]: air x CdA + rolling x Crr = energy."""
    air = 0.5 * vehicle.air_kg_m3 * moving.speed**2 * moving.metres
    rolling = rolling_factor(vehicle, moving.grade) * moving.metres
    spent = (climbing_force(vehicle, moving.grade) + bearing_force(moving.speed)) * moving.metres
    given = CHAIN * moving.power - spent - WHEEL_DRAG_M2 * air
    breaks = np.flatnonzero(~_unbroken(moving) | (moving.power < COAST_W))
    for first, end in zip(np.concatenate(([0], breaks + 1)), np.append(breaks, len(moving.row)), strict=True):
        for start in range(int(first), int(end) - WINDOW_S + 1, WINDOW_S):
            span = slice(start + 1, start + WINDOW_S)
            before, after = float(moving.speed[start]), float(moving.speed[start + WINDOW_S - 1])
            gained = kinetic_energy(vehicle.mass_kg, after) - kinetic_energy(vehicle.mass_kg, before)
            yield float(air[span].sum()), float(rolling[span].sum()), float(given[span].sum() - gained)


def _bounded_fit(windows: FloatArray, cda: float | None, crr: float | None) -> tuple[float, float]:
    """Least squares for both, for one where the other is given or at its bound; the best of what lies within bounds."""
    air, rolling, energy = windows.T
    tries: list[tuple[float, float]] = []
    if cda is None and crr is None:
        free = np.linalg.lstsq(windows[:, :2], energy, rcond=None)[0]
        tries.append((float(free[0]), float(free[1])))
    for fixed in (cda,) if cda is not None else CDA_BOUNDS:
        rest = crr if crr is not None else float(rolling @ (energy - air * fixed) / (rolling @ rolling))
        tries.append((fixed, _held(rest, CRR_BOUNDS) if crr is None else rest))
    for fixed in (crr,) if crr is not None else CRR_BOUNDS:
        rest = cda if cda is not None else float(air @ (energy - rolling * fixed) / (air @ air))
        tries.append((_held(rest, CDA_BOUNDS) if cda is None else rest, fixed))
    inside = [one for one in tries if _within(one, cda, crr)]
    return min(inside, key=lambda one: float(np.sum((air * one[0] + rolling * one[1] - energy) ** 2)))


def _held(value: float, bounds: tuple[float, float]) -> float:
    return min(max(value, bounds[0]), bounds[1])


def _within(one: tuple[float, float], cda: float | None, crr: float | None) -> bool:
    drag = cda is not None or CDA_BOUNDS[0] <= one[0] <= CDA_BOUNDS[1]
    return drag and (crr is not None or CRR_BOUNDS[0] <= one[1] <= CRR_BOUNDS[1])


def pieces(moving: Moving, power: FloatArray) -> Pieces:
    """The course cut into pieces of about `CELL_M`, never across a stop, with the mean of `power` [W, k] in each."""
    unbroken = _unbroken(moving)
    run = np.cumsum(~unbroken)
    along = np.cumsum(moving.metres)
    base = np.concatenate(([0.0], along[:-1]))[np.searchsorted(run, run)]
    cell = ((along - moving.metres - base) / CELL_M).astype(np.int64)
    first = np.flatnonzero((np.diff(run, prepend=-1) != 0) | (np.diff(cell, prepend=-1) != 0))
    metres = np.add.reduceat(moving.metres, first)
    seconds = np.diff(np.append(first, len(moving.row))).astype(np.float64)
    ends = moving.speed[np.append(first[1:], len(moving.row)) - 1]
    mean = np.add.reduceat(power, first) / seconds
    return Pieces(
        metres=metres,
        seconds=seconds,
        grade=np.add.reduceat(moving.grade * moving.metres, first) / metres,
        power=mean,
        most=np.where((mean < COAST_W) & (ends >= MOVING_MPS), ends, np.inf),
        starts=~unbroken[first],
    )


def ride_time(course: Pieces, vehicle: Vehicle) -> float:
    """Seconds the model takes for the course, see `piece_times`."""
    return float(piece_times(course, vehicle).sum())


def piece_times(course: Pieces, vehicle: Vehicle) -> FloatArray:
    """Seconds the model takes for each piece of the course [p].

    Each piece changes the energy of motion by what pedalling gives less what slope, rolling, air and bearings take, at the
    mean of the speeds before and after (S4, two steps of iteration). After a stop it starts at the rider's own speed, and
    where the rider coasted it goes no faster than the rider did.
    """
    mass, drag = effective_mass(vehicle.mass_kg), drag_factor(vehicle)
    slope = climbing_force(vehicle, course.grade) + vehicle.crr * rolling_factor(vehicle, course.grade)
    hold = slope + BEARINGS_N
    columns = (course.metres, CHAIN * course.power, hold, course.starts, course.metres / course.seconds, course.most)
    speed, times = float(columns[4][0]), []
    for metres, pull, held, begin, own, most in zip(*(column.tolist() for column in columns), strict=True):
        speed = own if begin else speed
        after = speed
        for _ in range(2):
            mean = max(0.5 * (speed + after), CREEP_MPS)
            energy = speed * speed + 2 * metres / mass * (pull / mean - held - (drag * mean + BEARINGS_KG_S) * mean)
            after = max(energy, 1.0) ** 0.5
        after = min(after, most)
        times.append(2 * metres / (speed + after))
        speed = after
    return np.array(times)
