"""The zone set as an audit reports it, and what has to be said about the test behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from steadyband.audit.model import Freshness, ZonesUsed
from steadyband.ground.said import Said
from steadyband.steptest.model import ZoneSet

if TYPE_CHECKING:
    from steadyband.steptest.choose import Choice


def usable_zones(choice: Choice) -> ZoneSet | None:
    """The chosen zone set where zones may be used at all."""
    chosen = choice.zone_set
    return chosen if chosen is not None and chosen.usable and choice.age_days is not None else None


def why_no_zones(choice: Choice) -> Said | None:
    """Why there is no usable test; None where there is one."""
    if usable_zones(choice) is not None:
        return None
    if choice.why is not None:
        return Said("no_test", {"why": choice.why.code, **choice.why.numbers})
    if choice.zone_set is not None:
        return Said("no_test", {"why": "unusable", "test": choice.zone_set.test.file})
    return Said("no_test", {"why": "none"})


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


def notes_on_test(choice: Choice, threshold: float | None) -> tuple[Said, ...]:
    """What every report has to say about the test behind these zones."""
    zones, zone_set = zones_used(choice, threshold), usable_zones(choice)
    passed_over = (choice.passed_over,) if choice.passed_over else ()
    if zones is None or zone_set is None:
        return passed_over
    low = zones.threshold is not None and zones.ceiling is not None and zones.threshold < zones.ceiling
    notes = {
        "test_named": choice.named,
        "tested_after": zones.age_days < 0 and not choice.named,
        "open_ceiling": zones.ceiling is None,
        "no_floor": zones.floor is None,
        "untested": zone_set.edges.untested,
        "easy_empty": zones.easy_empty,
        "test_aged": zones.freshness != "current",
        "test_overridden": bool(zones.override),
        "threshold_below_ceiling": low,
    }
    return (*passed_over, *(Said(code) for code, holds in notes.items() if holds))
