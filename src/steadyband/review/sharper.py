"""What a better test would settle: the edge that doubtful verdicts hang on, how far it may lie, and how a new test would narrow it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

from steadyband.audit.model import Audit
from steadyband.ground.units import load_text
from steadyband.review.model import TestInForce
from steadyband.steptest.dialogue.designs import Design, expected_widths, likely_after
from steadyband.steptest.model import ZoneSet
from steadyband.told.findings import is_unsure_of

FLOOR_FINDINGS = ("too_low", "steady_in_easy", "no_easy_band")
"""Findings that hang on the floor; all others hang on the ceiling."""
WORTH = 0.95
"""A new test is told to narrow a range where it leaves at most this much of it (design choice)."""


def is_doubtful(audit: Audit) -> bool:
    """True where the verdict, or one of its findings, holds for fewer of the test's curves than count as sure."""
    agreement = audit.verdict.agreement
    unsure = agreement is not None and agreement < audit.settings.verdict.unsure_below
    return unsure or any(is_unsure_of(audit, found) for found in audit.verdict.findings)


def edge_of(audit: Audit) -> str:
    """The edge that a doubtful verdict hangs on: "floor" or "ceiling"."""
    doubtful = [found for found in audit.verdict.findings if is_unsure_of(audit, found)] or audit.verdict.findings
    if doubtful:
        return "floor" if doubtful[0].code in FLOOR_FINDINGS else "ceiling"
    zones, load = audit.zones, audit.load
    if zones is None or load is None or load.mean is None or zones.floor is None or zones.ceiling is None:
        return "ceiling"
    return "floor" if abs(load.mean - zones.floor) < abs(load.mean - zones.ceiling) else "ceiling"


def settled_text(item: TestInForce, doubtful: Sequence[Audit]) -> str:
    """Where the edges lie that these verdicts hang on, and what a test with more or closer samples is expected to make of it."""
    zones = item.zone_set
    if zones is None:
        return ""
    edges = sorted({edge_of(audit) for audit in doubtful}, reverse=True)
    known = [(edge, ends) for edge in edges if (ends := _ends(zones, edge)) is not None]
    if not known:
        return "A test that goes on until the ceiling is passed would settle it."
    unit = zones.test.load_unit
    told = " and ".join(
        f"the {edge} from {load_text(low, unit)} to {load_text(high, unit)}" for edge, (low, high) in known
    )
    return (
        f"By the scatter of its samples the test of {zones.test.date:%-d %B} has {told}. {_narrowed(zones, known[0])}"
    )


def _ends(zones: ZoneSet, edge: str) -> tuple[float, float] | None:
    found = zones.ranges.get(edge)
    if found is None or found.low is None or found.high is None:
        return None
    return found.low, found.high


def _narrowed(zones: ZoneSet, edge: tuple[str, tuple[float, float]]) -> str:
    name = edge[0]
    now = _design(zones)
    better, how = _better(now)
    likely = likely_after(zones)
    if likely is None:
        return f"A test with {how} would narrow that."
    at = 0 if name == "floor" else 1
    widths = [expected_widths(one, likely, zones.test.analyser_sd, zones.settings)[at] for one in (now, better)]
    left = widths[1] / widths[0]
    if left > WORTH:
        return f"A test with {how} would hardly narrow that: those sessions lay on the border itself."
    share = f"about {100 * (1 - left):.0f} %"
    return f"A test with {how} is expected to make the range of the {name} {share} narrower (`steadyband plan-test --from-test`)."


def _design(zones: ZoneSet) -> Design:
    """The test as it was done: first load, usual step height, steps, samples a step, minutes."""
    steps = zones.test.steps
    height = median(after.load_si - before.load_si for before, after in pairwise(steps))
    samples = round(median(len(step.samples) for step in steps))
    return Design(steps[0].load_si, height, len(steps) + 2, max(1, samples), zones.test.step_minutes)


def _better(now: Design) -> tuple[Design, str]:
    """The same with one sample a step more, from three on with steps half as high."""
    if now.samples > len(COUNTS) - 2:
        return replace(now, height=now.height / 2, most=2 * now.most), "steps half as high"
    return replace(
        now, samples=now.samples + 1
    ), f"{COUNTS[now.samples + 1]} samples a step instead of {COUNTS[now.samples]}"


COUNTS = ("no", "one", "two", "three")
