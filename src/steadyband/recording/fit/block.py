"""Same-shaped FIT messages decoded at once: one column per field, values as fitdecode gives them."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

import numpy as np
from fitdecode.types import BASE_TYPE_BYTE
from numpy.typing import NDArray

from steadyband.recording.fit.profile import Alternatives, Emission, Shape, Slot
from steadyband.recording.model import BoolArray, FloatArray

Offsets = NDArray[np.int64]
Numbers = NDArray[Any]


class Column(NamedTuple):
    """Native numbers [n] and where there are any; numbers elsewhere mean nothing."""

    values: Numbers
    valid: BoolArray


@lru_cache(maxsize=64)
def _invalid(base: Any) -> int:
    """The value that says "none" in a whole-number base type, found by trying fitdecode's own test on its limits."""
    limits = np.iinfo(np.dtype(base.fmt))
    return next(value for value in (int(limits.max), 0) if base.parse(value) is None)


class Block:
    """The messages of one shape in a file; `offsets` [n] ascending bytes of their record headers."""

    def __init__(self, shape: Shape, data: bytes, offsets: Offsets) -> None:
        self.shape = shape
        self.offsets = offsets
        self._data = data

    def __len__(self) -> int:
        return len(self.offsets)

    @cached_property
    def _messages(self) -> NDArray[np.void]:
        """The messages side by side; the view over all starts costs nothing, only those at `offsets` are copied."""
        size = self.shape.size
        everywhere = np.ndarray((len(self._data) - size + 1,), f"V{size}", self._data, 0, (1,))
        return everywhere[self.offsets]

    @cached_property
    def heads(self) -> NDArray[np.uint8]:
        """The record header of each message."""
        return np.frombuffer(self._data, dtype=np.uint8)[self.offsets]

    def first(self) -> Block:
        """The first message only."""
        return Block(self.shape, self._data, self.offsets[:1])

    def raw(self, slot: Slot) -> Numbers:
        """Raw numbers of a slot, [n] or [n, length]."""
        dtype = np.dtype(f"{self.shape.endian}{slot.base.fmt}")
        shape = (len(self), slot.length)
        strides = (self.shape.size, dtype.itemsize)
        many: Numbers = np.ndarray(shape, dtype, self._messages, slot.at, strides)
        return many if slot.is_many else many[:, 0]

    def valid(self, slot: Slot) -> BoolArray:
        """Where fitdecode gives a value: numbers other than the invalid one, bytes of which any is not 0xFF."""
        raw = self.raw(slot)
        if slot.base is BASE_TYPE_BYTE:
            return np.asarray(np.any(raw != 0xFF, axis=1))
        if slot.is_many:
            return np.ones(len(self), dtype=bool)
        return ~np.isnan(raw) if slot.base.fmt in "fd" else np.asarray(raw != _invalid(slot.base))

    def number(self, slot: Slot) -> Column:
        """A slot of one number, unscaled."""
        return Column(self.raw(slot), self.valid(slot))

    def component(self, slot: Slot, component: Any) -> Column:
        """The bits of a slot that make up one component, unscaled and not yet accumulated."""
        if not slot.is_many:
            wide = self.raw(slot).astype(np.uint64 if slot.base.fmt == "Q" else np.int64)
            low = (wide >> component.bit_offset) & ((1 << component.bits) - 1)
            return Column(low.astype(np.int64), self.valid(slot))
        first, shift = divmod(component.bit_offset, 8)
        if self.is_too_short(slot, component):
            return Column(np.zeros(len(self), dtype=np.int64), np.zeros(len(self), dtype=bool))
        octets = self.raw(slot)[:, first : first + 6].astype(np.int64)
        word = octets @ (np.int64(1) << (8 * np.arange(octets.shape[1])))
        return Column((word >> shift) & ((1 << component.bits) - 1), self.valid(slot))

    def is_too_short(self, slot: Slot, component: Any) -> bool:
        """True where fitdecode leaves the component out of messages in which the slot has a value."""
        return bool(slot.is_many and component.bit_offset and component.bit_offset >= 8 * slot.length)

    def selected(self, emission: Emission) -> BoolArray | None:
        """Where the emission's subfield is the one in force; None means everywhere."""
        if not emission.alternatives:
            return None
        return np.asarray(self._choice(emission.alternatives) == emission.choice)

    def _choice(self, alternatives: Alternatives) -> NDArray[np.int64]:
        choice = np.full(len(self), -1)
        for which in reversed(range(len(alternatives))):
            for slot, wanted in alternatives[which]:
                if not (slot.is_many or slot.is_text):
                    raw, valid = self.number(slot)
                    choice[valid & (raw == wanted)] = which
        return choice

    def texts(self, slot: Slot) -> list[str | None]:
        """Strings of a slot."""
        starts = self.offsets + slot.at
        return [slot.base.parse(self._data[start : start + slot.length]) for start in starts.tolist()]

    def tuples(self, emission: Emission) -> list[tuple[Any, ...] | None]:
        """Arrays of a slot, scaled value by value."""
        slot = emission.slot
        assert slot is not None
        parse: Callable[[Any], Any] = (lambda value: value) if slot.base is BASE_TYPE_BYTE else slot.base.parse
        scale = _scaler(emission.field)
        rows = zip(self.raw(slot).tolist(), self.valid(slot).tolist(), strict=True)
        return [tuple(scale(parse(value)) for value in row) if valid else None for row, valid in rows]


def _scaler(field: Any) -> Callable[[Any], Any]:
    if not field or not (field.scale or field.offset):
        return lambda value: value
    return lambda value: None if value is None else _scaled_one(value, field)


def _scaled_one(value: float, field: Any) -> float:
    scaled = float(value) / field.scale if field.scale else value
    return scaled - field.offset if field.offset else scaled


_quietly = np.errstate(over="ignore", invalid="ignore")
"""For damaged decimal numbers: casts of signalling NaN and divisions beyond float64 give NaN and infinity, as in Python."""


@_quietly
def as_double(values: Numbers) -> FloatArray:
    """Numbers as float64."""
    return values.astype(np.float64)


@_quietly
def scaled(values: Numbers, rule: Any) -> Numbers:
    """Raw numbers by the scale and offset of a field or component, in the order fitdecode computes: raw / scale - offset."""
    if not rule:
        return values
    if rule.scale:
        values = as_double(values) / rule.scale
    if rule.offset:
        values = (values if values.dtype.kind == "f" else values.astype(np.int64)) - rule.offset
    return values


def float_column(values: Numbers, valid: BoolArray, named: BoolArray | None) -> FloatArray:
    """Numbers as float64, NaN where there is none, where it is not finite and where a name stands for it."""
    wide = as_double(values)
    keep = valid & np.isfinite(wide) if values.dtype.kind == "f" else valid
    return np.where(keep if named is None else keep & ~named, wide, np.nan)


@_quietly
def named_by(values: Numbers, enum: dict[Any, str]) -> BoolArray | None:
    """Where fitdecode gives a name in place of the number; None means nowhere."""
    if not enum:
        return None
    return np.asarray(values == next(iter(enum))) if len(enum) == 1 else np.isin(values, list(enum))
