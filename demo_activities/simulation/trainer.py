"""An indoor trainer that holds set loads: the bike test, steady indoor riding and short intervals."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from simulation.bike import Bike
from simulation.track import Planted, Track


@dataclass(frozen=True, slots=True)
class Block:
    """Set load [W] for some seconds; the scatter of single seconds is held within `most_w`."""

    watts: float
    seconds: int
    most_w: float = 4.0
    planted: bool = False


def trainer_ride(blocks: Sequence[Block], bike: Bike, seed: int) -> Track:
    """A ride at set loads. Every block's mean power is its set load to within half a watt."""
    dice = random.Random(seed)
    track, speed, distance = Track(), 6.0, 0.0
    for block in blocks:
        if block.planted:
            track.planted.append(Planted(len(track), block.seconds, block.watts, "unknown", None))
        for power in _strokes(block, dice):
            speed = bike.speed_after(speed, power, 0.0)
            distance += speed
            _write(track, bike, power, speed, distance)
    return track


def _strokes(block: Block, dice: random.Random) -> list[int]:
    """Whole watts around the set load, the rest of each rounding carried on to the next second."""
    strokes, owed = [], 0.0
    for _ in range(block.seconds):
        wish = block.watts + max(-block.most_w, min(block.most_w, dice.gauss(0.0, block.most_w / 2.0))) + owed / 6.0
        power = round(wish)
        owed += block.watts - power
        strokes.append(power)
    return strokes


def _write(track: Track, bike: Bike, power: int, speed: float, distance: float) -> None:
    track.power_w.append(power)
    track.load.append(float(power))
    track.speed_mps.append(speed)
    track.distance_m.append(distance)
    track.cadence_rpm.append(bike.cadence(speed))
    track.running.append(True)
