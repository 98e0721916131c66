"""What was planned for a week against what was done (METHOD 8)."""

from __future__ import annotations

from collections.abc import Sequence

from steadyband.athlete.model import PlanRow
from steadyband.athlete.training_plan import plan_of_week
from steadyband.review.model import PlanHours, SportHours

AT_MOST = ("heavy", "severe")
"""Bands whose planned hours are a limit; the others are what to reach."""


def against_plan(
    rows: Sequence[PlanRow], week: str, done: Sequence[SportHours], within: float
) -> tuple[PlanHours, ...]:
    """Hours planned and done for each row that applies in the week; easy and steady may miss theirs by the share `within`.

    Source: METHOD 8.
    """
    by_sport = {item.sport: item for item in done}
    return tuple(_compared(row, by_sport.get(row.sport), within) for row in plan_of_week(rows, week))


def _compared(row: PlanRow, done: SportHours | None, within: float) -> PlanHours:
    hours, at_most = _seconds(row, done) / 3600, row.band in AT_MOST
    low = -1.0 if at_most else row.hours * (1 - within)
    high = row.hours if at_most else row.hours * (1 + within)
    unknown = 0 if done is None or row.band == "total" else done.not_banded_s
    met = low - 1e-9 <= hours <= high + 1e-9
    return PlanHours(row.sport, row.band, row.hours, hours, at_most, met, unknown / 3600)


def _seconds(row: PlanRow, done: SportHours | None) -> int:
    if done is None:
        return 0
    return done.active_s if row.band == "total" else done.bands.get(row.band, 0)
