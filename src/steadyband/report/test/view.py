"""The test in force for a sport: its edges with ranges, its age, its checks, and what it means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from steadyband.report.common.sheet import FITS
from steadyband.report.common.view import Table
from steadyband.report.common.words import (
    DASH,
    MONTHS,
    Loads,
    age_text,
    capital,
    counted,
    date_text,
    number_text,
    sentence,
    sport_word,
)
from steadyband.review.model import TestInForce
from steadyband.review.sentences import same_day_text
from steadyband.steptest.model import Edges, ZoneSet
from steadyband.steptest.sentences import zone_sentences
from steadyband.told.loads import unit_shown

SOURCES: Mapping[str, str] = {"S2": "published, see the test's page", "S3": "Beaver et al. 1985"}
EDGE_NAMES = ("floor", "target_top", "ceiling")


@dataclass(frozen=True, slots=True)
class TestView:
    """The test in force for one sport."""

    __test__ = False

    title: str
    lines: tuple[str, ...]
    checks: tuple[str, ...]
    edges: Table | None
    more: tuple[Table, ...]


def test_view(item: TestInForce) -> TestView:
    """One sport's test in words and tables."""
    zone_set = item.zone_set
    if zone_set is None:
        return TestView(capital(sport_word(item.sport)), (sentence(item.reason or "no usable test"),), (), None, ())
    title = f"{capital(sport_word(item.sport))}: test of {date_text(zone_set.test.date)}"
    return TestView(
        title=title,
        lines=tuple(test_lines(item, zone_set)),
        checks=tuple(sentence(check.text) for check in zone_set.checks),
        edges=edges_table(zone_set) if zone_set.usable else None,
        more=(steps_table(zone_set), methods_table(zone_set)),
    )


def limits_table(tests: Iterable[TestInForce], fit_by_sport: Mapping[str, str]) -> Table:
    """What the tests allow, a row a sport: easy, steady band, highest mean of a session, and whether the test still fits."""
    rows = tuple(_limits_row(item, fit_by_sport.get(item.sport, "")) for item in tests)
    head = (
        "sport",
        "easy",
        "steady band, up to the ceiling",
        "mean of a session, at most the target top",
        "the test",
    )
    return Table("What the tests allow", head, rows, words=5)


def _limits_row(item: TestInForce, fit: str) -> tuple[str, ...]:
    name = capital(sport_word(item.sport))
    if item.zone_set is None or item.age_days is None:
        return (name, DASH, DASH, DASH, sentence(item.reason or "no usable test"))
    edges, loads = item.zone_set.edges, Loads(unit_shown(item.sport, item.zone_set.test.load_unit))
    told = FITS.get(fit, item.freshness or "")
    return (
        name,
        _easy(edges, loads),
        _steady(edges, loads),
        loads.text(edges.target_top),
        f"{item.zone_set.test.date.day} {MONTHS[item.zone_set.test.date.month - 1]}, {told}",
    )


def _easy(edges: Edges, loads: Loads) -> str:
    if edges.easy_empty:
        return "none"
    return f"below {loads.text(edges.floor)}" if edges.floor is not None else "up to the last load"


def _steady(edges: Edges, loads: Loads) -> str:
    open_top = f"to at least {loads.text(edges.ceiling_at_least)}"
    top = f"to {loads.text(edges.ceiling)}" if edges.ceiling is not None else open_top
    return f"up {top}" if edges.easy_empty or edges.floor is None else f"{loads.bare(edges.floor)} {top}"


def test_lines(item: TestInForce, zone_set: ZoneSet) -> Iterable[str]:
    """Age and file, then what the zone set means."""
    if item.age_days is not None:
        freshness = f", {item.freshness}" if item.freshness else ""
        when = " at the end of the week" if item.age_days >= 0 else ""
        yield f"{capital(age_text(item.age_days))}{when}{freshness} ({zone_set.test.file})."
    if same_day := same_day_text(item):
        yield same_day
    yield from zone_sentences(zone_set)


def edges_table(zone_set: ZoneSet) -> Table:
    """Floor, target top and ceiling with their ranges and heart-rate limits."""
    share = f"{zone_set.settings.range_share * 100:.0f} % range"
    rows = tuple(edge_row(zone_set, name) for name in EDGE_NAMES)
    note = (
        f"Medians and ranges over {counted(zone_set.settings.draws, 'curve')} that the samples allow; heart rates read off the "
        "highest of each step."
    )
    return Table("Edges", ("edge", "load", share, "highest heart rate", f"its {share}"), rows, note=note)


def edge_row(zone_set: ZoneSet, name: str) -> tuple[str, str, str, str, str]:
    """(edge, load, range, heart-rate limit, its range) of one edge."""
    loads = Loads(zone_set.test.load_unit)
    span = zone_set.ranges.get(name)
    value = getattr(zone_set.edges, name)
    pulse = number_text(getattr(zone_set.hr, name), "bpm")
    text = loads.text(value) if value is not None and not _is_open(zone_set, name) else edge_text(zone_set, name)
    return (
        name.replace("_", " "),
        text,
        loads.range(span.low, span.high) if span else DASH,
        pulse,
        _beats(zone_set, name),
    )


def _is_open(zone_set: ZoneSet, name: str) -> bool:
    return name == "target_top" and zone_set.edges.target_top == zone_set.edges.ceiling_at_least


def _beats(zone_set: ZoneSet, name: str) -> str:
    span = zone_set.hr_ranges.get(name)
    if span is None or span.low is None:
        return DASH
    return (
        f"{number_text(span.low)} to {number_text(span.high, 'bpm')}"
        if span.high
        else f"from {number_text(span.low, 'bpm')}"
    )


def edge_text(zone_set: ZoneSet, name: str) -> str:
    """What to say of an edge that was not found."""
    at_least = zone_set.edges.ceiling_at_least
    if name != "floor" and at_least is not None:
        return f"at least {Loads(zone_set.test.load_unit).text(at_least)}"
    return "above the last load" if name == "floor" else DASH


def steps_table(zone_set: ZoneSet) -> Table:
    """The steps as measured, and the median curve there."""
    loads = Loads(zone_set.test.load_unit)
    rows = tuple(
        (
            f"step {number}" if number else "baseline",
            loads.text(point.load_si) if number else DASH,
            number_text(point.lactate, digits=2),
            number_text(point.fitted, digits=2),
            number_text(point.hr_max, "bpm"),
        )
        for number, point in enumerate(zone_set.curve)
    )
    return Table("The steps", ("step", "load", "lactate mmol/L", "curve mmol/L", "highest heart rate"), rows)


def methods_table(zone_set: ZoneSet) -> Table:
    """Other published readings of the same curve."""
    loads = Loads(zone_set.test.load_unit)
    rows = tuple(
        (
            item.name,
            SOURCES.get(item.source, item.source),
            loads.text(item.value) if item.value is not None else "not reached",
        )
        for item in zone_set.methods
    )
    return Table("Other published readings of the same curve", ("reading", "source", "load"), rows, words=2)
