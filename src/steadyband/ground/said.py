"""Something to be said, as a code and the numbers its sentence takes: kept and compared, while the words are made when read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Said:
    """What to say: its code and plain numbers, SI and dates as ISO texts; the room `told` has the words."""

    code: str
    numbers: Mapping[str, Any] = field(default_factory=dict)
