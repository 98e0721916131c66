"""Either a result or a SteadybandError, whatever the bytes: the short form of benchmarks/fuzz.py."""

from __future__ import annotations

import datetime as dt
import random
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from conftest import ROOT
from steadyband.athlete.athlete import KEYS, parse_athlete, read_athlete
from steadyband.ground.errors import SteadybandError
from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.file.build import SAMPLE_KEYS, STEP_KEYS, TEST_KEYS, build_test
from steadyband.steptest.file.reading import _toml_place, load_test

sys.path.insert(0, str(ROOT / "benchmarks"))

import fuzz

KINDS = fuzz.kinds()


@pytest.mark.parametrize("name", KINDS)
@settings(max_examples=40)
@given(seed=st.integers(0, 2**32 - 1))
def test_spoilt_files(name: str, seed: int) -> None:
    kind, rng = KINDS[name], random.Random(seed)
    data = kind.one(rng, name in ("test.xlsx", "test.ods", "zip") and bool(seed % 2))
    with tempfile.TemporaryDirectory() as folder:
        assert fuzz.try_one(kind, data, Path(folder), fuzz.Figures(name)) == ""


@pytest.mark.parametrize("name", KINDS)
@settings(max_examples=30)
@given(data=st.binary(max_size=400))
def test_any_bytes(name: str, data: bytes) -> None:
    kind = KINDS[name]
    with tempfile.TemporaryDirectory() as folder:
        head = kind.seeds[0][: len(data) % 30]
        assert fuzz.try_one(kind, head + data, Path(folder), fuzz.Figures(name)) == ""


PLAIN = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.integers(10**300, 10**400)
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(["cycling", "W", "5:30", "min/km", "run", "fed", "2026-04-20", "²", "9" * 5000, "\0"])
    | st.dates()
    | st.datetimes()
    | st.times()
    | st.just(dt.datetime(1, 1, 1, tzinfo=dt.UTC))
)
"""What a TOML file can hold and more; half a surrogate pair is in no text: TOML v1.0.0, "String", takes Unicode scalar values."""


def test_half_a_surrogate_pair_never_comes_out_of_a_file(tmp_path: Path) -> None:
    """Published: TOML v1.0.0, "String": escape codes must be Unicode scalar values."""
    file = tmp_path / "athlete.toml"
    file.write_text('name = "\\ud800"\n', encoding="utf-8")
    for reading in (read_athlete, load_test):
        with pytest.raises(SteadybandError, match="line 1"):
            reading(file)


def tables(keys: tuple[str, ...], inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.dictionaries(st.sampled_from(keys) | st.text(max_size=5), inner, max_size=6)


NESTED = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=4) | tables((*STEP_KEYS, *SAMPLE_KEYS), inner), max_leaves=12
)
GOOD = {
    "date": "2026-04-20", "sport": "cycling", "load_unit": "W", "step_minutes": 10, "baseline": [1.1],
    "step": [{"load": load, "hr_max": 120, "samples": [{"minute": 10, "lactate": 1.0 + load / 500}]} for load in (120, 160, 200, 240)],
}  # fmt: skip


@settings(max_examples=300)
@given(
    st.dictionaries(st.sampled_from(TEST_KEYS), NESTED, max_size=3),
    st.dictionaries(st.sampled_from(STEP_KEYS), NESTED, max_size=2),
)
def test_any_values_in_a_step_test(wrong: dict[str, Any], in_step: dict[str, Any]) -> None:
    steps = [*GOOD["step"][:2], GOOD["step"][2] | in_step, GOOD["step"][3]]  # type: ignore[index, operator]
    with suppress(SteadybandError):
        build_test(GOOD | {"step": steps} | wrong, "x", _toml_place, StepTestSettings())


@settings(max_examples=300)
@given(
    st.dictionaries(
        st.sampled_from(KEYS),
        PLAIN
        | st.lists(PLAIN | tables(("word", "intent", "name", "meter", "watts", "percent"), PLAIN), max_size=3)
        | tables(
            ("mass_kg", "cassette", "cycling", "running", "grid", "steptest", "crr"),
            PLAIN | tables(("hold_s", "draws", "easy"), PLAIN),
        ),
        max_size=4,
    )
)
def test_any_values_in_an_athlete_file(table: dict[str, Any]) -> None:
    with suppress(SteadybandError):
        parse_athlete(table, Path("somewhere"), "athlete.toml")
