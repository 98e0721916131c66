"""From the samples of a test to one lactate value per step (METHOD 1.1)."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

import numpy as np

from steadyband.steptest.curve.posterior import Readings
from steadyband.steptest.model import FloatArray, Sample, Step, StepTest


def second_half(step: Step, step_minutes: float) -> tuple[Sample, ...]:
    """Samples noted at half of the step's length [min] or later."""
    return tuple(item for item in step.samples if item.minute is not None and item.minute >= step_minutes / 2)


def counted(step: Step, step_minutes: float) -> tuple[float, ...]:
    """The readings [mmol/L] that make a step's lactate: those of its second half, with none there the last sample."""
    late = second_half(step, step_minutes) or step.samples[-1:]
    return tuple(item.lactate_mmol_l for item in late)


def counted_readings(test: StepTest) -> tuple[tuple[float, ...], ...]:
    """The readings [mmol/L] behind the baseline (its last sample) and behind every step.

    The baseline is in order of time: after a high one the athlete spins and samples again, so the last one counts.
    """
    return (test.baseline[-1:], *(counted(step, test.step_minutes) for step in test.steps))


def readings_of(test: StepTest) -> Readings:
    """What a curve is drawn through: every counted sample with its step, and the baseline (METHOD 1.2)."""
    baseline, *steps = counted_readings(test)
    return readings([step.load_si for step in test.steps], steps, baseline[0], test.step_minutes)


def readings(
    loads: Sequence[float], steps: Sequence[Sequence[float]], baseline: float | None, step_minutes: float
) -> Readings:
    """`loads` [n], W or m/s, and the samples of each step [mmol/L] as arrays for the posterior."""
    number = np.repeat(np.arange(len(steps)), [len(values) for values in steps])
    lactate = np.array([value for values in steps for value in values], dtype=float)
    return Readings(np.array(loads, dtype=float), number, lactate, baseline, step_minutes)


def lactate_values(test: StepTest) -> FloatArray:
    """L_0 (baseline), L_1..L_n [mmol/L], shape [n + 1]: the median of the counted readings (METHOD 1.1)."""
    return np.array([median(values) for values in counted_readings(test)])


def load_values(test: StepTest) -> FloatArray:
    """Loads [W or flat-equivalent m/s], shape [n + 1]: the baseline at 0, then the steps, rising."""
    return np.array([0.0, *(step.load_si for step in test.steps)])


def hr_values(test: StepTest) -> FloatArray:
    """Highest heart rate of every step [bpm], shape [n]; NaN where it was not noted."""
    return np.array([np.nan if step.hr_max_bpm is None else step.hr_max_bpm for step in test.steps])


def first_running_step(test: StepTest) -> int:
    """Number of the first step that is run, 1 for a test without walking steps or without running ones."""
    running = [number for number, step in enumerate(test.steps, 1) if step.gait == "run"]
    walked = test.sport == "running" and len(running) < len(test.steps)
    return running[0] if walked and running else 1
