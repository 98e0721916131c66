"""The zone set as an audit reports it, and what has to be said about the test behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from steadyband.audit.model import Freshness, ZonesUsed
from steadyband.ground.units import LoadUnit, load_text
from steadyband.steptest.model import ZoneSet

if TYPE_CHECKING:
    from steadyband.steptest.choose import Choice


def usable_zones(choice: Choice) -> ZoneSet | None:
    """The chosen zone set where zones may be used at all."""
    chosen = choice.zone_set
    return chosen if chosen is not None and chosen.usable and choice.age_days is not None else None


def why_no_zones(choice: Choice) -> str | None:
    """Why there is no usable test, in a clause; None where there is one."""
    if usable_zones(choice) is not None:
        return None
    if choice.reason:
        return _as_clause(choice.reason)
    if choice.zone_set is not None:
        return f"the test {choice.zone_set.test.file} gives no usable zones"
    return "no usable test of this sport on or before this date"


def _as_clause(sentence: str) -> str:
    """A sentence made fit to follow a colon."""
    opening = sentence[:1].lower() if sentence[1:2].islower() else sentence[:1]
    return f"{opening}{sentence[1:]}".rstrip(". ")


def zones_used(choice: Choice, threshold: float | None) -> ZonesUsed | None:
    """The zone set that `choice` names, with the athlete's upper threshold [W or m/s] beside it."""
    zone_set = usable_zones(choice)
    if zone_set is None or choice.age_days is None or choice.freshness is None:
        return None
    edges, hr = zone_set.edges, zone_set.hr
    return ZonesUsed(
        test=zone_set.test.file,
        test_date=zone_set.test.date,
        age_days=choice.age_days,
        freshness=cast(Freshness, choice.freshness),
        load_unit=zone_set.test.load_unit,
        floor=edges.floor,
        target_top=edges.target_top,
        ceiling=edges.ceiling,
        ceiling_at_least=edges.ceiling_at_least,
        threshold=threshold,
        hr_floor=hr.floor,
        hr_target_top=hr.target_top,
        hr_ceiling=hr.ceiling,
        floor_range=_range(zone_set, "floor"),
        ceiling_range=_range(zone_set, "ceiling"),
        easy_empty=edges.easy_empty,
        override=zone_set.test.override if _overridden(zone_set) else None,
    )


def _range(zone_set: ZoneSet, edge: str) -> tuple[float | None, float | None]:
    found = zone_set.ranges.get(edge)
    return (found.low, found.high) if found is not None else (None, None)


def _overridden(zone_set: ZoneSet) -> bool:
    return zone_set.test.override is not None and any(check.severity == "block" for check in zone_set.checks)


def notes_on_test(zones: ZonesUsed, jumped: bool) -> tuple[str, ...]:
    """What every report has to say about the test behind these zones."""
    unit = zones.load_unit
    notes = (
        _open_ceiling(zones, unit),
        _no_floor(zones, unit),
        _jumped(jumped),
        "The test found no easy band: everything below the ceiling counts as steady." if zones.easy_empty else None,
        _aged(zones),
        f"The test's quality check was overridden by the athlete: {zones.override}" if zones.override else None,
        _low_threshold(zones, unit),
    )
    return tuple(note for note in notes if note)


def _open_ceiling(zones: ZonesUsed, unit: LoadUnit) -> str | None:
    if zones.ceiling is not None:
        return None
    least = load_text(zones.ceiling_at_least or zones.target_top, unit)
    return (
        f"The ceiling is open: the test ended at {least} before reaching it, so heavy time and surges cannot be told. "
        "Test again with further steps."
    )


def _no_floor(zones: ZonesUsed, unit: LoadUnit) -> str | None:
    if zones.floor is not None:
        return None
    return f"The floor lies above the last load tested ({load_text(zones.target_top, unit)}): the test ended too early."


def _jumped(jumped: bool) -> str | None:
    if not jumped:
        return None
    return "One step of the test jumped across the steady band: floor, target top and ceiling are untested."


def _aged(zones: ZonesUsed) -> str | None:
    if zones.freshness == "current":
        return None
    return f"The test was {zones.age_days} days old ({zones.freshness}): test again."


def _low_threshold(zones: ZonesUsed, unit: LoadUnit) -> str | None:
    if zones.threshold is None or zones.ceiling is None or zones.threshold >= zones.ceiling:
        return None
    return (
        f"The upper threshold of {load_text(zones.threshold, unit)} lies below the ceiling of "
        f"{load_text(zones.ceiling, unit)}: heavy is empty, and severe begins at the ceiling."
    )
