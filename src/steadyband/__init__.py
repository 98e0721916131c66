"""Did the endurance sessions stay in the steady band of the latest step test?

The public face: `read` a recording, `load_tests`, `audit` a file of an athlete folder, `review` its week; `sessions`, `weeks`,
`traces` and `unreadable` give polars frames. Everything is imported when it is first asked for.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from steadyband.athlete.folder import open_folder
    from steadyband.athlete.sessions import audit_file as audit
    from steadyband.audit.model import Audit
    from steadyband.recording import Recording, read
    from steadyband.review import Review
    from steadyband.review import review_week as review
    from steadyband.review.frames import sessions, traces, unreadable, weeks
    from steadyband.steptest import StepTest, ZoneSet, load_tests, make_zones

__all__ = [
    "Audit",
    "Recording",
    "Review",
    "StepTest",
    "ZoneSet",
    "__version__",
    "audit",
    "load_tests",
    "make_zones",
    "open_folder",
    "read",
    "review",
    "sessions",
    "traces",
    "unreadable",
    "weeks",
]

_PLACES = {
    "Audit": ("steadyband.audit.model", "Audit"),
    "Recording": ("steadyband.recording", "Recording"),
    "StepTest": ("steadyband.steptest", "StepTest"),
    "Review": ("steadyband.review", "Review"),
    "ZoneSet": ("steadyband.steptest", "ZoneSet"),
    "audit": ("steadyband.athlete.sessions", "audit_file"),
    "load_tests": ("steadyband.steptest", "load_tests"),
    "make_zones": ("steadyband.steptest", "make_zones"),
    "open_folder": ("steadyband.athlete.folder", "open_folder"),
    "read": ("steadyband.recording", "read"),
    "review": ("steadyband.review", "review_week"),
    "sessions": ("steadyband.review.frames", "sessions"),
    "traces": ("steadyband.review.frames", "traces"),
    "unreadable": ("steadyband.review.frames", "unreadable"),
    "weeks": ("steadyband.review.frames", "weeks"),
}


class _Face(ModuleType):
    """Keeps the names of `_PLACES` for the public face: importing the rooms `audit` and `review` would rebind two of them."""

    def __setattr__(self, name: str, value: object) -> None:
        if name not in _PLACES or not isinstance(value, ModuleType):
            super().__setattr__(name, value)


def __getattr__(name: str) -> Any:
    if name == "__version__":
        return import_module("importlib.metadata").version("steadyband")
    if name not in _PLACES:
        raise AttributeError(f"module 'steadyband' has no attribute {name!r}")
    module, attribute = _PLACES[name]
    return getattr(import_module(module), attribute)


sys.modules[__name__].__class__ = _Face
