"""The hills of a session in tables and sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from steadyband.audit.measure.surges import telling
from steadyband.audit.model import CAUSES, HARD_INTENTS, Audit, Climb, Price, Surge, Surges
from steadyband.ground.units import (
    LoadUnit,
    brief_text,
    distance_text,
    duration_text,
    height_text,
    length_text,
    place_text,
    speed_text,
    time_of_day,
)
from steadyband.report.common.view import Table
from steadyband.report.common.words import (
    DASH,
    Loads,
    capital,
    counted,
    hour_of,
    loads_of,
    number_text,
    sentence,
    signed_text,
    verdict_label,
    zero_or_time,
)
from steadyband.report.session.marks import SYMBOLS
from steadyband.review.model import Advice
from steadyband.review.repeat_climbs import Effort, RepeatClimb, learnt_text, work_text
from steadyband.review.sentences import is_unsure
from steadyband.told.causes import BY_BIKE, ON_FOOT, WHERE, leading, listed, where_text
from steadyband.told.findings import finding_text, is_unsure_of
from steadyband.told.notes import ground_note, price_note
from steadyband.told.repeats import repeats_text

CLIMBS_TOLD = 6
"""Most climbs told in a terminal, the highest first."""
TELLING = 3
"""Most places named on a page."""


def answer_text(audit: Audit) -> str:
    """Where the band was lost, in one sentence: the head of a session's page."""
    found, verdict = audit.surges, audit.verdict
    if audit.repeats is not None:
        return f"{capital(audit.info.intent)} session: {repeats_text(audit)}"
    if verdict.in_band is None:
        return sentence(finding_text(audit, verdict.findings[0])) if verdict.findings else "Not judged."
    if found is None:
        return f"In band{_unsure(audit)}." if verdict.in_band else f"Out of band: {verdict_label(audit)}."
    if not found.count:
        return (
            f"In band{_unsure(audit)}: no surge above the ceiling."
            if verdict.in_band
            else f"Out of band: {verdict_label(audit)}."
        )
    count, where = counted(found.count, "surge"), _where_text(audit)
    if verdict.in_band:
        return f"In band{_unsure(audit)}, with {count}{where}."
    if [item.code for item in verdict.findings] == ["surges"]:
        doubt = ", though unsure" if is_unsure_of(audit, verdict.findings[0]) else ""
        return f"The band was lost in {count}{where}{doubt}."
    return f"Out of band: {verdict_label(audit)}. {count}{where}."


def is_meant_hard(audit: Audit) -> bool:
    """True for sessions that are meant to go above the ceiling: no advice on surges is given."""
    return audit.info.intent in HARD_INTENTS


def _unsure(audit: Audit) -> str:
    return " (unsure)" if is_unsure(audit) else ""


def _where_text(audit: Audit) -> str:
    found = audit.surges
    where = where_text(found, audit.settings.verdict.causes_named) if found else ""
    if found is None or not where:
        return ""
    return f": {where}" + (f"; the hill forced {found.forced} of them" if found.forced else "")


def changes(audit: Audit) -> list[Advice]:
    """What to do about it: the leading causes, the gear each forced climb needs, and what riding smooth would cost."""
    found = audit.surges
    if found is None or not found.count or is_meant_hard(audit):
        return []
    words = ON_FOOT if audit.info.sport != "cycling" else BY_BIKE
    told = [
        Advice(
            f"{capital(WHERE[cause])}: {words[cause]}.",
            _cause_text(found, cause),
        )
        for cause in leading(found, audit.settings.verdict.causes_named)
    ]
    gears = [
        Advice("A lower gear or another road.", gear_text(climb, audit.settings.terrain.steepest_m))
        for climb in audit.climbs
        if climb.forced
    ]
    return [*told, *gears[:1], *_price_advice(audit.price)]


