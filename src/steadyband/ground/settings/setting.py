"""One setting: a dataclass field that carries its meaning, source, unit and allowed range."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

OPEN = 1e9
"""An upper limit from here on is none."""


def setting(default: float, meaning: str, source: str, unit: str = "", low: float = 0, high: float = OPEN) -> Any:
    """A field of a settings group with its default and what `steadyband settings` tells of it."""
    meta = {"meaning": meaning, "source": source, "unit": unit, "low": low, "high": high}
    return field(default=default, metadata=meta)


@dataclass(frozen=True, slots=True)
class SettingTold:
    """Everything known about one setting; `topic` is what its group is about."""

    group: str
    topic: str
    name: str
    value: float
    default: float
    unit: str
    low: float
    high: float
    meaning: str
    source: str
