"""A session as a ribbon: runs of equal band, their places on an axis, and the key that names them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import EASY, GAP, HEAVY, PAUSE, RESTING, RIBBON_NAMES, SEVERE, STEADY, UNMEASURED

Codes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Run:
    """A run of equal code: first second, length [s], code of the ribbon."""

    start_s: int
    length_s: int
    code: int


def runs(ribbon: Codes, step_s: int = 1) -> tuple[Run, ...]:
    """Runs of equal code of a ribbon [n].

    With `step_s` > 1 the ribbon is first cut into pieces of that many seconds, each taking the code that fills most of
    it (the higher band where two fill the same). The runs cover all n seconds. Surges are not read from here: their
    ticks come from the audit's events, so none is lost at any resolution.

    >>> [(run.start_s, run.length_s, run.code) for run in runs(np.array([0, 0, 1, 1, 1], dtype=np.uint8))]
    [(0, 2, 0), (2, 3, 1)]
    """
    if not len(ribbon):
        return ()
    codes = ribbon if step_s <= 1 else shrunk(ribbon, step_s)
    cuts = np.flatnonzero(np.diff(codes)) + 1
    starts = np.concatenate(([0], cuts)) * max(step_s, 1)
    ends = np.append(starts[1:], len(ribbon))
    return tuple(
        Run(int(start), int(end - start), int(codes[start // max(step_s, 1)]))
        for start, end in zip(starts, ends, strict=True)
    )


def shrunk(ribbon: Codes, step_s: int) -> Codes:
    """The code that fills most of each piece of `step_s` seconds [ceil(n / step_s)]; ties go to the higher band."""
    pieces = -(-len(ribbon) // step_s)
    counts = np.zeros((pieces, GAP + 1), dtype=np.int64)
    np.add.at(counts, (np.arange(len(ribbon)) // step_s, ribbon), 1)
    order = np.array([SEVERE, HEAVY, STEADY, EASY, RESTING, UNMEASURED, PAUSE, GAP], dtype=np.uint8)
    filled: Codes = order[np.argmax(counts[:, order], axis=1)]
    return filled


@dataclass(frozen=True, slots=True)
class Piece:
    """A run of one band as the page draws it: place and width in % of the axis, style class."""

    x: str
    width: str
    css: str


def pieces_of(found: Sequence[Run], length_s: float, overlap: float = 0.0) -> tuple[Piece, ...]:
    """Runs on an axis of `length_s` seconds; `overlap` [% of the axis] makes each reach under the next, so no seam shows."""
    return tuple(
        Piece(
            place_of(run.start_s, length_s),
            f"{min(100 * (run.start_s + run.length_s) / length_s + overlap, 100) - 100 * run.start_s / length_s:.2f}",
            css_of(run.code),
        )
        for run in found
    )


def place_of(second: float, length_s: float) -> str:
    """A moment as a place on an axis of `length_s` seconds, in %.

    >>> place_of(900, 3600)
    '25.00'
    """
    return f"{100 * second / length_s:.2f}"


def css_of(code: int) -> str:
    """The style class of a code of the ribbon."""
    return "blank" if code in (PAUSE, GAP) else RIBBON_NAMES[code].replace(" ", "-")


@dataclass(frozen=True, slots=True)
class Swatch:
    """One entry of the key to the ribbons."""

    name: str
    css: str


def swatches(ribbons: Iterable[Codes | Sequence[int]]) -> tuple[Swatch, ...]:
    """The key to some ribbons: what occurs in them, pause and gap as one."""
    seen = {int(code) for codes in ribbons for code in np.unique(codes)}
    shown = [Swatch(RIBBON_NAMES[code], css_of(code)) for code in sorted(seen) if css_of(code) != "blank"]
    blank = [RIBBON_NAMES[code] for code in sorted(seen) if css_of(code) == "blank"]
    return (*shown, *([Swatch(" or ".join(blank), "blank")] if blank else []))