def _cause_text(found: Surges, cause: str) -> str:
    events = [event for event in found.events if event.cause == cause]
    forced = sum(event.forced is True for event in events)
    free = sum(event.seconds_above for event in events if event.forced is not True)
    told = (
        f"{counted(len(events), 'surge')}, {brief_text(sum(event.seconds_above for event in events))} above the ceiling"
    )
    if not forced:
        return f"{told}."
    rest = len(events) - forced
    return f"{told}; the hill forced {forced}{f', the other {rest} make {brief_text(free)}' if rest else ''}."


def climb_name(climb: Climb) -> str:
    """ "1.3 km, 6.2 %"."""
    return f"{distance_text(climb.length_m)}, {100 * climb.mean_grade:.1f} %"


def gear_text(climb: Climb, over_m: float) -> str:
    """ "The climb at km 12.7 (1.3 km, 6.2 %, steepest 100 m 13.5 %) needs 39 teeth at the back with the smallest chainring."; `over_m`: the length of
    the steepest part."""
    steep = f", steepest {length_text(over_m)} {100 * climb.steepest:.1f} %" if climb.steepest is not None else ""
    head = f"The climb at {place_text(climb.start_m)} ({climb_name(climb)}{steep})"
    if climb.too_steep:
        return f"{head} is too steep for the band in any gear: walk it or take another road."
    if climb.gear_cog is None:
        return f"{head} can be ridden inside the band in the lowest gear."
    return (
        f"{head} needs a sprocket of {climb.gear_cog} teeth with your smallest chainring to stay inside the band; where none "
        "fits your bike, take another road."
    )


def _price_advice(price: Price | None) -> list[Advice]:
    if price is None or price.seconds_lost is None:
        return []
    return [
        Advice(
            "Riding smooth would have cost little." if (price.share_lost or 0) < 0.02 else "The price.",
            price_text(price),
        )
    ]


def price_text(price: Price) -> str:
    """ "Without the 27 avoidable surges the ride would have taken 43 s longer (give or take 4 s, 0.6 %), …"."""
    if price.seconds_lost is None:
        return f"The price of riding smooth is not shown. {price_note(price)}"
    lost, error = price.seconds_lost, price.seconds_error or 0.0
    each = lost / price.surges_saved
    return (
        f"With the {counted(price.surges_saved, 'avoidable surge')} clipped at the ceiling the ride would have taken "
        f"{brief_text(lost)} longer, give or take {brief_text(error)}: {100 * (price.share_lost or 0):.1f} % of its moving time, "
        f"{each:.1f} s a surge. {price_note(price)}"
    )


def ground_lines(audit: Audit) -> list[str]:
    """What can be held on a hill, and what is not known."""
    ground, lines = audit.ground, []
    if ground is None:
        return []
    ceiling = loads_of(audit).text(audit.zones.ceiling if audit.zones else None)
    if ground.steepest_in_band is not None and ground.slowest_mps is not None:
        lines.append(
            f"In your lowest gear, at {audit.settings.terrain.cadence_floor:g} turns a minute ({speed_text(ground.slowest_mps)}), {100 * ground.steepest_in_band:.1f} % is the "
            f"steepest grade you can ride under the ceiling of {ceiling}."
        )
    if ground.walk_up_to is not None:
        lines.append(_walk_text(ground.run_up_to, ground.walk_up_to, audit))
    missing = ground_note(audit)
    if missing:
        lines.append(sentence(missing))
    if audit.price is not None and audit.price.seconds_lost is None and not is_meant_hard(audit):
        lines.append(price_text(audit.price))
    return lines


def _walk_text(run: float | None, walk: float, audit: Audit) -> str:
    terrain = audit.settings.terrain
    steep = f"Uphill steeper than {100 * run:.0f} %" if run is not None else "Even on the flat"
    return (
        f"{steep} the slowest run ({speed_text(terrain.slow_run_mps)}) is over the ceiling: walking may be the only way to stay in the band, "
        f"up to about {100 * walk:.0f} % at {speed_text(terrain.walk_mps)} (published cost of walking and running, Minetti et al. 2002)."
    )


