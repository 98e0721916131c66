"""What a zone set means, in plain sentences for the terminal, the report and the zone card."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from steadyband.ground.units import LoadUnit, load_text, shown_unit
from steadyband.steptest.model import EdgeRange, ZoneSet


def zone_sentences(zone_set: ZoneSet) -> tuple[str, ...]:
    """One plain sentence each on easy, steady, what to keep below, how sure, how far the methods disagree, and the border.

    A blocked test gives only the reason and what to do; an overridden one says so first.
    """
    blocks = " ".join(check.text for check in zone_set.checks if check.severity == "block")
    if not zone_set.usable:
        way_out = 'To use it all the same, write override = "reason" into the test file; every report then says so.'
        return (f"No zones come from this test. {blocks} {way_out}",)
    return (
        *_override(zone_set, blocks),
        easy_sentence(zone_set),
        steady_sentence(zone_set),
        keep_below_sentence(zone_set),
        sure_sentence(zone_set),
        *_stood_up(zone_set),
        methods_sentence(zone_set),
        *_border(zone_set),
        *_flat_equivalent(zone_set),
    )


def easy_sentence(zone_set: ZoneSet) -> str:
    """Where easy ends."""
    edges, unit = zone_set.edges, zone_set.test.load_unit
    if edges.easy_empty:
        return _no_easy(zone_set)
    if edges.floor is None:
        last = load_text(edges.ceiling_at_least, unit)
        return f"Easy: all of this test was easy, up to {last}, its last load; where easy ends was not found."
    return f"Easy: everything {_below(edges.floor, unit)}{_beats('under', zone_set.hr.floor)}."


def steady_sentence(zone_set: ZoneSet) -> str:
    """From where to where the steady band goes, and where a session's average belongs."""
    edges, unit = zone_set.edges, zone_set.test.load_unit
    if edges.floor is None:
        last = load_text(edges.ceiling_at_least, unit)
        return f"Steady: not found, it begins {_above(edges.ceiling_at_least, unit)}. Test again and go beyond {last}."
    average = _average(zone_set)
    if edges.ceiling is None:
        last = load_text(edges.ceiling_at_least, unit)
        return f"Steady: from {load_text(edges.floor, unit)}; {average}. {last} was the last load, so the upper end is open."
    band = _span(edges.floor, edges.ceiling, unit)
    if edges.untested:
        return f"Steady: about {band}, but no step was in it; {average}, and test again with smaller steps around it."
    return f"Steady: {band}; {average}."


def keep_below_sentence(zone_set: ZoneSet) -> str:
    """What even single moments stay below."""
    edges, unit = zone_set.edges, zone_set.test.load_unit
    if edges.ceiling is None:
        last = load_text(edges.ceiling_at_least, unit)
        return f"Keep below: not known, because the ceiling was not reached; it is at least {last}."
    ceiling = load_text(edges.ceiling, unit)
    beats = _beats("about", zone_set.hr.ceiling)
    if _is_pace(unit):
        return f"Keep slower than: {ceiling}{beats}. Single moments may touch it; anything faster is heavy."
    return f"Keep below: {ceiling}{beats}. Single moments may touch it; anything above is heavy."


def sure_sentence(zone_set: ZoneSet) -> str:
    """The ranges of floor and ceiling, and whether that is unsure."""
    unit, settings = zone_set.test.load_unit, zone_set.settings
    floor, ceiling = (_range_text(zone_set, name, unit) for name in ("floor", "ceiling"))
    text = (
        f"How sure: by the scatter of these samples the floor lies {floor} and the ceiling {ceiling} "
        f"({settings.range_share:.0%} ranges).".replace("%", " %")
    )
    doubt = _doubt(zone_set)
    return f"{text} {doubt}" if doubt else text


def _stood_up(zone_set: ZoneSet) -> Iterator[str]:
    """The step that the trade would read by eye."""
    number = zone_set.edges.first_rise
    if number is not None:
        step = zone_set.test.steps[number - 1]
        yield f"By eye: step {number} ({load_text(step.load_si, zone_set.test.load_unit)}) is the first that stands up from the flat part."


def methods_sentence(zone_set: ZoneSet) -> str:
    """How far the other published readings lie apart."""
    unit = zone_set.test.load_unit
    found = sorted((item.value, item.name) for item in zone_set.methods if item.value is not None)
    if not found:
        return "How far the methods disagree: none of the other published readings was reached in this test."
    (low, low_name), (high, high_name) = found[0], found[-1]
    if len(found) == 1:
        return f"How far the methods disagree: only one other published reading was reached, {low_name} at {load_text(low, unit)}."
    return (
        f"How far the methods disagree: other published readings of the same curve go from {load_text(low, unit)} "
        f"({low_name}) to {load_text(high, unit)} ({high_name})."
    )


