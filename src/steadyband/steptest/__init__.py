"""The step test: files in, quality checks, curve and edges, uncertainty, zone sets, choosing a zone set."""

from __future__ import annotations

from steadyband.steptest.choose import Choice, choose
from steadyband.steptest.curve.zones import make_zones
from steadyband.steptest.file.reading import load_test, load_tests
from steadyband.steptest.model import StepTest, ZoneSet

__all__ = ["Choice", "StepTest", "ZoneSet", "choose", "load_test", "load_tests", "make_zones"]
