"""Numbers written as text, whole columns at once: texts of one layout are read together, digit by digit."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from steadyband.recording.model import BoolArray, FloatArray

Octets = NDArray[np.uint8]
Layout = Callable[[Sequence[str]], tuple[BoolArray, FloatArray]]

_LAYOUTS_MAX = 8
"""Different layouts of one column that are read together; texts of others are read one by one (design choice)."""

_PLAIN = re.compile(r"-?[0-9]*\.?[0-9]*")

_DIGITS_MAX = 15
"""Whole numbers of that many digits, and powers of ten as large, are exact in float64: one division of the two then
gives the nearest float64, as float() does."""


def floats(texts: Sequence[str]) -> FloatArray:
    """The numbers [n] of texts, to the last bit as float() reads them. Raises ValueError where one is no number."""
    return by_layout(texts, _same_decimals, float)


def by_layout(texts: Sequence[str], same: Layout, one: Callable[[str], float]) -> FloatArray:
    """Numbers [n] of texts: `same` reads those written like the first of them, `one` any other.

    `same` gives (which texts it has read, numbers [n]).
    """
    numbers = np.full(len(texts), np.nan)
    left = np.arange(len(texts))
    for _ in range(_LAYOUTS_MAX):
        if not len(left):
            break
        read, values = same([texts[i] for i in left.tolist()] if len(left) < len(texts) else texts)
        numbers[left[read]] = values[read]
        if not read[0]:
            numbers[left[0]] = one(texts[left[0]])
            read[0] = True
        left = left[~read]
    for i in left.tolist():
        numbers[i] = one(texts[i])
    return numbers


def octets(texts: Sequence[str], width: int) -> Octets:
    """The texts as rows of bytes [n, width], zeros where one has another length or is not ASCII."""
    joined = "".join(texts)
    if len(joined) != width * len(texts) or not joined.isascii() or set(map(len, texts)) != {width}:
        joined = "".join(text if len(text) == width and text.isascii() else "\0" * width for text in texts)
    return np.frombuffer(joined.encode("ascii"), dtype=np.uint8).reshape(-1, width)


def are_digits(rows: Octets, places: Sequence[int]) -> BoolArray:
    """Which rows have digits at all these places."""
    alike = np.ones(len(rows), dtype=bool)
    for place in places:
        alike &= (rows[:, place] - np.uint8(ord("0"))) <= 9
    return alike


def whole(rows: Octets, places: Sequence[int]) -> NDArray[np.int64]:
    """The whole numbers [n] that the digits at these places make."""
    value = np.zeros(len(rows), dtype=np.int64)
    for place in places:
        value *= 10
        value += rows[:, place]
        value -= ord("0")
    return value


def _same_decimals(texts: Sequence[str]) -> tuple[BoolArray, FloatArray]:
    """Plain decimal numbers of the length of the first, with sign and point where it has them."""
    first = texts[0]
    digits = [place for place, sign in enumerate(first) if sign in "0123456789"]
    if not _PLAIN.fullmatch(first) or not 1 <= len(digits) <= _DIGITS_MAX:
        return np.zeros(len(texts), dtype=bool), np.full(len(texts), np.nan)
    rows = octets(texts, len(first))
    alike = are_digits(rows, digits)
    for place in set(range(len(first))).difference(digits):
        alike &= rows[:, place] == ord(first[place])
    decimals = len(first) - 1 - first.find(".") if "." in first else 0
    values = whole(rows, digits) / 10.0**decimals
    return alike, -values if first[0] == "-" else values
