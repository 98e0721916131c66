"""Loads and highest heart rates of a step test from its own recording (METHOD 1.1; the output contract's `recording`).

The one place of this room that sees rows of a recording.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from steadyband.ground.units import is_speed, load_from_si, load_text, load_to_si
from steadyband.recording.model import Lap, Rows
from steadyband.steptest.model import Check, FloatArray, Step, StepTest

LOAD_DIFFERS, HR_DIFFERS_BPM = 0.03, 3.0
"""Typed values further off than this are reported (share of the load; bpm; design choice)."""
SETTLE_S = 60
"""Seconds at the start of a step left out of its mean load: the trainer or belt gets there first (design choice)."""
HR_SETTLE_S = 120
"""Seconds at the start of a step left out of its highest heart rate: it may still fall from before (design choice)."""
SPIKE_BPM = 5
"""A heart rate further than this from the seconds on both its sides is a spike and not the highest (design choice)."""
OVERRUN_S = 120
"""Longest that a step may run over its length (design choice: as late as a sample may be taken)."""
LAP_SHARE = (0.6, 1.6)
"""Laps of this share of the step length can be steps (design choice)."""
MATCH = 0.25
"""Largest mean relative distance of measured and typed loads at which they are taken for the same steps (design choice)."""
DEVICE_OFF, STEP_OFF = 0.10, 0.04
"""A recording is that of a test where its device reads so far off at most, and each step so far from the others (design choice)."""
BREAK_SHARE = 0.5
"""Load under this share of the step's median is a break in it (design choice)."""
GRID_S = 5
"""Step starts are searched for on this grid, then to the second (design choice)."""
SPACING = (0.75, 1.5)
"""Shortest and longest distance of two step starts that is searched, in step lengths (design choice)."""

IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class MeasuredStep:
    """One step of a recording: rows [start, end), mean load in W or m/s as the device has it, highest heart rate in bpm
    (NaN where it was not recorded)."""

    start: int
    end: int
    load: float
    hr_max_bpm: float


def measured_test(test: StepTest, rows: Rows, laps: Sequence[Lap]) -> tuple[StepTest, tuple[Check, ...]]:
    """The test with loads and highest heart rates taken from the recording, and what differed from the typed values.

    Where the steps cannot be found the test stays as typed and a check says so. Codes: recording_load, recording_hr,
    recording_no_steps, recording_no_load.
    """
    steps = measure_steps(rows, laps, test)
    if not steps:
        return test, (_not_found(test, rows),)
    checks = [check for number, step in enumerate(steps, 1) for check in _differences(test, number, step)]
    pairs = zip(test.steps, steps, strict=True)
    return replace(test, steps=tuple(_measured(step, found, test) for step, found in pairs)), tuple(checks)


def measure_steps(rows: Rows, laps: Sequence[Lap], test: StepTest) -> tuple[MeasuredStep, ...]:
    """The steps of a test within its recording, as many as the test has; empty where they cannot be found (METHOD 1.1).

    They begin where the test file says (`start`), else with laps about as long as a step, else where the load itself
    steps up at the expected distance. Found steps are taken only where their loads rise as the typed ones do.
    """
    load = _load(rows, test)
    if load is None:
        return ()
    length = round(60 * test.step_minutes)
    typed = np.array([load_to_si(step.load, test.load_unit) for step in test.steps])
    for starts in (
        _typed_starts(test),
        _lap_starts(load, laps, rows.start_s, (typed, length)),
        _load_starts(load, typed, length),
    ):
        if starts is None or starts[-1] + length // 3 > len(load):
            continue
        steps = tuple(_step(rows, load, start, end) for start, end in _spans(starts, length, len(load)))
        if _matches(steps, typed):
            return steps
    return ()


def is_recording_of(test: StepTest, rows: Rows, laps: Sequence[Lap]) -> bool:
    """True where a recording holds every step of a test: as many, in order, as long, and at its loads (METHOD 7).

    A device may read all loads a little high or low; what counts is that each step stands in the same ratio to the typed one.
    """
    found = np.array([step.load for step in measure_steps(rows, laps, test)])
    if not len(found):
        return False
    ratios = found / np.array([load_to_si(step.load, test.load_unit) for step in test.steps])
    middle = float(np.median(ratios))
    return abs(middle - 1) <= DEVICE_OFF and bool(np.all(np.abs(ratios / middle - 1) <= STEP_OFF))


