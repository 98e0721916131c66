"""Frozen dataclasses to plain JSON values and back, exactly; what a value is comes from the type hints alone."""

from __future__ import annotations

import base64
import dataclasses
import json
import types
from collections.abc import Callable, Mapping
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

import numpy as np

from steadyband.audit.model import Traces
from steadyband.ground.settings import Settings

LEFT_OUT = (Settings, Traces)
"""Types that are kept elsewhere: written as null, and put back by whoever loads."""

T = TypeVar("T")
Convert = Callable[[Any], Any]
TUPLE = "__tuple__"


class CodecError(ValueError):
    """A value does not fit the type it should have."""


def dump(value: Any, kind: Any) -> str:
    """JSON text of `value`, an instance of the type `kind`; NaN and infinities are kept."""
    return json.dumps(_encoder(kind)(value), ensure_ascii=False, separators=(",", ":"))


def load(text: str, kind: type[T]) -> T:
    """The instance of `kind` that `dump` wrote.

    Raises CodecError where the text does not fit the type.
    """
    try:
        found: T = _decoder(cast(Any, kind))(json.loads(text))
    except (ValueError, TypeError, KeyError, IndexError, AttributeError) as fault:
        raise CodecError(f"not a stored {getattr(kind, '__name__', kind)}: {fault}") from fault
    return found


def _same(value: Any) -> Any:
    return value


@cache
def _fields(kind: type) -> tuple[tuple[str, Any], ...]:
    hints = get_type_hints(kind)
    return tuple((field.name, hints[field.name]) for field in dataclasses.fields(kind))


@cache
def _encoder(kind: Any) -> Convert:
    if kind in LEFT_OUT:
        return lambda value: None
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        parts = [(name, _encoder(hint)) for name, hint in _fields(kind)]
        return lambda value: [encode(getattr(value, name)) for name, encode in parts]
    return _container_encoder(kind) or _plain_encoder(kind)


def _container_encoder(kind: Any) -> Convert | None:
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        inner = _encoder(_optional(kind))
        return lambda value: None if value is None else inner(value)
    if origin is tuple and arguments[-1] is Ellipsis:
        item = _encoder(arguments[0])
        return lambda value: [item(part) for part in value]
    if origin is tuple:
        items = [_encoder(argument) for argument in arguments]
        return lambda value: [encode(part) for encode, part in zip(items, value, strict=True)]
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping):
        content = _encoder(arguments[1])
        return lambda value: {key: content(part) for key, part in value.items()}
    return None


def _plain_encoder(kind: Any) -> Convert:
    if kind in (date, datetime):
        return lambda value: value.isoformat()
    if kind is Path:
        return str
    if get_origin(kind) is np.ndarray:
        return _array_out
    return _free_out


def _array_out(value: Any) -> list[Any]:
    return [value.dtype.str, list(value.shape), base64.b64encode(np.ascontiguousarray(value).tobytes()).decode()]


def _array_in(value: Any) -> Any:
    kind, shape, content = value
    return np.frombuffer(base64.b64decode(content), dtype=np.dtype(kind)).reshape(shape).copy()


def _free_out(value: Any) -> Any:
    """Values whose type is not declared: plain ones, tuples told from lists, numpy scalars as Python's."""
    if value is None or isinstance(value, (str, bool)):
        return value
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, (int, float)):
        return value
    if isinstance(value, tuple):
        return {TUPLE: [_free_out(part) for part in value]}
    if isinstance(value, list):
        return [_free_out(part) for part in value]
    if isinstance(value, Mapping):
        return {str(key): _free_out(part) for key, part in value.items()}
    raise CodecError(f"expected a plain value, found {type(value).__name__}")


def _free_in(value: Any) -> Any:
    if isinstance(value, list):
        return [_free_in(part) for part in value]
    if isinstance(value, dict):
        if value.keys() == {TUPLE}:
            return tuple(_free_in(part) for part in value[TUPLE])
        return {key: _free_in(part) for key, part in value.items()}
    return value


def _optional(kind: Any) -> Any:
    inner = [argument for argument in get_args(kind) if argument is not type(None)]
    simple = all(argument in (int, float, str, bool) for argument in inner)
    if len(inner) == 1:
        return inner[0]
    if simple:
        return Any
    raise TypeError(f"no way to store {kind}")


@cache
def _decoder(kind: Any) -> Convert:
    if kind in LEFT_OUT:
        return _same
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _dataclass_decoder(kind)
    return _container_decoder(kind) or _plain_decoder(kind)


def _dataclass_decoder(kind: type) -> Convert:
    decoders = [_decoder(hint) for _, hint in _fields(kind)]
    plain = [number for number, decode in enumerate(decoders) if decode is not _same]
    count = len(decoders)

    def build(values: Any) -> Any:
        if len(values) != count:
            raise CodecError(f"expected {count} values of {kind.__name__}, found {len(values)}")
        for number in plain:
            values[number] = decoders[number](values[number])
        return kind(*values)

    return build


def _container_decoder(kind: Any) -> Convert | None:
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        inner = _decoder(_optional(kind))
        return inner if inner is _same else lambda value: None if value is None else inner(value)
    if origin is tuple:
        return _tuple_decoder(arguments)
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping):
        content = _decoder(arguments[1])
        return _same if content is _same else lambda value: {key: content(part) for key, part in value.items()}
    return None


def _tuple_decoder(arguments: tuple[Any, ...]) -> Convert:
    if arguments[-1] is Ellipsis:
        item = _decoder(arguments[0])
        return tuple if item is _same else lambda value: tuple([item(part) for part in value])
    items = [_decoder(argument) for argument in arguments]
    return lambda value: tuple([decode(part) for decode, part in zip(items, value, strict=True)])


def _plain_decoder(kind: Any) -> Convert:
    if kind in (date, datetime):
        return kind.fromisoformat  # type: ignore[no-any-return]
    if kind is Path:
        return Path
    if get_origin(kind) is np.ndarray:
        return _array_in
    if kind in (int, float, str, bool) or get_origin(kind) is Literal:
        return _same
    if kind is Any:
        return _free_in
    raise TypeError(f"no way to store {kind}")
