"""What is stored to bytes and back: equal to the last bit, whatever their values."""

from __future__ import annotations

import dataclasses
import math
from datetime import UTC
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from steadyband.athlete import codec
from steadyband.athlete.codec import CodecError
from steadyband.athlete.condensed import Condensed
from steadyband.athlete.measuring import Measured
from steadyband.athlete.outline import Outline
from steadyband.athlete.work import Fault
from steadyband.audit.model import Audit, Finding, SessionInfo, Traces
from steadyband.ground.settings import Settings
from steadyband.recording.model import Rows

WORD = st.text(max_size=12)
ARRAYS = st.one_of(
    *(arrays(kind, st.integers(0, 5)) for kind in (np.uint8, np.bool_, np.int64)),
    *(arrays(kind, st.integers(0, 5), elements={"allow_nan": False}) for kind in (np.float32, np.float64)),
    arrays(np.float64, (2, 3), elements={"allow_nan": False}),
)
NUMBER = st.one_of(st.integers(-(2**60), 2**60), st.floats(allow_nan=False))
PLAIN = st.recursive(
    st.one_of(st.none(), st.booleans(), NUMBER, WORD),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(WORD, inner, max_size=3),
    ),
    max_leaves=8,
)
TIMES = st.datetimes(timezones=st.just(UTC))


def anything(kind: Any, inside: bool = True) -> st.SearchStrategy[Any]:
    """Values of a declared type, by walking its fields: independent of the codec under test."""
    import types
    from collections.abc import Mapping
    from datetime import date, datetime
    from typing import Literal, Union, get_args, get_origin, get_type_hints

    origin, inner = get_origin(kind), get_args(kind)
    if kind is Settings or (kind is Traces and inside):
        return st.none()
    if kind is np.ndarray:
        return ARRAYS
    if origin is frozenset:
        return st.frozensets(anything(inner[0]), max_size=2)
    if dataclasses.is_dataclass(kind):
        hints = get_type_hints(kind)
        return st.builds(kind, **{field.name: anything(hints[field.name]) for field in dataclasses.fields(kind)})
    if origin in (Union, types.UnionType):
        return st.one_of([st.none() if part is type(None) else anything(part) for part in inner])
    if origin is tuple and inner[-1] is Ellipsis:
        return st.lists(anything(inner[0]), max_size=2).map(tuple)
    if origin is tuple:
        return st.tuples(*(anything(part) for part in inner))
    if origin is Literal:
        return st.sampled_from(inner)
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return st.dictionaries(WORD, anything(inner[1]), max_size=3)
    fixed = {int: st.integers(-(2**60), 2**60), float: st.floats(allow_nan=False), str: WORD, bool: st.booleans()}
    return {**fixed, datetime: TIMES, date: st.dates(), Path: WORD.map(Path), Any: PLAIN}[kind]


def same(left: Any, right: Any) -> bool:
    """Equal in type and value, arrays by bytes."""
    if isinstance(left, np.ndarray):
        return left.dtype == right.dtype and left.shape == right.shape and left.tobytes() == right.tobytes()
    if dataclasses.is_dataclass(left):
        fields = dataclasses.fields(left)
        return type(left) is type(right) and all(same(getattr(left, f.name), getattr(right, f.name)) for f in fields)
    if isinstance(left, tuple):
        return isinstance(right, tuple) and len(left) == len(right) and all(map(same, left, right))
    if isinstance(left, dict):
        return left.keys() == right.keys() and all(same(left[key], right[key]) for key in left)
    return type(left) is type(right) and left == right


def left_out(value: Any) -> dict[str, Any]:
    """What an audit, or a session without its arrays, is given back by the store."""
    names = {Audit: ("settings", "traces"), Condensed: ("audit", "path")}.get(type(value), ())
    return {name: getattr(value, name) for name in names}


@pytest.mark.parametrize("kind", [Audit, Traces, Condensed, Outline, Measured, Fault, SessionInfo, Finding])
def test_what_is_loaded_equals_what_was_stored(kind: type) -> None:
    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(anything(kind, inside=False))
    def round_trip(value: Any) -> None:
        assert same(codec.load(codec.dump(value, kind), kind, **left_out(value)), value)

    round_trip()


def test_values_that_json_does_not_know_come_back() -> None:
    odd = Finding("x", math.inf, {"nan": math.nan, "low": -math.inf, "of numpy": np.float64(0.1), "pair": (1, [2.0])})
    found = codec.load(codec.dump(odd, Finding), Finding)
    assert found.agreement == math.inf
    assert math.isnan(found.evidence["nan"])
    assert found.evidence["low"] == -math.inf
    assert same(found.evidence["of numpy"], 0.1)
    assert found.evidence["pair"] == [1, [2.0]]


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x90",  # MessagePack by hand: an empty list
        b"\x80",  # an empty map
        b"\xc0",  # nothing
        b"\x93\x01\x02\x03",  # [1, 2, 3]
        b"\x93\xa1x\xc0\x80\x00",  # a byte too many
        b"\x94\xa1x\xc0\x80\x00",  # a field too many
        b"\x93\xa1x\xc0",  # cut short
        b"\x93\xa1x\xa1z\x80",  # a text where a number belongs
    ],
)
def test_bytes_that_do_not_fit_are_refused(data: bytes) -> None:
    with pytest.raises(CodecError, match="not a stored Finding"):
        codec.load(data, Finding)


@pytest.mark.parametrize(
    "array", [["<f8", [2], b"12345678"], ["|O", [1], b"12345678"], ["<f8", [-1], b""], ["?!", [], b""], [], 5]
)
def test_an_array_that_is_none_is_refused(array: Any) -> None:
    import msgspec

    data = msgspec.msgpack.encode([*[array] * len(dataclasses.fields(Traces))])
    with pytest.raises(CodecError, match="not a stored Traces"):
        codec.load(data, Traces)


@pytest.mark.parametrize("odd", [object(), np.array(["text"]), np.array([None]), 2**70])
def test_a_value_that_is_not_plain_is_refused(odd: Any) -> None:
    with pytest.raises(CodecError, match="not to be stored as Finding"):
        codec.dump(Finding("x", None, {"odd": odd}), Finding)


def test_bytes_are_messagepack() -> None:
    assert codec.dump(Fault("why", True), Fault) == b"\x92\xa3why\xc3"  # by hand: fields in order


def test_one_second_rows_come_back_bit_for_bit() -> None:
    rng = np.random.default_rng(3)
    made = []
    for count in (0, 1, 4000):
        parts = {f.name: rng.normal(200, 50, count) for f in dataclasses.fields(Traces)}
        parts["load"][::7] = np.nan
        made.append(Traces(**(parts | {"ribbon": rng.integers(0, 8, count).astype(np.uint8)})))
    for traces in made:
        assert same(codec.load(codec.dump(traces, Traces), Traces), traces)


def test_no_type_of_a_stored_array_is_left_to_numpy() -> None:
    """numpy's typing aliases are other objects from version to version: at run time fields name the array class itself."""
    from typing import get_args, get_type_hints

    for kind in (Traces, Condensed, Outline, Rows):
        hints = [part for hint in get_type_hints(kind).values() for part in (hint, *get_args(hint))]
        kinds = [part for part in hints if "numpy" in repr(part) and not get_args(part)]
        assert kinds
        assert set(kinds) == {np.ndarray}
