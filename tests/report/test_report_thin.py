"""Thinning for drawing keeps every extreme."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_builders import as_plotly, drifting_ride, hard_session, surging_ride

from steadyband.audit.model import Audit
from steadyband.report.common.figure_base import elapsed_ms
from steadyband.report.common.page_ribbon import page_ribbon
from steadyband.report.common.thin import thinned
from steadyband.report.session.figure import PIECES, session_figure

VALUES = st.lists(st.floats(-1e6, 1e6) | st.just(float("nan")), min_size=1, max_size=400)


@given(values=VALUES, pieces=st.integers(1, 60))
def test_lowest_and_highest_value_survive_and_the_order_holds(values: list[float], pieces: int) -> None:
    array = np.array(values)
    index, kept = thinned(array, pieces)
    assert (np.diff(index) > 0).all()
    assert len(index) <= max(2 * pieces, len(values) if len(values) <= 2 * pieces else 0)
    np.testing.assert_array_equal(kept, array[index])
    if not np.isnan(array).all():
        assert np.nanmax(kept) == np.nanmax(array)
        assert np.nanmin(kept) == np.nanmin(array)


def test_a_long_hole_breaks_the_line() -> None:
    values = np.ones(10_000)
    values[4000:6000] = np.nan
    index, kept = thinned(values, 100)
    hole = np.isnan(kept)
    assert hole.any()
    assert ((index[hole] >= 4000) & (index[hole] < 6000)).all()


def test_one_second_peak_in_ten_thousand_survives() -> None:
    values = np.zeros(10_000)
    values[7777] = 900.0
    index, kept = thinned(values, 50)
    assert kept[index == 7777].tolist() == [900.0]


@given(
    length=st.integers(1_000, 40_000),
    pieces=st.integers(50, 600),
    data=st.data(),
)
def test_a_surge_planted_anywhere_is_drawn_where_it_is(length: int, pieces: int, data: st.DataObject) -> None:
    """Five seconds above a level that nothing else reaches: a kept point stands above it, within the piece they fell in."""
    start = data.draw(st.integers(0, length - 5))
    values = np.full(length, 190.0)
    values[start : start + 5] = 230.0
    index, kept = thinned(values, pieces)
    drawn = index[kept > 212.0]
    assert len(drawn) >= 1
    assert ((drawn >= start) & (drawn < start + 5)).all()


@pytest.mark.parametrize("make", [surging_ride, drifting_ride, hard_session])
def test_every_surge_has_its_tick_and_its_peak_in_the_figure(make: Callable[[], Audit]) -> None:
    audit = make()
    spec = as_plotly(session_figure(audit)).to_plotly_json()
    events = audit.surges.events if audit.surges else ()
    ticks = [second for trace in spec["data"] if trace["name"] == "surges" for second in trace["x"]]
    assert ticks == [elapsed_ms(event.start_s) for event in events]
    faint = next(trace for trace in spec["data"] if trace["name"] == "each second")
    at, drawn = np.array(faint["x"]), np.array([np.nan if y is None else y for y in faint["y"]])
    piece_ms = 1000 * -(-len(audit.traces.load) // PIECES["faint"])
    for event in events:
        first, last = elapsed_ms(event.start_s) - piece_ms, elapsed_ms(event.start_s + event.length_s) + piece_ms
        near = drawn[(at >= first) & (at <= last)]
        assert np.nanmax(near) >= round(
            float(np.nanmax(audit.traces.load[event.start_s : event.start_s + event.length_s]))
        )
    ticks_of_ribbon = page_ribbon(audit, "one", "", 20_000).tips["ticks"]
    assert ticks_of_ribbon == [event.start_s for event in events]


@pytest.mark.parametrize("make", [surging_ride, drifting_ride])
def test_every_number_drawn_is_a_number_of_the_session(make: Callable[[], Audit]) -> None:
    audit = make()
    for trace in as_plotly(session_figure(audit)).to_plotly_json()["data"]:
        source = {"each second": audit.traces.load, "31-s mean": audit.traces.band_load}.get(trace["name"])
        if source is None:
            continue
        seconds = [(x - elapsed_ms(0)) // 1000 for x in trace["x"]]
        wanted = [None if np.isnan(value) else round(float(value)) for value in source[seconds]]
        assert list(trace["y"]) == wanted
