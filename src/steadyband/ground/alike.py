"""Equality for results that hold arrays, and how results show themselves in a notebook."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np


class Alike:
    """Gives a dataclass with arrays an equality that answers: same class, same values, NaN equal to NaN.

    Use it with `@dataclass(eq=False)`. What holds arrays has no hash.
    """

    __slots__ = ()
    __hash__ = None  # type: ignore[assignment]

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        names = [item.name for item in dataclasses.fields(self)]  # type: ignore[arg-type]
        return all(same(getattr(self, name), getattr(other, name)) for name in names)


def same(one: Any, other: Any) -> bool:
    """True where two values, arrays, or mappings and sequences of them, are equal; NaN equals NaN.

    >>> same({"a": np.array([1.0, np.nan])}, {"a": np.array([1.0, np.nan])}), same(np.zeros(2), np.zeros(3))
    (True, False)
    """
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        a, b = np.asarray(one), np.asarray(other)
        return a.shape == b.shape and bool(np.array_equal(a, b, equal_nan=a.dtype.kind == "f" and b.dtype.kind == "f"))
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, float) and isinstance(other, float) and one != one:
        return other != other
    return bool(one == other)


Drawn = Callable[[Any], str]
_DRAWN: dict[str, Drawn] = {}


def draw_as(kind: str, drawn: Drawn) -> None:
    """From here on results of a kind show themselves in a notebook by `drawn`."""
    _DRAWN[kind] = drawn


def html_of(kind: str, item: object) -> str | None:
    """The HTML of a result; None where nothing was told how to draw it, and a notebook then shows its text."""
    drawn = _DRAWN.get(kind)
    return drawn(item) if drawn else None