def _load(rows: Rows, test: StepTest) -> FloatArray | None:
    channel = "speed_mps" if is_speed(test.load_unit) else "power_w"
    if not rows.has(channel) or not np.isfinite(rows.channels[channel]).any():
        return None
    return rows.channels[channel]


def _typed_starts(test: StepTest) -> IntArray | None:
    starts = [step.start_s for step in test.steps]
    known = [start for start in starts if start is not None]
    if len(known) < len(starts) or any(low >= high for low, high in pairwise(known)):
        return None
    return np.array([round(start) for start in known])


def _lap_starts(load: FloatArray, laps: Sequence[Lap], start_s: int, wanted: tuple[FloatArray, int]) -> IntArray | None:
    typed, length = wanted
    low, high = (share * length for share in LAP_SHARE)
    spans = [(round(lap.start_s - start_s), round(lap.end_s - start_s)) for lap in laps]
    long = [span for span in spans if low <= span[1] - span[0] <= high and span[0] >= 0]
    if len(long) < len(typed):
        return None
    means = np.array([_mean(load[begin + SETTLE_S : end]) for begin, end in long])
    windows = sliding_window_view(means, len(typed))
    misfit = np.nan_to_num(np.abs(windows / typed - 1).mean(axis=1), nan=np.inf)
    at = int(np.argmin(misfit))
    return np.array([begin for begin, _ in long[at : at + len(typed)]])


