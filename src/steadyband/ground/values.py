"""Objects as plain values for JSON: one way for every command that prints it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from operator import attrgetter
from typing import Any


def picked(item: object, *names: str, **renamed: str) -> dict[str, Any]:
    """Attributes of an object as plain values: `names` under their own name, `renamed` as key="path.to.attribute".

    >>> picked(date(2026, 5, 11), "year", first_month="month")
    {'year': 2026, 'first_month': 5}
    """
    paths = {name: name for name in names} | renamed
    return {key: plain_value(attrgetter(path)(item)) for key, path in paths.items()}


def plain_value(value: Any) -> Any:
    """A value as JSON has it: dates as ISO 8601, sequences as lists, a number that is not finite as None.

    >>> plain_value((date(2026, 5, 11), float("nan"), {"a": (1, 2)}))
    ['2026-05-11', None, {'a': [1, 2]}]
    """
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: plain_value(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_value(part) for part in value]
    return value
