"""Values that count on from message to message: compressed times and accumulated components."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from steadyband.recording.fit.block import Block, Column, Numbers, Offsets
from steadyband.recording.model import BoolArray

COMPRESSED = 0x80
"""Bit of a record header that says it holds a time offset of five bits (SOURCES S9)."""

_TIME_BITS = 5


def counted_on(low: Numbers, bits: int, known: Numbers, is_known: BoolArray) -> Numbers:
    """Whole numbers of which only the low `bits` were stored, each at least the one before it (SOURCES S9).

    `low` [n] the stored bits; where `is_known` [n], `known` [n] is the whole value and `low` is not used. The first
    must be known.
    """
    mask = (1 << bits) - 1
    low = np.where(is_known, known & mask, low)
    total = np.cumsum(np.concatenate(([0], (low[1:] - low[:-1]) & mask)))
    since = np.maximum.accumulate(np.where(is_known, np.arange(len(low)), 0))
    counted: Numbers = known[since] + total - total[since]
    return counted


class CompressedTimes:
    """Times of all messages with a compressed header in one file: `offsets` [n] of those and `values` [n], FIT seconds."""

    def __init__(self, blocks: Sequence[Block]) -> None:
        pieces = [piece for block in blocks for piece in _time_pieces(block)]
        at = np.concatenate([np.array([-1], np.int64), *(piece[0] for piece in pieces)])
        value = np.concatenate([np.array([0], np.int64), *(piece[1] for piece in pieces)])
        compressed = np.concatenate([[False], *(np.full(len(piece[0]), piece[2]) for piece in pieces)])
        order = np.lexsort((compressed, at))
        at, value, compressed = at[order], value[order], compressed[order]
        counted = counted_on(value, _TIME_BITS, value, ~compressed)
        self.offsets, self.values = at[compressed], counted[compressed]

    def of(self, block: Block) -> Column:
        """The times of a block's messages, valid where their header is compressed."""
        valid = (block.heads & COMPRESSED) != 0
        values = np.zeros(len(block), dtype=np.int64)
        values[valid] = self.values[np.searchsorted(self.offsets, block.offsets[valid])]
        return Column(values, valid)


def _time_pieces(block: Block) -> list[tuple[Offsets, Numbers, bool]]:
    """(offsets, times written out or offsets of five bits, whether the latter) in one block."""
    pieces = []
    slot = block.shape.time
    if slot:
        raw, valid = block.number(slot)
        pieces.append((block.offsets[valid], raw[valid].astype(np.int64), False))
    compressed = (block.heads & COMPRESSED) != 0
    low = (block.heads[compressed] & 31).astype(np.int64)
    pieces.append((block.offsets[compressed], low, True))
    return pieces


def accumulated(parts: Sequence[tuple[Block, Column]], bits: int, resets: Offsets) -> list[Column]:
    """Components that add up over all messages of one kind, from 0 at each of their definitions (`resets`, ascending).

    `parts` are the blocks with the stored bits of each; returns the sums in the same places.
    """
    at = np.concatenate([resets, *(block.offsets[column.valid] for block, column in parts)])
    value = np.concatenate([np.zeros(len(resets), np.int64), *(column.values[column.valid] for _, column in parts)])
    is_reset = np.arange(len(at)) < len(resets)
    order = np.argsort(at, kind="stable")
    counted = np.empty(len(at), dtype=np.int64)
    counted[order] = counted_on(value[order], bits, value[order], is_reset[order])
    lengths = [len(resets), *(int(np.count_nonzero(column.valid)) for _, column in parts)]
    pieces = np.split(counted, np.cumsum(lengths)[:-1])[1:]
    return [_filled(column, piece) for (_, column), piece in zip(parts, pieces, strict=True)]


def _filled(column: Column, values: Numbers) -> Column:
    whole = np.zeros(len(column.valid), dtype=np.int64)
    whole[column.valid] = values
    return Column(whole, column.valid)
