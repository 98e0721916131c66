"""Where the edges stand while a test is being done, and what the next sample would tell (METHOD 1.6). Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import load_to_si
from steadyband.steptest.curve.posterior import Curves, Readings, draw_curves, edge_sets, sample_density
from steadyband.steptest.curve.readings import readings
from steadyband.steptest.curve.suspects import Suspect, suspects
from steadyband.steptest.dialogue.draft import Draft, analyser_of, counted
from steadyband.steptest.dialogue.talk import planned_load
from steadyband.steptest.model import AnalyserSd, FloatArray

IMAGINED = 64
"""Readings imagined for a next sample, one from each of as many curves."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A draft so far (METHOD 1.6): steps that have a sample (`numbers`, from 1), the curves drawn, their edge sets [1 + N, 3]."""

    numbers: tuple[int, ...]
    read: Readings
    analyser: AnalyserSd
    curves: Curves
    sets: FloatArray
    settings: StepTestSettings

    @property
    def last(self) -> float:
        """Highest load that has a sample, W or m/s."""
        return float(self.read.loads[-1])

    @property
    def flat(self) -> float:
        """Flat part [mmol/L]."""
        return float(np.median(self.curves.base))

    @property
    def behind(self) -> float:
        """Chance that the ceiling lies below the highest load that has a sample."""
        return float(np.mean(self.sets[1:, 2] < self.last))

    def width(self, weights: FloatArray | None = None) -> float:
        """Ranges of floor and ceiling added up, W or m/s: as they are, or the mean over columns of `weights` [N, k]."""
        even = np.ones((len(self.curves), 1)) if weights is None else weights
        share, rises = self.settings.range_share, (self.settings.rise, self.settings.ceiling_rise)
        return float(np.mean(sum(_width(self.curves.loads_at(rise), even, share) for rise in rises)))

    def gain(self, load: float) -> float:
        """How much one more sample at `load` [W or m/s] can be expected to take off `width`, never below 0."""
        levels = self.curves.lactate(np.array([load]))[:, 0]
        sd = self.curves.scatter * self.analyser.at(levels)
        z = np.random.default_rng(self.settings.seed).standard_normal(IMAGINED)
        imagined = levels[:IMAGINED] + sd[:IMAGINED] * z
        return max(0.0, self.width() - self.width(sample_density(imagined - levels[:, None], sd[:, None])))

    def suspects(self) -> tuple[Suspect, ...]:
        """The sample that does not sit with the others, where there is one."""
        return suspects(self.read, self.curves, self.analyser, self.settings, asking=True)


def standing(draft: Draft, settings: StepTestSettings) -> Standing | None:
    """The posterior of what is entered so far (METHOD 1.2); None before the baseline and the first sample."""
    numbers = tuple(number for number, step in enumerate(draft.steps, 1) if step.samples)
    if not draft.baseline or not numbers:
        return None
    steps = [draft.steps[number - 1] for number in numbers]
    loads = [load_to_si(step.load, draft.unit) for step in steps]
    read = readings(
        loads, [counted(step, draft.step_minutes) for step in steps], draft.baseline[-1], draft.step_minutes
    )
    read, analyser = replace(read, over=False), analyser_of(draft, settings)
    curves = draw_curves(read, analyser, settings, settings.draws)
    return Standing(numbers, read, analyser, curves, edge_sets(curves, loads[-1], settings), settings)


def gains(draft: Draft, now: Standing) -> tuple[float, float]:
    """What one more sample on the current step, and one on the next, would take off the ranges of floor and ceiling."""
    return now.gain(now.last), now.gain(load_to_si(planned_load(draft), draft.unit))


def _width(edge: FloatArray, weights: FloatArray, share: float) -> FloatArray:
    order = np.argsort(edge)
    summed = np.cumsum(weights[order], axis=0)
    ends = [np.argmax(summed >= part * summed[-1], axis=0) for part in ((1 - share) / 2, (1 + share) / 2)]
    result: FloatArray = edge[order][ends[1]] - edge[order][ends[0]]
    return result