def _load_starts(load: FloatArray, typed: FloatArray, length: int) -> IntArray | None:
    """Starts of the steps in the load itself: those whose rises, distances and levels together fit best.

    A dynamic program over a 5-s grid: a start scores by how much the mean of the seconds after it stands above that of
    the seconds before, in typed step heights; by how even the step is and, weakly, how near to its typed load; and by
    its distance from the start before, which should be a step length. No step higher still may follow the last.
    """
    if len(load) < length * (len(typed) - 0.5):
        return None
    window = min(120, length // 4)
    filled = np.where(np.isfinite(load), load, 0.0)
    total = np.concatenate([[0.0], np.cumsum(filled)])
    grid = np.arange(0, len(load) - window, GRID_S)
    scores = [_score(total, grid, (typed, step, length, window)) for step in range(len(typed))]
    best, back = scores[0], []
    reach = np.arange(round(SPACING[0] * length / GRID_S), round(SPACING[1] * length / GRID_S) + 1)
    off = 0.5 * ((reach * GRID_S - length) / (0.25 * length)) ** 2
    for score in scores[1:]:
        before = np.arange(len(grid))[:, None] - reach
        paths = np.where(before >= 0, best[np.maximum(before, 0)] - off, -np.inf)
        choice = np.argmax(paths, axis=1)
        back.append(np.take_along_axis(before, choice[:, None], axis=1)[:, 0])
        best = score + np.take_along_axis(paths, choice[:, None], axis=1)[:, 0]
    return _refined(total, grid[_trace(best, back)], window)


def _score(total: FloatArray, at: IntArray, wanted: tuple[FloatArray, int, int, int]) -> FloatArray:
    typed, step, length, window = wanted
    height = typed[step] - typed[step - 1] if step else typed[1] - typed[0]
    early, late = _mean_of(total, at + SETTLE_S, at + length // 2), _mean_of(total, at + length // 2, at + length)
    uneven = np.minimum(np.abs(late - early) / height, 1.0)
    misfit = np.minimum(np.abs((early + late) / 2 / typed[step] - 1), 1.0)
    score: FloatArray = np.clip(_rise(total, at, window) / height, -1, 1) - uneven - misfit
    if step == len(typed) - 1:
        score -= np.clip(_rise(total, np.minimum(at + length, len(total) - 1), window) / height, 0, 1)
    return score


def _rise(total: FloatArray, at: IntArray, window: int) -> FloatArray:
    """Mean of the window after each row less that of the window before it; 0 where there is nothing before."""
    before = np.maximum(at - window, 0)
    rise: FloatArray = _mean_of(total, at, at + window) - _mean_of(total, before, at)
    return np.where(at - before >= window // 2, rise, 0.0)


def _mean_of(total: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """Mean of the rows [first, last), cut at the ends of the recording, from running totals."""
    low, high = (np.clip(rows, 0, len(total) - 1) for rows in (first, last))
    mean: FloatArray = (total[high] - total[low]) / np.maximum(high - low, 1)
    return mean


def _trace(best: FloatArray, back: list[IntArray]) -> IntArray:
    at = int(np.argmax(best))
    path = [at]
    for row in reversed(back):
        at = int(row[at])
        path.append(max(at, 0))
    return np.array(path[::-1])


def _refined(total: FloatArray, starts: IntArray, window: int) -> IntArray:
    near = starts[:, None] + np.arange(-3 * GRID_S, 3 * GRID_S + 1)
    near = np.clip(near, 0, len(total) - 1)
    rises = _rise(total, near, window)
    refined: IntArray = np.take_along_axis(near, np.argmax(rises, axis=1)[:, None], axis=1)[:, 0]
    return refined


def _spans(starts: IntArray, length: int, rows: int) -> Iterator[tuple[int, int]]:
    ends = np.minimum([*starts[1:], rows], starts + length + OVERRUN_S)
    ends[-1] = min(starts[-1] + length, rows)
    yield from zip(starts.tolist(), ends.tolist(), strict=True)


def _step(rows: Rows, load: FloatArray, start: int, end: int) -> MeasuredStep:
    heart = rows.channels["heart_rate_bpm"][start:end]
    return MeasuredStep(start, end, _mean(load[start + SETTLE_S : end]), _highest(heart[HR_SETTLE_S:]))


def _mean(load: FloatArray) -> float:
    known = load[np.isfinite(load)]
    if not len(known):
        return float("nan")
    return float(known[known >= BREAK_SHARE * np.median(known)].mean())


def _highest(heart: FloatArray) -> float:
    if len(heart) < 2:
        return float("nan")
    jumps = np.nan_to_num(np.abs(np.diff(heart)), nan=np.inf)
    calm = np.minimum(np.append(jumps, np.inf), np.insert(jumps, 0, np.inf)) <= SPIKE_BPM
    return float(heart[calm].max()) if calm.any() else float("nan")


def _matches(steps: Sequence[MeasuredStep], typed: FloatArray) -> bool:
    found = np.array([step.load for step in steps])
    return bool(np.all(np.diff(found) > 0) and np.mean(np.abs(found / typed - 1)) <= MATCH)


def _measured(step: Step, found: MeasuredStep, test: StepTest) -> Step:
    typed_si = load_to_si(step.load, test.load_unit)
    load = _rounded(found.load, test)
    hr = step.hr_max_bpm if np.isnan(found.hr_max_bpm) else found.hr_max_bpm
    return replace(step, load=load_from_si(load, test.load_unit), load_si=step.load_si * load / typed_si, hr_max_bpm=hr)


def _rounded(load: float, test: StepTest) -> float:
    """To the whole watt, or to 0.05 km/h: what a device is good for."""
    return round(20 * load * 3.6) / 72 if is_speed(test.load_unit) else float(round(load))


def _differences(test: StepTest, number: int, found: MeasuredStep) -> Iterator[Check]:
    step = test.steps[number - 1]
    typed = load_to_si(step.load, test.load_unit)
    typed_text, found_text = (load_text(value, test.load_unit) for value in (typed, found.load))
    if abs(found.load / typed - 1) > LOAD_DIFFERS:
        text = (
            f"Step {number} is typed as {typed_text}; the recording {test.recording or ''} has {found_text}, "
            f"{100 * (found.load / typed - 1):+.1f} %. The recording is used; if the typed load is right, take `recording` out."
        )
        yield Check("recording_load", "warn", number, text, {"typed": typed, "measured": found.load})
    if step.hr_max_bpm is not None and abs(found.hr_max_bpm - step.hr_max_bpm) > HR_DIFFERS_BPM:
        text = (
            f"The highest heart rate of step {number} ({typed_text}) is typed as {step.hr_max_bpm:g} bpm; the recording "
            f"{test.recording or ''} has {found.hr_max_bpm:.0f}. The recording is used."
        )
        yield Check("recording_hr", "warn", number, text, {"typed": step.hr_max_bpm, "measured": found.hr_max_bpm})


def _not_found(test: StepTest, rows: Rows) -> Check:
    name = test.recording or "the recording"
    if _load(rows, test) is None:
        what = "speed" if is_speed(test.load_unit) else "power"
        text = f"{name} carries no {what}, so loads and heart rates stay as typed. Record the test with a sensor for it, or take `recording` out."
        return Check("recording_no_load", "warn", None, text)
    text = (
        f"The {len(test.steps)} steps of {test.step_minutes:g} minutes could not be found in {name}, so loads and heart rates stay "
        'as typed. Check that it is the test\'s own recording, or add `start = "h:mm:ss"` (time into the recording) to every step.'
    )
    return Check("recording_no_steps", "warn", None, text, {"steps": len(test.steps), "recorded_s": len(rows)})
