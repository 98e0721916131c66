"""Every figure of every kind of page is one that plotly itself takes: it knows each key, and finds each value valid.

Reference library: plotly, `graph_objects.Figure(data, layout)`, which raises ValueError for an unknown key or a value out of its schema.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import plotly.graph_objects
import pytest
from made_pages import DRAWN, write_pages

from steadyband.report.common.packing import unpacked

SPEC = re.compile(r'<script type="application/json" data-plot="[^"]+">(.*?)</script>', re.DOTALL)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    made = write_pages(tmp_path_factory.mktemp("figures"))
    return {name: path.read_text(encoding="utf-8") for name, path in made.items()}


def figures(page: str) -> list[dict[str, Any]]:
    """The figures' descriptions as the page's script has them."""
    found: list[dict[str, Any]] = [json.loads(text) for text in SPEC.findall(page)]
    for trace in (trace for spec in found for trace in spec["data"]):
        if isinstance(trace.get("x"), dict):
            trace["x"] = unpacked(trace["x"])
    return found


def test_plotly_takes_every_figure(pages: dict[str, str]) -> None:
    without = {name for name in DRAWN if not figures(pages[name])}
    assert without <= {"week-empty", "season", "roster"}  # these tell the rest in ribbons and tables
    for name in DRAWN:
        for spec in figures(pages[name]):
            drawn = plotly.graph_objects.Figure(spec["data"], spec["layout"]).to_plotly_json()
            assert [trace.keys() - {"meta"} for trace in drawn["data"]] == [
                trace.keys() - {"meta"} for trace in spec["data"]
            ]


def test_every_trace_is_of_a_kind_the_carried_bundle_has(pages: dict[str, str]) -> None:
    """Published: plotly's basic bundle has scatter, bar and pie (plotly.js, dist/README.md); a trace without a type is a scatter."""
    kinds = {
        trace.get("type", "scatter") for page in pages.values() for spec in figures(page) for trace in spec["data"]
    }
    assert kinds == {"scatter", "bar"}


def test_plotly_would_refuse_a_wrong_one(pages: dict[str, str]) -> None:
    spec = figures(pages["session"])[0]
    with pytest.raises(ValueError, match="no_such_key"):
        plotly.graph_objects.Figure([{**spec["data"][0], "no_such_key": 1}], spec["layout"])


def test_a_figure_leaves_out_what_is_none(tmp_path: Path) -> None:
    from steadyband.report.common.figure_base import figure

    made = figure([{"x": [1], "text": None}], {"height": 3, "title": {"text": "a", "font": None}})
    assert (made.data, made.layout) == (({"x": [1]},), {"height": 3, "title": {"text": "a"}})
