"""Did the endurance sessions stay in the steady band of the latest step test?

The public face; `dir(steadyband)` lists it. Paths may be `str` or `Path`. Everything is imported when it is first asked for.

- read: `read` a recording, or `recording_from` a table of your own; `load_test`, `load_tests`, `open_folder`
- edges: `make_zones` from a test, or `given_edges`; `Settings`
- judge: `audit` any recording by a folder's tests, by one test or by edges; `audits` of a whole folder; `review` its week
- frames (polars): `sessions`, `weeks`, `unreadable` of a folder; `seconds`, `surges`, `climbs` of audits or a folder
- for others: `geojson`, `add_to_dataset`, `scan_dataset`
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from steadyband.athlete.auditing import audit
    from steadyband.athlete.folder import AthleteFolder, open_folder
    from steadyband.audit.model import Audit
    from steadyband.ground.errors import SteadybandError
    from steadyband.ground.settings import Settings
    from steadyband.recording import Recording, read
    from steadyband.recording.own_rows import recording_from
    from steadyband.review import Review
    from steadyband.review.dataset import add_to_dataset, scan_dataset
    from steadyband.review.frames import sessions, unreadable, weeks
    from steadyband.review.frames_within import climbs, seconds, surges
    from steadyband.review.geo import geojson
    from steadyband.review.whole import audits, review
    from steadyband.steptest import StepTest, ZoneSet, load_test, load_tests, make_zones
    from steadyband.steptest.given import given_edges

__all__ = [
    "AthleteFolder",
    "Audit",
    "Recording",
    "Review",
    "Settings",
    "SteadybandError",
    "StepTest",
    "ZoneSet",
    "__version__",
    "add_to_dataset",
    "audit",
    "audits",
    "climbs",
    "geojson",
    "given_edges",
    "load_test",
    "load_tests",
    "make_zones",
    "open_folder",
    "read",
    "recording_from",
    "review",
    "scan_dataset",
    "seconds",
    "sessions",
    "surges",
    "unreadable",
    "weeks",
]

_PLACES = {
    "AthleteFolder": ("steadyband.athlete.folder", "AthleteFolder"),
    "Audit": ("steadyband.audit.model", "Audit"),
    "Recording": ("steadyband.recording", "Recording"),
    "Review": ("steadyband.review", "Review"),
    "Settings": ("steadyband.ground.settings", "Settings"),
    "SteadybandError": ("steadyband.ground.errors", "SteadybandError"),
    "StepTest": ("steadyband.steptest", "StepTest"),
    "ZoneSet": ("steadyband.steptest", "ZoneSet"),
    "add_to_dataset": ("steadyband.review.dataset", "add_to_dataset"),
    "audit": ("steadyband.athlete.auditing", "audit"),
    "audits": ("steadyband.review.whole", "audits"),
    "climbs": ("steadyband.review.frames_within", "climbs"),
    "geojson": ("steadyband.review.geo", "geojson"),
    "given_edges": ("steadyband.steptest.given", "given_edges"),
    "load_test": ("steadyband.steptest", "load_test"),
    "load_tests": ("steadyband.steptest", "load_tests"),
    "make_zones": ("steadyband.steptest", "make_zones"),
    "open_folder": ("steadyband.athlete.folder", "open_folder"),
    "read": ("steadyband.recording", "read"),
    "recording_from": ("steadyband.recording.own_rows", "recording_from"),
    "review": ("steadyband.review.whole", "review"),
    "scan_dataset": ("steadyband.review.dataset", "scan_dataset"),
    "seconds": ("steadyband.review.frames_within", "seconds"),
    "sessions": ("steadyband.review.frames", "sessions"),
    "surges": ("steadyband.review.frames_within", "surges"),
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
    import_module("steadyband.report.notebook")
    return getattr(import_module(module), attribute)


def __dir__() -> list[str]:
    return list(__all__)


sys.modules[__name__].__class__ = _Face
