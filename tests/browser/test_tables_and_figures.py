"""The tables behind the figures of many sessions and of step tests hold what plotly is given, point by point."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from made_pages import BIKE, demo_session, made_block, made_meters, zones
from report_builders import as_plotly

from steadyband.report.block.figure import drift_figure, drift_table, durability_figure, durability_table
from steadyband.report.common.words import Loads
from steadyband.report.session.overlay import efforts_drawn, overlay_figure, overlay_table
from steadyband.report.test.figure_readings import (
    edges_over_time_table,
    history_figure,
    meters_dots_table,
    meters_figure,
    readings_figure,
    readings_table,
)
from steadyband.review.repeat_climbs import repeat_climbs
from steadyband.steptest.history import history


def number(text: str) -> float:
    """The number a cell begins with."""
    return float(text.replace("−", "-").replace(",", "").split()[0])


def points(figure: Any, *names: str) -> list[tuple[float, float]]:
    """(x, y) of every point of the traces named, by x."""
    return sorted((x, y) for trace in figure.data if trace.name in names for x, y in zip(trace.x, trace.y, strict=True))


def test_the_block_chart(tmp_path: Path) -> None:
    chart = made_block(tmp_path).behind.charts[0]
    table, figure = drift_table(chart), as_plotly(drift_figure(chart))
    drawn = points(figure, "held the band", "left the band")
    assert [number(row[2]) for row in table.rows] == pytest.approx([y for _, y in drawn], abs=0.051)
    at = table.head.index("rising sum")
    sums = [y for trace in figure.data if trace.name == "rising sum" for y in trace.y]
    assert [None if row[at] == "–" else number(row[at]) for row in table.rows] == [
        None if value is None else pytest.approx(value, abs=0.00051) for value in sums
    ]


def test_durability(tmp_path: Path) -> None:
    rows = made_block(tmp_path).durability
    drawn = [(x, y) for trace in as_plotly(durability_figure(rows)).data for x, y in zip(trace.x, trace.y, strict=True)]
    told = [(number(row[1]), number(row[2])) for row in durability_table(rows).rows]
    assert told == [(pytest.approx(x, abs=0.051), pytest.approx(y, abs=0.051)) for x, y in drawn]


def test_two_meters() -> None:
    found = made_meters()
    dots = as_plotly(meters_figure(found)).data[0]
    drawn = sorted(zip(dots.x, dots.y, strict=True))
    told = [(number(row[0]), number(row[1])) for row in meters_dots_table(found).rows]
    assert len(told) == len(drawn)
    assert [x for x, _ in told] == pytest.approx([x for x, _ in drawn], abs=0.51)
    assert sorted(y for _, y in told) == pytest.approx(sorted(y for _, y in drawn), abs=0.051)


def test_edges_over_time() -> None:
    later = zones([(load + 20, value, hr) for load, value, hr in BIKE], date=date(2026, 7, 1))
    (group,) = history([zones(), later])
    drawn = [(trace.name, y) for trace in as_plotly(history_figure(group)).data for y in trace.y]
    told = [(row[1], number(row[2])) for row in edges_over_time_table(group).rows]
    assert sorted(told) == [(name, pytest.approx(y, abs=0.51)) for name, y in sorted(drawn)]


def test_readings() -> None:
    zone_set = zones()
    marks = next(trace for trace in as_plotly(readings_figure(zone_set)).data if trace.mode == "markers")
    told = {row[0]: row[2] for row in readings_table(zone_set).rows}
    assert {name for name, load in told.items() if load != "not reached"} == set(marks.y)
    assert [number(told[name]) for name in marks.y] == pytest.approx(list(marks.x), abs=0.51)


def test_a_climb_again() -> None:
    climb = repeat_climbs([demo_session("2026-05-16-moor-tracks")])[0]
    figure, loads = overlay_figure(climb, 212.0, Loads("W")), Loads("W")
    assert figure is not None
    table = overlay_table(climb, efforts_drawn(climb), loads)
    for column, trace in enumerate(as_plotly(figure).data, 1):
        assert [row[column] for row in table.rows] == list(trace.hovertext)