def hill_lines(audit: Audit) -> list[str]:
    """The hills of a session for a terminal: telling places, climbs, what can be held, and the price of riding smooth."""
    places = [f"{when}: {what}." for when, what in place_lines(audit)]
    climbs = [_climb_text(audit, climb) for climb in sorted(audit.climbs, key=lambda one: -one.height_m)[:CLIMBS_TOLD]]
    more = len(audit.climbs) - len(climbs)
    rest = [f"And {counted(more, 'lower climb')}."] if more > 0 else []
    priced = audit.price is not None and audit.price.seconds_lost is not None and not is_meant_hard(audit)
    price = [price_text(audit.price)] if audit.price is not None and priced else []
    return [*places, *climbs, *rest, *ground_lines(audit), *price]


def _climb_text(audit: Audit, climb: Climb) -> str:
    load = "" if climb.mean_load is None else f", {loads_of(audit).text(climb.mean_load)}"
    surges = (
        f", {counted(climb.surges, 'surge')}, {brief_text(climb.seconds_above)} above the ceiling"
        if audit.surges
        else ""
    )
    gear = f"; for the band {gear_cell(climb)}" if climb.gear_cog or climb.too_steep else ""
    return f"Climb at {place_text(climb.start_m)} ({climb_name(climb)}): {duration_text(climb.seconds)}{load}{surges}{gear}."


def place_lines(audit: Audit) -> list[tuple[str, str]]:
    """(time and place, what) of the most telling surges."""
    if audit.surges is None or is_meant_hard(audit):
        return []
    return [(_when(audit, event), _what(audit, event)) for event in telling(audit.surges, TELLING)]


def _when(audit: Audit, event: Surge) -> str:
    return hour_of(audit, event.start_s) + ("" if event.at_m is None else f", {place_text(event.at_m)}")


def _what(audit: Audit, event: Surge) -> str:
    grade = "" if event.grade is None else f" at {signed_text(100 * event.grade, '%')}"
    forced = {True: "; forced by the hill", False: "; avoidable", None: ""}[event.forced]
    where = event.cause if event.cause != "unknown" else "surge"
    highest = loads_of(audit).text(event.highest)
    return f"{where}{grade}: {brief_text(event.seconds_above)} above the ceiling, highest {highest}{forced}"


def key_items(audit: Audit) -> list[tuple[str, str]]:
    """(sign, what) of the marks in the figures."""
    if audit.surges is None:
        return []
    shown = [(SYMBOLS[cause][2], cause) for cause in CAUSES if audit.surges.by_cause.get(cause)]
    return [*shown, ("●", "filled: forced by the hill")] if audit.surges.forced else shown


def causes_table(audit: Audit) -> Table | None:
    """Surges by cause: count, seconds above, forced."""
    found = audit.surges
    if found is None or not found.count:
        return None
    rows = tuple(_cause_row(audit, cause) for cause in CAUSES if found.by_cause.get(cause))
    return Table(
        "Where the surges came from", ("where", "surges", "above the ceiling", "forced by the hill", "avoidable"), rows
    )


def _cause_row(audit: Audit, cause: str) -> tuple[str, ...]:
    found = audit.surges
    events = [event for event in found.events if event.cause == cause] if found else []
    known = [event.forced for event in events if event.forced is not None]
    forced, avoidable = (str(sum(known)), str(len(known) - sum(known))) if known else (DASH, DASH)
    return (
        f"{SYMBOLS[cause][2]} {cause}",
        str(len(events)),
        brief_text(sum(event.seconds_above for event in events)),
        forced,
        avoidable,
    )


