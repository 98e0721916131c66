"""Frozen dataclasses to bytes (MessagePack) and back, by msgspec: it alone reads the type hints."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast, get_type_hints

import msgspec
import numpy as np

from steadyband.audit.model import Audit, Traces
from steadyband.ground.settings import Settings

LEFT_OUT = (Settings, Traces, Audit, Path | None)
"""Types of fields that are kept elsewhere: not written, and given back by whoever loads."""
NUMBERS = "biuf"
"""Kinds of arrays that are stored (numpy's letters): truth values, whole numbers, numbers."""

T = TypeVar("T")


class CodecError(ValueError):
    """A value does not fit the type it should have."""


def dump(value: Any, kind: Any) -> bytes:
    """`value`, an instance of the type `kind`, as bytes; its fields of the types `LEFT_OUT` are not in it.

    NaN and infinities are kept; where a type leaves a field open (`Any`) a tuple becomes a list and a number of numpy's one of
    Python's. Raises CodecError where there is a value that is not plain.
    """
    try:
        return _ENCODER.encode(_row(kind)(*(getattr(value, name) for name in _names(kind))))
    except (TypeError, ValueError, OverflowError, RecursionError) as fault:
        raise CodecError(f"not to be stored as {kind.__name__}: {fault}") from fault


def load(data: bytes, kind: type[T], **left_out: Any) -> T:
    """The instance of `kind` that `dump` wrote, with the fields that were left out.

    Raises CodecError where the bytes do not fit the type.
    """
    names = _names(cast(Any, kind))
    try:
        row = _decoder(cast(Any, kind)).decode(data)
    except (msgspec.MsgspecError, ValueError, TypeError, RecursionError) as fault:
        raise CodecError(f"not a stored {kind.__name__}: {fault}") from fault
    return kind(**{name: getattr(row, name) for name in names}, **left_out)


@cache
def _fields(kind: Any) -> tuple[tuple[str, Any], ...]:
    hints = get_type_hints(kind)
    found = [(field.name, hints[field.name]) for field in dataclasses.fields(kind)]
    return tuple((name, hint) for name, hint in found if hint not in LEFT_OUT)


@cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(name for name, _ in _fields(kind))


@cache
def _row(kind: Any) -> Any:
    """A dataclass without what is kept elsewhere, as msgspec has it."""
    return msgspec.defstruct(kind.__name__, _fields(kind), array_like=True, forbid_unknown_fields=True)


@cache
def _decoder(kind: Any) -> msgspec.msgpack.Decoder[Any]:
    return msgspec.msgpack.Decoder(_row(kind), dec_hook=_array_in)


def _plain(value: Any) -> Any:
    """What msgspec does not know; the first bytes of all numbers, then the second ones: so they pack small and soon."""
    if isinstance(value, np.ndarray) and value.dtype.kind in NUMBERS:
        planes = np.ascontiguousarray(value).reshape(-1).view(np.uint8).reshape(-1, value.itemsize).T
        return (value.dtype.str, value.shape, planes.tobytes())
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"expected a plain value, found {type(value).__name__}")


def _array_in(_: Any, value: Any) -> Any:
    """The array that `_plain` wrote: arrays are the only type of a field that msgspec does not know."""
    name, shape, content = value
    kind = np.dtype(name)
    if kind.kind not in NUMBERS or math.prod(shape) * kind.itemsize != len(content):
        raise ValueError(f"expected {shape} numbers of the type {name}, found {len(content)} bytes")
    planes = np.frombuffer(content, np.uint8).reshape(kind.itemsize, -1)
    return np.array(planes.T, order="C").view(kind).reshape(shape)


_ENCODER = msgspec.msgpack.Encoder(enc_hook=_plain)
