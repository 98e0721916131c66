"""The zone card in words and numbers: what an athlete takes to the bike and the road."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from steadyband.ground.reader import reader
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit, pace_unit, speed_text, speed_unit
from steadyband.report.common.words import Loads, age_text, capital, date_text, number_text, sentence, sport_word
from steadyband.steptest.choose import Choice, choose
from steadyband.steptest.model import ZoneSet

NO_EASY_RUNNING = (
    "No easy running: every run is at least steady. Put easy volume on the bike or on walking, and count each run as a "
    "steady session."
)
BORDER = (
    "Strictly, physiology puts the border between moderate and heavy at the floor, the first rise itself; this steady band "
    "reaches above it, as practice does."
)
UNTESTED = (
    "No step of the test lay inside the steady band: its edges are read off the curve between two steps. Test again with "
    "smaller steps around it."
)
CARD_CAUTIONS = (
    "Chest pain, fainting or unusual breathlessness end the session: stop and get help.",
    "With symptoms, a known heart, metabolic or kidney disease, after illness, or new to hard exercise: ask your physician "
    "before training or testing by this card.",
    "Ill, very hot, high up or badly slept: heart rate reads high; go by feel and by the lower end.",
    "A card is no diagnosis and no substitute for a licensed professional; local rules come first.",
)
SPORT_ORDER = ("cycling", "running")


@dataclass(frozen=True, slots=True)
class CardRow:
    """One line of the card: what, the load (by foot the pace, and beside it the treadmill speed), heart rate, a few words."""

    name: str
    load: str
    also: str
    pulse: str
    note: str


@dataclass(frozen=True, slots=True)
class CardBar:
    """The bands as a bar: widths in percent, and what stands at floor and ceiling."""

    easy: float
    steady: float
    heavy: float
    floor: str
    ceiling: str


@dataclass(frozen=True, slots=True)
class CardColumn:
    """One sport of the card. `alarms` are statements that must not be overlooked."""

    title: str
    test: str
    alarms: tuple[str, ...]
    bar: CardBar | None
    rows: tuple[CardRow, ...]
    ranges: str
    retest: str
    notes: tuple[str, ...]


def card_columns(zone_sets: Sequence[ZoneSet], on: date, settings: StepTestSettings) -> tuple[CardColumn, ...]:
    """A column for every sport with a test on or before `on`, bike first, in the units of the reader."""
    sports = sorted({item.test.sport for item in zone_sets}, key=lambda sport: (sport not in SPORT_ORDER, sport))
    return tuple(_column(choose(zone_sets, sport, on, settings), sport, settings) for sport in sports)


def card_load(low: float | None, unit: LoadUnit, high: float | None = None) -> tuple[str, str]:
    """One load or a span as the card shows it: ("145 to 160 W", ""), or pace and treadmill speed."""
    top = low if high is None else high
    if unit == "W":
        return Loads("W").range(low, top), ""
    speeds = [speed_text(value or 0.0) for value in (low, top)]
    first = speeds[0].removesuffix(f" {speed_unit()}")
    return Loads(pace_unit()).range(low, top), f"{first} to {speeds[1]}" if speeds[0] != speeds[1] else speeds[1]


def retest_text(tested: date, settings: StepTestSettings) -> str:
    """When to test again, and from when on the card is stale."""
    soon, late = (tested + timedelta(days=days) for days in (settings.ageing_days, settings.stale_days))
    return (
        f"Test again around {date_text(soon)} ({settings.ageing_days} days); after {date_text(late)} "
        f"({settings.stale_days} days) this card is stale."
    )


def _column(choice: Choice, sport: str, settings: StepTestSettings) -> CardColumn:
    title, zone_set = capital(sport_word(sport)), choice.zone_set
    if zone_set is None:
        return CardColumn(title, "", (sentence(choice.reason or "no usable test"),), None, (), "", "", ())
    test = zone_set.test
    age = age_text(choice.age_days or 0)
    fresh = "" if choice.freshness == "current" else f": {choice.freshness}"
    return CardColumn(
        title=title,
        test=f"Test of {date_text(test.date)}, {test.state} ({test.file}), {age}{fresh}",
        alarms=tuple(_alarms(zone_set, choice)),
        bar=_bar(zone_set),
        rows=tuple(_rows(zone_set)),
        ranges=_ranges(zone_set),
        retest=retest_text(test.date, settings),
        notes=tuple(_notes(zone_set)),
    )


def _alarms(zone_set: ZoneSet, choice: Choice) -> Iterator[str]:
    test, edges = zone_set.test, zone_set.edges
    if test.override:
        yield f"This test failed a check and is used all the same, because: {sentence(test.override)}"
    if edges.easy_empty:
        no_easy = "No easy band was found: lactate was up from the first step on. Start the next test easier."
        yield NO_EASY_RUNNING if test.sport == "running" else no_easy
    if edges.floor is None:
        yield "The test ended before a clear rise: floor and ceiling lie above the last load. Test again and go further."
    if edges.untested:
        yield UNTESTED
    if choice.freshness not in (None, "current"):
        yield f"This test is {choice.freshness}: test again before trusting the card."
    if choice.note:
        yield sentence(choice.note)


def _rows(zone_set: ZoneSet) -> Iterator[CardRow]:
    edges, hr, unit = zone_set.edges, zone_set.hr, zone_set.test.load_unit
    if edges.floor is None:
        last, also = card_load(edges.ceiling_at_least, unit)
        yield CardRow("easy", f"up to {last}", also, "", "the last load tested; more was not found")
        return
    yield _easy_row(zone_set)
    target, also = card_load(edges.floor, unit, edges.target_top)
    pulse = _between(hr.floor, hr.target_top)
    yield CardRow("target", target, also, pulse, "steady: the average of a session belongs in the lower three quarters")
    if edges.ceiling is None:
        at_least, also = card_load(edges.ceiling_at_least, unit)
        yield CardRow(
            "ceiling", f"open, at least {at_least}", also, "", "the test ended before it: test again and go further"
        )
        return
    ceiling, also = card_load(edges.ceiling, unit)
    yield CardRow("ceiling", ceiling, also, _up_to(hr.ceiling), "single moments may touch it; beyond is heavy, zone 3")


def _easy_row(zone_set: ZoneSet) -> CardRow:
    test, edges = zone_set.test, zone_set.edges
    if not edges.easy_empty:
        floor, also = card_load(edges.floor, test.load_unit)
        below = "below" if test.load_unit == "W" else "slower than"
        return CardRow("easy", f"{below} {floor}", also, _under(zone_set.hr.floor), "")
    if test.sport != "running":
        return CardRow("easy", "none found", "", "", "every session is at least steady")
    walked = [step.load_si for step in test.steps if step.gait == "walk" and step.load_si < (edges.floor or 0.0)]
    note = f"was easy up to {card_load(walked[-1], test.load_unit)[1]}" if walked and test.load_unit != "W" else ""
    return CardRow("easy", "walking only", "", "", note)


def _under(bpm: float | None) -> str:
    return f"under {number_text(bpm, 'bpm')}" if bpm is not None else ""


def _up_to(bpm: float | None) -> str:
    return f"up to {number_text(bpm, 'bpm')}" if bpm is not None else ""


def _between(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return ""
    return f"{number_text(low)} to {number_text(high, 'bpm')}"


def _loads(zone_set: ZoneSet) -> Loads:
    unit = zone_set.test.load_unit
    return Loads(pace_unit() if unit == "km/h" and reader().units == "miles" else unit)


def _ranges(zone_set: ZoneSet) -> str:
    if zone_set.edges.floor is None:
        return ""
    loads, share = _loads(zone_set), f"{zone_set.settings.range_share * 100:.0f} %"
    parts = [
        f"{name} {loads.range(span.low, span.high)}"
        for name in ("floor", "ceiling")
        if (span := zone_set.ranges.get(name))
    ]
    return f"How sure ({share} ranges): {'; '.join(parts)}."


def _notes(zone_set: ZoneSet) -> Iterator[str]:
    if zone_set.edges.floor is not None:
        yield "Heart-rate limits are the highest of the session, not its average; heart rate cannot see short surges."
        yield BORDER
    if zone_set.test.load_unit != "W" and zone_set.edges.floor is not None:
        yield "Speeds are for the flat: uphill go by effort or heart rate."


def _bar(zone_set: ZoneSet) -> CardBar | None:
    edges, loads = zone_set.edges, _loads(zone_set)
    if edges.floor is None:
        return None
    low = zone_set.test.steps[0].load_si * 0.8
    top = max(zone_set.test.steps[-1].load_si, edges.ceiling or 0.0)
    high = top + 0.12 * (top - low)
    ceiling = edges.ceiling if edges.ceiling is not None else high
    easy = 0.0 if edges.easy_empty else 100 * (edges.floor - low) / (high - low)
    whole = high - edges.floor if edges.easy_empty else high - low
    steady = 100 * (ceiling - edges.floor) / whole
    heavy = 100 - easy - steady if edges.ceiling is not None else 0.0
    ceiling_text = loads.text(edges.ceiling) if edges.ceiling is not None else "open"
    return CardBar(round(easy, 2), round(steady, 2), round(heavy, 2), loads.text(edges.floor), ceiling_text)
