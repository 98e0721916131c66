"""Edges given as numbers instead of a test: to compare one set of edges with another."""

from __future__ import annotations

import math
from datetime import date

import numpy as np

from steadyband.ground.convert import load_to_si, parse_load
from steadyband.ground.errors import UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit
from steadyband.steptest.model import (
    AnalyserSd,
    EdgeRange,
    Edges,
    HrLimits,
    Ribbon,
    StepTest,
    ZoneDraws,
    ZoneSet,
)

Load = float | str


def given_edges(
    floor: Load,
    target_top: Load,
    ceiling: Load,
    *,
    sport: str = "cycling",
    unit: LoadUnit = "W",
    hr: tuple[float, float, float] | None = None,
    name: str = "edges given",
) -> ZoneSet:
    """A zone set of edges that somebody names: taken as they are, so that agreement says nothing about them.

    Args: the three edges in `unit` (W, km/h, min/km or min/mile; paces as numbers or texts such as "5:30"), `hr` the heart
    rates [bpm] at them. Raises UsageError where they do not rise.

    >>> given_edges(139, 157, 168).edges.ceiling
    168.0
    """
    typed = [parse_load(value, unit) for value in (floor, target_top, ceiling)]
    if any(value is None or not value > 0 for value in typed):
        raise UsageError(f"expected three loads in {unit}, found {floor}, {target_top}, {ceiling}.")
    low, top, high = (float(load_to_si(value, unit)) for value in typed if value is not None)
    if not low < top < high:
        raise UsageError(
            f"expected floor, target top and ceiling to rise, found {floor}, {target_top}, {ceiling} in {unit}."
        )
    pulses = hr or (math.nan,) * 3
    two = np.ones((2, 1))
    names = ("floor", "target_top", "ceiling")
    spans = {key: EdgeRange(value, value) for key, value in zip(names, (low, top, high), strict=True)}
    beats = {key: EdgeRange(value, value) for key, value in zip(names, hr, strict=True)} if hr else {}
    empty = np.zeros(0)
    return ZoneSet(
        test=StepTest(name, date.today(), sport, unit, "fed", 0.0, (), (), AnalyserSd(0.0, 0.0)),
        usable=True,
        edges=Edges(None, math.nan, low, top, high, None, untested=False, easy_empty=False),
        ranges=spans,
        hr=HrLimits(*hr) if hr else HrLimits(None, None, None),
        hr_ranges=beats,
        curve=(),
        ribbon=Ribbon(empty, empty, empty, empty),
        scatter=math.nan,
        checks=(),
        methods=(),
        draws=ZoneDraws(two * np.array([low, top, high]), two * np.array(pulses), np.zeros(2, dtype=np.bool_)),
        settings=StepTestSettings(),
    )
