"""Invented tests and recordings for planning, entering, measuring and comparing; no value was measured on a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit, load_to_si
from steadyband.recording.grid import to_rows
from steadyband.recording.model import Rows, SessionRecords
from steadyband.steptest import StepTest, ZoneSet, make_zones
from steadyband.steptest.dialogue.draft import Draft, Event, replay
from steadyband.steptest.dialogue.questions import answer, next_question
from steadyband.steptest.dialogue.remarks import Remark, remarks
from steadyband.steptest.dialogue.talk import Command, parse
from steadyband.steptest.model import AnalyserSd, Gait, Sample, Step

SETTINGS = StepTestSettings()
BIKE = [(120, 1.0, 107), (140, 1.1, 113), (160, 1.2, 119), (180, 1.6, 125), (200, 1.8, 131), (220, 2.4, 137)]
"""By hand: plateau (1.1 + 1.0 + 1.1 + 1.2) / 4 = 1.1, first rise at 180 W (1.6), ceiling at 2.1: 200 + 20 x 0.3 / 0.6 = 210 W."""
FOOT = [(6.0, 1.0, 104), (8.0, 1.1, 128), (9.0, 1.2, 135), (10.0, 1.6, 142), (11.0, 1.8, 149), (12.0, 2.4, 156)]
T0 = 1_780_000_000
"""Unix second at which every invented recording begins."""


def step_test(
    rows: Sequence[tuple[float, float, float | None]] = BIKE,
    unit: LoadUnit = "W",
    gaits: Sequence[Gait] | None = None,
    **changes: Any,
) -> StepTest:
    """A test of (load, lactate, highest heart rate) steps with one value at minutes 5 and 10."""
    kinds = gaits or ["run"] * len(rows)
    steps = tuple(
        Step(load, load_to_si(load, unit), (Sample(5, value), Sample(10, value)), hr, gait)
        for (load, value, hr), gait in zip(rows, kinds, strict=True)
    )
    sport = "cycling" if unit == "W" else "running"
    made = StepTest("made.toml", date(2026, 4, 20), sport, unit, "fed", 10, (1.1,), steps, AnalyserSd(0.18, 0.06), 74.0)
    return replace(made, **changes)


def zones(*args: Any, **changes: Any) -> ZoneSet:
    """The zone set of `step_test`."""
    return make_zones(step_test(*args, **changes))


def foot_zones(**changes: Any) -> ZoneSet:
    """A running test in km/h, its first step walked."""
    return zones(FOOT, "km/h", ["walk", *["run"] * 5], file="foot.toml", **changes)


def no_easy_zones() -> ZoneSet:
    """Walking flat, the first running step at the first rise: no easy running."""
    rows = [(5.0, 1.0, 95), (6.0, 1.1, 104), (8.0, 1.6, 130), (9.0, 1.8, 138), (10.0, 2.4, 146)]
    return zones(rows, "km/h", ["walk", "walk", "run", "run", "run"], file="no-easy.toml")


def rows_of(load: np.ndarray, heart: np.ndarray | None = None, channel: str = "power_w") -> Rows:
    """One-second rows of a recording with one load channel and heart rate."""
    channels = {channel: np.asarray(load, dtype=float)}
    if heart is not None:
        channels["heart_rate_bpm"] = np.asarray(heart, dtype=float)
    time_s = T0 + np.arange(len(load), dtype=float)
    return to_rows(SessionRecords("cycling", None, None, time_s, channels, origin_s=float(T0)))


class Dialogue:
    """Types lines into a draft at given minutes, without a file or a clock."""

    def __init__(self, *answers: str, live: bool = True, **preset: Any) -> None:
        self.events: list[Event] = [Event("set", T0, {"key": "live", "value": live})]
        self.events += [Event("set", T0, {"key": key, "value": value}) for key, value in preset.items()]
        for text in answers:
            question = next_question(self.draft, date(2026, 5, 1))
            assert question is not None, f"nothing left to ask at {text!r}"
            self.events.append(answer(question, text, T0))

    @property
    def draft(self) -> Draft:
        return replay(self.events)

    def at(self, minute: float, *lines: str) -> list[Remark]:
        """The remarks after the last of these lines."""
        told: tuple[Remark, ...] = ()
        for line in lines:
            now = T0 + 60 * minute
            found = parse(line, self.draft, now, SETTINGS)
            assert not isinstance(found, Command)
            for event in found:
                self.events.append(event)
                told = remarks(self.draft, event, now, SETTINGS)
        return list(told)


def bike_dialogue(**preset: Any) -> Dialogue:
    """All questions answered: 120 W, 20-W steps, 74 kg."""
    return Dialogue("", "bike", "", "74", "", "120", "", "", "", **preset)


def write_test(folder: Path, name: str, rows: Sequence[tuple[float, float, float]] = BIKE, more: str = "") -> Path:
    """A bike test file in `folder`."""
    head = f'date = {name[:10]}\nsport = "cycling"\nload_unit = "W"\nstate = "fed"\nmass_kg = 74.0\nstep_minutes = 10\nbaseline = [1.1]\n{more}'
    steps = [
        f"[[step]]\nload = {load}\nhr_max = {hr}\nsamples = [{{minute = 5, lactate = {value}}}, {{minute = 10, lactate = {value}}}]\n"
        for load, value, hr in rows
    ]
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(head + "\n" + "\n".join(steps), encoding="utf-8")
    return path
