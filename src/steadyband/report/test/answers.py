"""The answer at the top of the pages about tests: one sentence on one test, one on all of them."""

from __future__ import annotations

from collections.abc import Sequence

from steadyband.report.common.words import Loads, capital, counted, date_text, sport_word
from steadyband.steptest.history import Comparison, EdgeChange, HistoryGroup
from steadyband.steptest.model import ZoneSet

MOVED = {"up": "risen", "down": "fallen"}


def answer_of_test(zone_set: ZoneSet) -> str:
    """ "Steady from 145 to 169 W, easy below 145 W; keep a session's average at 160 W or less."."""
    edges, loads = zone_set.edges, Loads(zone_set.test.load_unit)
    if not zone_set.usable:
        return "No zones come from this test."
    if edges.floor is None:
        return (
            f"All of this test was easy, up to {loads.text(edges.ceiling_at_least)}: where steady begins was not found."
        )
    easy = "with no easy band" if edges.easy_empty else f"easy below {loads.text(edges.floor)}"
    less = "less" if loads.unit == "W" else "slower"
    top = f"keep a session's average at {loads.text(edges.target_top)} or {less}"
    if edges.ceiling is None:
        return f"Steady from {loads.text(edges.floor)}, its upper end above the last load; {easy}; {top}."
    if edges.untested:
        return f"Steady about {loads.range(edges.floor, edges.ceiling)}, but no step was in it: test again with smaller steps."
    return f"Steady from {loads.range(edges.floor, edges.ceiling)}, {easy}; {top}."


def answer_of_tests(groups: Sequence[HistoryGroup]) -> str:
    """What the latest test of each sport changed against the one before; or that there is nothing to compare yet."""
    if not groups:
        return "No step test was found."
    compared = [group for group in groups if group.comparisons]
    if not compared:
        told = [f"{counted(len(group.zone_sets), 'test')} {_whose(group)}" for group in groups]
        return f"{capital(_listed(told))}: nothing to compare yet."
    return " ".join(f"{capital(_whose(group))}: {_change(group.comparisons[-1])}." for group in compared)


def _whose(group: HistoryGroup) -> str:
    return f"{sport_word(group.sport)}, {group.state}"


def _change(item: Comparison) -> str:
    since = f"since {date_text(item.before.test.date)}"
    moved = [change for change in item.changes if change.way in MOVED]
    if not moved:
        return f"no edge has changed beyond its range {since}"
    return f"{_listed([_moved(change) for change in moved])} beyond the ranges {since}"


def _moved(change: EdgeChange) -> str:
    return f"the {change.edge.replace('_', ' ')} has {MOVED[change.way]}"


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
