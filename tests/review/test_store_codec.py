"""Audits through the store's text and back: equal to the last bit, whatever their values."""

from __future__ import annotations

import dataclasses
import json
import math
from datetime import UTC
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.outline import Outline
from steadyband.athlete.store import codec, tables
from steadyband.athlete.store.codec import CodecError
from steadyband.athlete.work import Fault
from steadyband.audit.model import Audit, Finding, SessionInfo, Traces
from steadyband.ground.settings import Settings

WORD = st.text(max_size=12)
NUMBER = st.one_of(st.integers(-(2**60), 2**60), st.floats(allow_nan=False))
PLAIN = st.recursive(
    st.one_of(st.none(), st.booleans(), NUMBER, WORD),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.lists(inner, max_size=3).map(tuple),
        st.dictionaries(WORD, inner, max_size=3),
    ),
    max_leaves=8,
)
TIMES = st.datetimes(timezones=st.just(UTC))


def anything(kind: Any) -> st.SearchStrategy[Any]:
    """Values of a declared type, by walking its fields: independent of the codec under test."""
    import types
    from collections.abc import Mapping
    from datetime import date, datetime
    from typing import Literal, Union, get_args, get_origin, get_type_hints

    origin, inner = get_origin(kind), get_args(kind)
    if kind is Settings:
        return st.none()
    if kind is Traces:
        return st.none()
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
    if origin is np.ndarray:
        dtype = get_args(inner[1])[0]
        return arrays(
            dtype, st.integers(0, 5), elements={"allow_nan": False} if dtype not in (np.uint8, np.bool_) else None
        )
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


@pytest.mark.parametrize("kind", [Audit, Condensed, Outline, Fault, SessionInfo, Finding])
def test_what_is_loaded_equals_what_was_stored(kind: type) -> None:
    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(anything(kind))
    def round_trip(value: Any) -> None:
        assert same(codec.load(codec.dump(value, kind), kind), value)

    round_trip()


def test_values_that_json_does_not_know_come_back() -> None:
    odd = Finding(
        "x", "y", math.inf, {"nan": math.nan, "low": -math.inf, "of numpy": np.float64(0.1), "pair": (1, [2.0])}
    )
    found = codec.load(codec.dump(odd, Finding), Finding)
    assert found.agreement == math.inf
    assert math.isnan(found.evidence["nan"])
    assert found.evidence["low"] == -math.inf
    assert found.evidence["of numpy"] == 0.1
    assert found.evidence["pair"] == (1, [2.0])


@pytest.mark.parametrize("text", ["", "[]", "{}", "null", '["a"]', "[1,2,3,4]", '{"__tuple__": 1}', "[[],[],[],[]]"])
def test_text_that_does_not_fit_is_refused(text: str) -> None:
    with pytest.raises(CodecError):
        codec.load(text, Finding)


def test_a_value_that_is_not_plain_is_refused() -> None:
    with pytest.raises(CodecError, match="plain value"):
        codec.dump(Finding("x", "y", None, {"set": {1}}), Finding)


def test_text_is_json() -> None:
    assert json.loads(codec.dump(Fault("why", True), Fault)) == ["why", True]  # by hand: fields in order


def test_one_second_rows_come_back_bit_for_bit() -> None:
    rng = np.random.default_rng(3)
    made = []
    for count in (0, 1, 4000):
        parts = {f.name: rng.normal(200, 50, count) for f in dataclasses.fields(Traces)}
        parts["load"][::7] = np.nan
        made.append(Traces(**(parts | {"ribbon": rng.integers(0, 8, count).astype(np.uint8)})))
    import polars as pl

    frame = pl.DataFrame(
        {f.name: tables._lists([getattr(t, f.name) for t in made]) for f in dataclasses.fields(Traces)}
    )
    for row, traces in enumerate(made):
        assert same(tables.traces_at(frame, row), traces)
