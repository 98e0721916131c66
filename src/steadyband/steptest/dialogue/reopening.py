"""A finished test opened again: from its file to a draft that can be mended, and back."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit, load_from_si, load_to_si
from steadyband.steptest.dialogue.draft import Event
from steadyband.steptest.file.reading import load_test
from steadyband.steptest.model import StepTest


def reopening(path: Path, now_s: float, settings: StepTestSettings) -> Event:
    """The event that begins the mending of the test in `path`; nothing of it is lost on the way.

    Raises TestFileError where the file is faulty.
    """
    test = load_test(path, settings)
    steps = [
        {
            "load": step.load,
            "gait": step.gait,
            "incline": step.incline_percent,
            "hr_max": step.hr_max_bpm,
            "note": step.note,
            "start_s": step.start_s,
            "samples": [[item.minute, item.lactate_mmol_l] for item in step.samples],
        }
        for step in test.steps
    ]
    data = {
        "answers": _answers(test, settings),
        "baseline": list(test.baseline),
        "steps": steps,
        "override": test.override,
    }
    return Event("reopen", now_s, data)


def _answers(test: StepTest, settings: StepTestSettings) -> dict[str, Any]:
    own = (test.analyser_sd.floor, test.analyser_sd.fraction)
    found: dict[str, Any] = {
        "live": False,
        "date": test.date.isoformat(),
        "sport": test.sport,
        "load_unit": test.load_unit,
        "state": test.state,
        "step_minutes": test.step_minutes,
        "first_load": test.steps[0].load,
        "step_height": _height(test),
        "incline": test.steps[-1].incline_percent,
        "analyser": test.analyser,
        "meter": test.meter,
        "position": test.position,
        "note": test.note,
        "recording": test.recording,
        "mass_kg": test.mass_kg,
        "analyser_sd": None
        if own == (settings.sd_floor, settings.sd_fraction)
        else {"floor": own[0], "fraction": own[1]},
    }
    return found


def _height(test: StepTest) -> float:
    """The most frequent step height, W or km/h."""
    unit: LoadUnit = "W" if test.load_unit == "W" else "km/h"
    loads = [load_from_si(load_to_si(step.load, test.load_unit), unit) for step in test.steps]
    return Counter(round(after - before, 1) for before, after in pairwise(loads)).most_common(1)[0][0]


def before_place(path: Path) -> Path:
    """Where what stood in a mended test before is kept: beside it, under a name that no reader of tests takes."""
    names = (path.with_name(f"{path.name}.before{f'-{number}' if number > 1 else ''}") for number in range(1, 1000))
    return next(place for place in names if not place.exists())
