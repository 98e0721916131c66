"""Did the endurance sessions stay in the steady band of the latest step test?

The public face: `read` a recording, `load_tests`, `audit` a file of an athlete folder, `review` its week.
"""

from __future__ import annotations

from importlib import import_module
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from steadyband.audit.model import Audit
    from steadyband.recording import Recording, read
    from steadyband.review import WeekReview, open_folder
    from steadyband.review import audit_file as audit
    from steadyband.review import review_week as review
    from steadyband.steptest import StepTest, ZoneSet, load_tests, make_zones

__version__ = version("steadyband")
__all__ = [
    "Audit",
    "Recording",
    "StepTest",
    "WeekReview",
    "ZoneSet",
    "audit",
    "load_tests",
    "make_zones",
    "open_folder",
    "read",
    "review",
]

_PLACES = {
    "Audit": ("steadyband.audit.model", "Audit"),
    "Recording": ("steadyband.recording", "Recording"),
    "StepTest": ("steadyband.steptest", "StepTest"),
    "WeekReview": ("steadyband.review", "WeekReview"),
    "ZoneSet": ("steadyband.steptest", "ZoneSet"),
    "audit": ("steadyband.review", "audit_file"),
    "load_tests": ("steadyband.steptest", "load_tests"),
    "make_zones": ("steadyband.steptest", "make_zones"),
    "open_folder": ("steadyband.review", "open_folder"),
    "read": ("steadyband.recording", "read"),
    "review": ("steadyband.review", "review_week"),
}


def __getattr__(name: str) -> Any:
    if name not in _PLACES:
        raise AttributeError(f"module 'steadyband' has no attribute {name!r}")
    module, attribute = _PLACES[name]
    return getattr(import_module(module), attribute)