def climbs_table(audit: Audit) -> Table | None:
    """Every climb with what was done on it and the gear it needs."""
    if not audit.climbs:
        return None
    on_foot = audit.info.sport != "cycling"
    last = "walked" if on_foot else "gear for the band"
    head = (
        "begins at",
        "length",
        "height",
        "mean",
        f"steepest {length_text(audit.settings.terrain.steepest_m)}",
        "time",
        "mean load",
        "surges",
        "above the ceiling",
        last,
    )
    return Table(
        f"Climbs ({len(audit.climbs)})", head, tuple(_climb_row(audit, climb, on_foot) for climb in audit.climbs)
    )


def _climb_row(audit: Audit, climb: Climb, on_foot: bool) -> tuple[str, ...]:
    return (
        f"{place_text(climb.start_m)}, {hour_of(audit, climb.start_s)}",
        length_text(climb.length_m, 2),
        height_text(climb.height_m),
        number_text(100 * climb.mean_grade, "%", 1),
        number_text(None if climb.steepest is None else 100 * climb.steepest, "%", 1),
        brief_text(climb.seconds),
        loads_of(audit).text(climb.mean_load),
        DASH if audit.surges is None else str(climb.surges) + (f" ({climb.forced} forced)" if climb.forced else ""),
        DASH if audit.surges is None else brief_text(climb.seconds_above),
        zero_or_time(climb.walked_s or 0) if on_foot else gear_cell(climb),
    )


def gear_cell(climb: Climb) -> str:
    """The gear a climb needs, for a table."""
    if climb.too_steep is None:
        return DASH
    if climb.too_steep:
        return "none: too steep"
    return f"{climb.gear_cog} teeth or more" if climb.gear_cog else "yours will do"


def repeats_table(climb: RepeatClimb, speed: LoadUnit | Literal["bpm"] = "km/h") -> Table:
    """The efforts on one climb over the weeks, each load in its own unit, speeds in `speed`; a dash where nothing was measured."""
    rows = tuple(
        (
            f"{effort.start:%a %-d %b %Y}, {time_of_day(effort.start)}",
            brief_text(effort.climb.seconds),
            effort_load(effort, speed),
            DASH if effort.above is None else str(effort.climb.surges),
            DASH if effort.above is None else brief_text(effort.climb.seconds_above),
            _give_or_take(effort),
        )
        for effort in climb.efforts
    )
    head = ("when", "time", "mean load", "surges", "above the ceiling", "work above it")
    return Table(f"Climb {climb.number}: {climb.name}", head, rows, note=learnt_text(climb))


def effort_load(effort: Effort, speed: LoadUnit | Literal["bpm"]) -> str:
    """The mean load of one effort in the unit it was measured in; a dash where it was not.

    >>> from datetime import datetime
    >>> ride = Effort(datetime(2026, 5, 2), "ride.fit", Climb(0, 900, 50, 0.055, 2, 20, mean_load=148.0), "W")
    >>> effort_load(ride, "km/h")
    '148 W'
    """
    units: dict[str, LoadUnit | Literal["bpm"]] = {"W": "W", "bpm": "bpm", "m/s": speed}
    return Loads(units[effort.unit]).text(effort.climb.mean_load) if effort.unit in units else DASH


def _give_or_take(effort: Effort) -> str:
    """ "2.1 kJ ± 0.4 kJ": work above the ceiling and its standard deviation by scatter."""
    if effort.above is None:
        return DASH
    return f"{work_text(effort.above.above_s, effort)} ± {work_text(effort.above.scatter_s, effort)}"


def repeat_head(climb: RepeatClimb, audit: Audit) -> str:
    """ "1.9 km at 5.1 %, from km 2.0 and km 24.3": a climb named by where this session began it."""
    places = [place_text(one.climb.start_m) for one in climb.efforts if one.file == audit.info.file]
    return f"{climb.name}, from {listed(list(dict.fromkeys(places)))}" if places else climb.name


def repeats_here(audit: Audit, found: Sequence[RepeatClimb]) -> list[RepeatClimb]:
    """The repeat climbs that this session rode."""
    return [climb for climb in found if any(effort.file == audit.info.file for effort in climb.efforts)]
