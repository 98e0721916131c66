"""All messages of one kind in a FIT file as columns in file order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Any

import numpy as np
from fitdecode import profile
from numpy.typing import NDArray

from steadyband.recording.fit.block import Block, Column, Offsets, float_column, named_by, scaled
from steadyband.recording.fit.counting import CompressedTimes, accumulated
from steadyband.recording.fit.profile import Emission
from steadyband.recording.model import BoolArray, FloatArray

_HEADER_TIME = Emission(profile.FIELD_TYPE_TIMESTAMP, None)


class Table:
    """The messages of one kind, in the blocks of their shapes.

    `times` holds the times of compressed headers where the file has any; `resets(num)` the ascending offsets from
    which the sum that field `num` accumulates begins anew.
    """

    def __init__(
        self, name: str, blocks: Sequence[Block], times: CompressedTimes | None, resets: Callable[[int], Offsets]
    ) -> None:
        self.name = name
        self.blocks = tuple(blocks)
        self._times = times
        self._resets = resets
        self._values: dict[str, list[Any]] = {}
        self._summed: dict[int, dict[int, Column]] = {}

    def __len__(self) -> int:
        return sum(len(block) for block in self.blocks)

    @cached_property
    def rows(self) -> tuple[NDArray[np.intp], ...]:
        """Per block, the place of each of its messages in file order."""
        if len(self.blocks) == 1:
            return (np.arange(len(self)),)
        place = np.empty(len(self), dtype=np.intp)
        place[np.argsort(np.concatenate([b.offsets for b in self.blocks]), kind="stable")] = np.arange(len(self))
        return tuple(np.split(place, np.cumsum([len(block) for block in self.blocks])[:-1]))

    def first(self) -> Table:
        """The same table with its first message only, which is cheap where the messages have many shapes."""
        block = min(self.blocks, key=lambda b: int(b.offsets[0]))
        return Table(self.name, [block.first()], self._times, self._resets)

    def emissions(self, block: Block) -> tuple[Emission, ...]:
        """Every field that messages of the block may have, in fitdecode's order."""
        return (*block.shape.emissions, _HEADER_TIME) if self._times else block.shape.emissions

    def numbers(self, name: str) -> FloatArray:
        """Numbers [n] of the standard field `name`, NaN where there is no finite one.

        A field of the file wins over one expanded from another; of several of the file the last with a number, of
        several expanded ones the first.
        """
        timed = [_HEADER_TIME] if self._times and name == _HEADER_TIME.name else []
        return self._chosen(lambda block: [*block.shape.standard.get(name, ()), *timed])

    def lists(self, name: str) -> int:
        """How many values of the standard field `name` are lists of numbers and not one."""
        found = [
            (block, emission.slot)
            for block in self.blocks
            for emission in block.shape.standard.get(name, ())
            if emission.is_own and emission.slot is not None and emission.slot.is_many
        ]
        return sum(int(np.count_nonzero(block.valid(slot))) for block, slot in found)

    def developer_numbers(self, wanted: Callable[[Emission], bool]) -> FloatArray:
        """Numbers [n] of the developer fields that `wanted` accepts, chosen among as `numbers` does."""
        return self._chosen(lambda block: [e for e in block.shape.emissions if e.is_developer and wanted(e)])

    def _chosen(self, candidates: Callable[[Block], list[Emission]]) -> FloatArray:
        whole = np.full(len(self), np.nan)
        for block, rows in zip(self.blocks, self.rows, strict=True):
            found = candidates(block)
            expanded = [emission for emission in found if not emission.is_own]
            by_rank = [*reversed(expanded), *(emission for emission in found if emission.is_own)]
            if by_rank:
                whole[rows] = self._last(block, by_rank)
        return whole

    def _last(self, block: Block, emissions: Sequence[Emission]) -> FloatArray:
        last = self._float(block, emissions[0])
        for emission in emissions[1:]:
            values = self._float(block, emission)
            last = np.where(np.isnan(values), last, values)
        return last

    def names(self) -> list[str]:
        """The names of all fields that any message may have."""
        named = (emission.name for block in self.blocks for emission in self.emissions(block))
        return list(dict.fromkeys(name for name in named if name))

    def values(self, name: str) -> list[Any]:
        """The values of field `name` as fitdecode gives them (numbers, names, texts, tuples), None where there is none.

        Of several fields of that name the last with a value.
        """
        if name not in self._values:
            self._values[name] = self._decoded(name)
        return self._values[name]

    def _decoded(self, name: str) -> list[Any]:
        whole: list[Any] = [None] * len(self)
        for block, rows in zip(self.blocks, self.rows, strict=True):
            for emission in self.emissions(block):
                if emission.name == name:
                    for row, value in zip(rows.tolist(), self.block_values(block, emission), strict=True):
                        whole[row] = whole[row] if value is None else value
        return whole

    def present(self, block: Block, emission: Emission) -> BoolArray | None:
        """Where the messages of a block have that field at all, with or without a value; None means everywhere."""
        if emission.slot is None:
            return None if self._times is None else self._times.of(block).valid
        if emission.component is not None and block.is_too_short(emission.slot, emission.component):
            return ~block.valid(emission.slot)
        return block.selected(emission)

    def block_values(self, block: Block, emission: Emission) -> list[Any]:
        """The values of one field of a block as fitdecode gives them, None where there is none."""
        slot, present = emission.slot, self.present(block, emission)
        if slot is not None and emission.component is None and (slot.is_text or slot.is_many):
            plain: list[Any] = block.texts(slot) if slot.is_text else block.tuples(emission)
            keep = [True] * len(block) if present is None else present.tolist()
        else:
            raw, shown, named = self._shown(block, emission)
            keep = (raw.valid if present is None else raw.valid & present).tolist()
            plain = _named(raw.values if emission.component is None else shown, shown, emission, named)
        return [value if kept else None for value, kept in zip(plain, keep, strict=True)]

    def _float(self, block: Block, emission: Emission) -> FloatArray:
        """Numbers of one field of a block, NaN where there is none and for texts, names and arrays."""
        slot = emission.slot
        if slot is not None and emission.component is None and (slot.is_text or slot.is_many):
            return np.full(len(block), np.nan)
        raw, shown, named = self._shown(block, emission)
        present = self.present(block, emission)
        return float_column(shown, raw.valid if present is None else raw.valid & present, named)

    def _shown(self, block: Block, emission: Emission) -> tuple[Column, NDArray[Any], BoolArray | None]:
        """(raw column, its numbers scaled, where a name stands for the number) of a field of one number."""
        raw = self._raw(block, emission)
        shown = scaled(raw.values, emission.component or emission.field)
        return raw, shown, named_by(raw.values if emission.component is None else shown, emission.rendered)

    def _raw(self, block: Block, emission: Emission) -> Column:
        if emission.slot is None:
            assert self._times is not None
            return self._times.of(block)
        if emission.component is None:
            return block.number(emission.slot)
        if emission.component.accumulate:
            return self._sums(emission.component)[id(block)]
        return block.component(emission.slot, emission.component)

    def _sums(self, component: Any) -> dict[int, Column]:
        """By id of the block, the sums that a component adds up to over all messages of the table."""
        if component.def_num not in self._summed:
            low = {id(block): self._low(block, component.def_num) for block in self.blocks}
            parts = [(block, column) for block in self.blocks if (column := low[id(block)]) is not None]
            sums = accumulated(parts, component.bits, self._resets(component.def_num))
            self._summed[component.def_num] = {id(block): c for (block, _), c in zip(parts, sums, strict=True)}
        return self._summed[component.def_num]

    def _low(self, block: Block, num: int) -> Column | None:
        found = [
            e for e in block.shape.emissions if e.component and e.component.accumulate and e.component.def_num == num
        ]
        return block.component(found[0].slot, found[0].component) if found and found[0].slot else None


def _named(keys: NDArray[Any], shown: NDArray[Any], emission: Emission, named: BoolArray | None) -> list[Any]:
    plain: list[Any] = shown.tolist()
    if named is None:
        return plain
    names = emission.rendered
    return [names[key] if is_named else value for key, value, is_named in zip(keys.tolist(), plain, named, strict=True)]
