"""Heart rate: a straight line in load, reached with a time constant, drifting up with time and heat."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heart:
    """An invented heart: rate at no load [bpm], beats per load, time constant [s] and scatter [bpm]."""

    rest_bpm: float
    per_load: float
    tau_s: float = 30.0
    scatter_bpm: float = 0.5


def heart_rate(
    heart: Heart, load: Sequence[float], drift_per_h: float, seed: int, start_bpm: float = 84.0
) -> list[int]:
    """Whole beats a minute, one a second, for a load one a second.

    `drift_per_h` is the share by which the same load costs more beats after an hour, from minute 10 on.
    """
    dice = random.Random(seed)
    rate, wander, rates = start_bpm, 0.0, []
    for second, value in enumerate(load):
        drift = 1.0 + drift_per_h * max(0, second - 600) / 3600.0
        aim = (heart.rest_bpm + heart.per_load * value) * drift
        rate += (aim - rate) / heart.tau_s
        wander += -wander / 40.0 + dice.gauss(0.0, heart.scatter_bpm) * 0.22
        rates.append(round(rate + wander))
    return rates
