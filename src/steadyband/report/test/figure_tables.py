"""The table behind a figure of step tests: strip of readings, edges over time, two meters."""

from __future__ import annotations

from steadyband.report.common.view import Table
from steadyband.report.common.words import Loads, date_text, number_text, signed_text
from steadyband.report.test.figure_curve import EDGE_COLOURS, edge_of
from steadyband.steptest.history import HistoryGroup
from steadyband.steptest.meters import MeterComparison
from steadyband.steptest.model import ZoneSet


def readings_table(zone_set: ZoneSet) -> Table:
    """Floor and ceiling of this tool with their ranges, and every other reading, as marked in the strip."""
    loads, edges = Loads(zone_set.test.load_unit), zone_set.edges
    own = [
        (name, "this tool", _reached(loads, getattr(edges, name)), _range(zone_set, name))
        for name in ("floor", "ceiling")
    ]
    others = [(item.name, item.source, _reached(loads, item.value), "") for item in zone_set.methods]
    share = f"{zone_set.settings.range_share * 100:.0f} % range"
    return Table("The figure as a table", ("reading", "source", "load", share), (*own, *others), words=2)


def _reached(loads: Loads, value: float | None) -> str:
    return "not reached" if value is None else loads.text(value)


def _range(zone_set: ZoneSet, name: str) -> str:
    span = zone_set.ranges.get(name)
    return Loads(zone_set.test.load_unit).range(span.low, span.high) if span else ""


def edges_over_time_table(group: HistoryGroup) -> Table:
    """One row a test and edge, as drawn: date, edge, load and range."""
    loads = Loads(group.load_unit)
    rows = tuple(
        (date_text(item.test.date), name.replace("_", " "), loads.text(edge_of(item, name)), _range(item, name))
        for item in group.zone_sets
        for name in EDGE_COLOURS
        if edge_of(item, name) is not None
    )
    share = f"{group.zone_sets[-1].settings.range_share * 100:.0f} % range"
    none = (("no usable test", "", "", ""),)
    return Table("The figure as a table", ("date", "edge", "load", share), rows or none, words=2)


def meters_dots_table(comparison: MeterComparison) -> Table:
    """Every half minute: the load of the first meter and how much more the second reads, and the line at that load."""
    a, b = comparison.means_a, comparison.means_b
    line = comparison.intercept_w + comparison.slope * a - a
    rows = tuple(
        (
            number_text(float(a[row]), "W"),
            signed_text(float(b[row] - a[row]), "W", 1),
            signed_text(float(line[row]), "W", 1),
        )
        for row in a.argsort(kind="stable").tolist()
    )
    head = (f"{comparison.name_a}, 30-s mean", f"{comparison.name_b} minus {comparison.name_a}", "line")
    return Table("The figure as a table", head, rows)
