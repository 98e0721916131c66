"""Long rows of times written short, for the page's script to spell out again: every number comes back as it was."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

WORTH = 32
"""Rows shorter than this are written as they are."""


def packed(spec: Mapping[str, Any]) -> dict[str, Any]:
    """A figure's description with each long `x` of whole numbers as {"first", "by", "steps"}: steps between neighbours, in `by`s.

    Only times are written so: a reader who searches the page for a load or a heart rate finds it as it is.
    """
    return {**spec, "data": [_trace(trace) for trace in spec["data"]]}


def _trace(trace: Mapping[str, Any]) -> dict[str, Any]:
    x = trace.get("x")
    return {**trace, "x": _row(x)} if isinstance(x, Sequence) and _is_long_row(x) else dict(trace)


def unpacked(row: Mapping[str, Any]) -> list[int]:
    """The row that `packed` was given; the page's script does the same."""
    found: list[int] = [row["first"]]
    for step in row["steps"]:
        found.append(found[-1] + step * row["by"])
    return found


def _is_long_row(value: Sequence[Any]) -> bool:
    return len(value) >= WORTH and all(type(item) is int for item in value)


def _row(value: Sequence[int]) -> Any:
    steps = [after - before for before, after in pairwise(value)]
    by = math.gcd(*steps) or 1
    return {"first": value[0], "by": by, "steps": [step // by for step in steps]}
