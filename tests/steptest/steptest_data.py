"""Invented step tests for the checks in this folder; no value was measured on a person."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from steadyband.steptest import StepTest, load_test

HEAD = {
    "date": "2026-04-20",
    "sport": '"cycling"',
    "load_unit": '"W"',
    "state": '"fed"',
    "mass_kg": "74.0",
    "step_minutes": "10",
    "baseline": "[1.1]",
}

LOADS = (120, 140, 160, 180, 200, 220)
LACTATE = (1.0, 1.1, 1.2, 1.4, 1.8, 2.3)
HEART = (104, 109, 115, 121, 127, 134)
"""20-W steps, 160 W 0.1 above the baseline of 1.1, rise from 180 W, 220 W 1.2 above."""


def step(load: object, *lactate: float, hr: object = None, more: str = "") -> str:
    """One [[step]] with samples at minutes 5 and 10, or at 10 alone."""
    minutes = (5, 10)[-len(lactate) :]
    samples = ", ".join(f"{{minute = {m}, lactate = {v}}}" for m, v in zip(minutes, lactate, strict=True))
    heart = f"hr_max = {hr}\n" if hr is not None else ""
    return f"[[step]]\nload = {load}\n{heart}samples = [{samples}]\n{more}\n"


def toml(steps: list[str] | None = None, **head: str | None) -> str:
    """A test file; `head` replaces keys (None leaves one out)."""
    keys = {key: value for key, value in (HEAD | head).items() if value is not None}
    plain = [step(x, y, y, hr=h) for x, y, h in zip(LOADS, LACTATE, HEART, strict=True)]
    return "".join(f"{key} = {value}\n" for key, value in keys.items()) + "\n" + "\n".join(steps or plain)


def bike(folder: Path, steps: list[str] | None = None, **head: Any) -> StepTest:
    """The test of `toml`, loaded from a file in `folder`."""
    path = folder / "2026-04-20-bike.toml"
    path.write_text(toml(steps, **head), encoding="utf-8")
    return load_test(path)


def curve_test(folder: Path, lactate: list[float], **head: Any) -> StepTest:
    """A bike test in 20-W steps from 100 W with one reading a step."""
    steps = [step(100 + 20 * i, value, hr=100 + 5 * i) for i, value in enumerate(lactate)]
    return bike(folder, steps, **head)


def run(folder: Path, rows: list[tuple[float, str, float]], unit: str = '"km/h"', **head: Any) -> StepTest:
    """A running test of (load, gait, lactate) steps."""
    steps = [step(load, value, hr=110 + 6 * i, more=f'gait = "{gait}"\n') for i, (load, gait, value) in enumerate(rows)]
    return bike(folder, steps, sport='"running"', load_unit=unit, **head)
