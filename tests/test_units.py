"""Units and clock texts."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyband.ground.units import (
    FIT_EPOCH_UNIX_S,
    LOAD_UNITS,
    clock_text,
    duration_text,
    load_from_si,
    load_text,
    load_to_si,
    pace_text,
    parse_load,
)


def test_fit_epoch() -> None:
    """Published: FIT protocol, 1989-12-31T00:00:00Z; the Python standard library counts the seconds."""
    from datetime import UTC, datetime

    assert datetime(1989, 12, 31, tzinfo=UTC).timestamp() == FIT_EPOCH_UNIX_S == 631065600


@pytest.mark.parametrize(
    ("value", "unit", "si"),
    [
        (180.0, "W", 180.0),
        (12.0, "km/h", 12000 / 3600),  # by hand: 12,000 m in 3,600 s
        (5.0, "min/km", 1000 / 300),  # by hand: 1,000 m in 300 s
        (8.0, "min/mile", 1609.344 / 480),  # published: international mile; by hand: in 480 s
    ],
)
def test_loads_to_si(value: float, unit: str, si: float) -> None:
    assert load_to_si(value, unit) == pytest.approx(si, rel=1e-12)  # type: ignore[arg-type]


@given(st.floats(0.1, 3000), st.sampled_from(LOAD_UNITS))
def test_loads_there_and_back(value: float, unit: str) -> None:
    assert load_from_si(load_to_si(value, unit), unit) == pytest.approx(value, rel=1e-12)  # type: ignore[arg-type]


def test_standing_is_an_infinite_pace() -> None:
    assert math.isinf(load_from_si(0.0, "min/km"))
    assert load_text(0.0, "min/km") == "– min/km"


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [("5:30", "min/km", 5.5), (5.5, "min/km", 5.5), ("5:60", "min/km", None), ("5:30", "W", None), ("x", "W", None)],
)
def test_parse_load(typed: float | str, unit: str, value: float | None) -> None:
    assert parse_load(typed, unit) == value  # type: ignore[arg-type]


def test_texts() -> None:
    """By hand."""
    assert pace_text(5.999) == "6:00"
    assert load_text(200.4, "W") == "200 W"
    assert load_text(None, "W") == "–"
    assert duration_text(38) == "38 s"
    assert duration_text(3599) == "1 h 00"
    assert duration_text(7500) == "2 h 05"
    assert clock_text(3661.9) == "1:01:01"
