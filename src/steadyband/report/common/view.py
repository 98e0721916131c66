"""What a page template is given: texts, tables and figures, nothing to be worked out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from steadyband.report.common.figure_base import Figure


@dataclass(frozen=True, slots=True)
class Table:
    """A table of texts; the first `words` columns are set left, the others right. The first cell heads its row."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: int = 1
    note: str = ""


@dataclass(frozen=True, slots=True)
class Plot:
    """One figure: its place on the page, plotly's own description of it, its height [px], the same in words and as a table."""

    id: str
    spec: Mapping[str, Any] = field(repr=False)
    height: int
    words: str
    table: Table


LABEL = "%{hovertext}"
"""What a label says where its trace has no template of its own."""


def plot(name: str, figure: Figure, words: str, table: Table) -> Plot:
    """A figure made ready for the page, with the table of what it draws."""
    data = [_labelled(trace) for trace in figure.data]
    return Plot(name, {"data": data, "layout": figure.layout}, int(figure.layout["height"]), words, table)


def _labelled(trace: Mapping[str, Any]) -> dict[str, Any]:
    """The trace with its label left to the page: that one can be pointed at, dismissed, and reached by keyboard."""
    if trace.get("hoverinfo") == "skip":
        return dict(trace)
    rest = {key: value for key, value in trace.items() if key != "hovertemplate"}
    return rest | {"hoverinfo": "none", "meta": trace.get("hovertemplate") or LABEL}