def override_note(zone_set: ZoneSet) -> str | None:
    """One sentence for every page that uses an overridden test, with the reason given; None for any other test."""
    test = zone_set.test
    if test.override is None:
        return None
    return f'The {test.sport} test of {test.date.isoformat()} is used by override, for the reason given: "{test.override}".'


def overrides_of(zone_sets: Iterable[ZoneSet]) -> tuple[str, ...]:
    """The override notes of some tests."""
    return tuple(note for note in map(override_note, zone_sets) if note)


def _override(zone_set: ZoneSet, blocks: str) -> Iterator[str]:
    reason = zone_set.test.override
    if reason and blocks:
        yield f'Overridden: this test is used although a check blocks it. {blocks} Reason given: "{reason}".'
    elif reason:
        yield f'An override is set ("{reason}"), though no check blocks this test.'


def _no_easy(zone_set: ZoneSet) -> str:
    test = zone_set.test
    if test.sport != "running":
        first_load = load_text(test.steps[0].load_si, test.load_unit)
        return f"Easy: none was found, because lactate was already up at {first_load}, the first step. Start the next test easier."
    text = "Easy: there is no easy running, every run is at least steady; put easy volume on the bike or on walking."
    walked = [step for step in test.steps if step.gait == "walk" and step.load_si < (zone_set.edges.floor or 0.0)]
    return f"{text} Walking was easy up to {load_text(walked[-1].load_si, test.load_unit)}." if walked else text


def _average(zone_set: ZoneSet) -> str:
    edges, unit, hr = zone_set.edges, zone_set.test.load_unit, zone_set.hr
    low = edges.floor or 0.0
    beats = ""
    if hr.floor is not None and hr.target_top is not None:
        beats = f" (heart rate about {hr.floor:.0f} to {hr.target_top:.0f} bpm)"
    return f"keep the average of a session {_between(low, edges.target_top, unit)}{beats}, in the lower three quarters of that"


def _range_text(zone_set: ZoneSet, name: str, unit: LoadUnit) -> str:
    spread: EdgeRange = zone_set.ranges[name]
    last = zone_set.test.steps[-1].load_si
    if spread.low is None:
        return f"{_above(last, unit)}, the last load"
    if spread.high is None:
        return _above(spread.low, unit)
    return _between(spread.low, spread.high, unit)


def _doubt(zone_set: ZoneSet) -> str:
    floor, ceiling = zone_set.ranges["floor"], zone_set.ranges["ceiling"]
    overlap = floor.high is not None and ceiling.low is not None and floor.high > ceiling.low
    if overlap or (floor.high is None and zone_set.edges.floor is not None):
        return "That is unsure: the two ranges overlap. Smaller steps and two samples a step would narrow them."
    return ""


def _border(zone_set: ZoneSet) -> Iterator[str]:
    floor, unit = zone_set.edges.floor, zone_set.test.load_unit
    where = "at or below" if zone_set.edges.easy_empty else "about"
    if floor is not None:
        yield (
            "Strictly, exercise science draws the line between moderate and heavy at the first rise itself, here "
            f"{where} {load_text(floor, unit)}; the steady band is what practice trains just above that line."
        )


def _flat_equivalent(zone_set: ZoneSet) -> Iterator[str]:
    test = zone_set.test
    if test.load_unit != "W" and any(step.incline_percent for step in test.steps):
        yield "Speeds here are flat-equivalent: the speed on the flat that costs as much as the step did on its incline."


def _is_pace(unit: LoadUnit) -> bool:
    return unit in ("min/km", "min/mile")


def _below(load_si: float, unit: LoadUnit) -> str:
    return f"{'slower than' if _is_pace(unit) else 'below'} {load_text(load_si, unit)}"


def _above(load_si: float | None, unit: LoadUnit) -> str:
    return f"{'faster than' if _is_pace(unit) else 'above'} {load_text(load_si, unit)}"


def _span(low: float, high: float, unit: LoadUnit) -> str:
    """ "145 to 160 W"; a pace span runs from slower to faster."""
    first = load_text(low, unit).removesuffix(f" {shown_unit(unit)}")
    return f"{first} to {load_text(high, unit)}"


def _between(low: float, high: float, unit: LoadUnit) -> str:
    """ "between 145 and 160 W", or "at 145 W" where both read the same."""
    first, last = load_text(low, unit), load_text(high, unit)
    return f"at {last}" if first == last else f"between {first.removesuffix(f' {shown_unit(unit)}')} and {last}"


def _beats(word: str, bpm: float | None) -> str:
    return "" if bpm is None else f" (heart rate {word} {bpm:.0f} bpm)"
