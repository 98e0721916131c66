"""Block drift, trends and the check of the test in sentences, each standing on its numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import numpy as np

from steadyband.athlete.condensed import Condensed
from steadyband.audit.model import Audit, Channel
from steadyband.ground.units import day_words, load_text
from steadyband.review.block_drift import Creep, DriftChart, LevelTrend
from steadyband.review.fit_of_test import TestFit
from steadyband.review.model import Advice, Background

BY_HEART = " (by heart rate)"
HOLD_OR_TEST = "Decide: hold the next block at the earlier level, or test again if you feel you have become fitter."


def sport_words(sport: str) -> str:
    """The sport at the start of a sentence."""
    return sport.replace("_", " ").capitalize()


def series_words(sport: str, channel: Channel) -> str:
    """The sport at the start of a sentence, and that heart rate stands in for the load where it does."""
    return sport_words(sport) + (BY_HEART if channel == "heart_rate" else "")


def span_words(first: date, last: date) -> str:
    """ "20 April to 17 May 2026", the year twice where it changes."""
    start = f"{first:%-d %B}" if first.year == last.year else f"{first:%-d %B %Y}"
    return f"{start} to {last:%-d %B %Y}"


def week_words(day: date) -> str:
    """ "week 18"."""
    return f"week {day.isocalendar().week}"


def level_text(audit: Audit, level: float) -> str:
    """A level over the target top as the load it stands for."""
    if audit.zones is None or audit.load is None:
        return f"{100 * level:.0f} %"
    if audit.load.channel == "heart_rate":
        return f"{level * (audit.zones.hr_target_top or 0):.0f} bpm"
    return load_text(level * audit.zones.target_top, audit.zones.load_unit)


def _levels(audit: Audit, before: float, since: float) -> str:
    loads = f"{level_text(audit, before)} to {level_text(audit, since)}"
    return f"from {100 * before:.0f} to {100 * since:.0f} % of the target top ({loads})"


def creep_text(creep: Creep) -> str:
    """A signal of the chart: since when, from where to where, and the sum behind it."""
    moved = "crept up" if creep.side == "up" else "come down"
    began, raised = creep.began, creep.raised
    return (
        f"The mean load has {moved} since {day_words(began.day)} ({week_words(began.day)}), over {creep.sessions} "
        f"sessions: {_levels(began.audit, creep.level_before, creep.level_since)}. The chart told it on "
        f"{day_words(raised.day)}: sum {creep.total:.3f}, limit {creep.limit:.3f}."
    )


def creep_advice(creep: Creep) -> Advice:
    """A signal as something to look at."""
    sport = series_words(creep.began.audit.info.sport, _channel(creep.began))
    head = f"{sport} crept up." if creep.side == "up" else f"{sport} came down."
    numbers = {"level_before": creep.level_before, "level_since": creep.level_since, "sum": creep.total,
               "limit": creep.limit, "sessions": creep.sessions}  # fmt: skip
    return Advice(head, creep_text(creep), numbers)


def _channel(item: Condensed) -> Channel:
    return item.audit.load.channel if item.audit.load else "power"


def trend_text(trend: LevelTrend) -> str:
    """The trend among the sessions that held the band, with its interval; says so where there is none."""
    last = trend.sessions[-1]
    count, days = len(trend.sessions), (last.day - trend.sessions[0].day).days
    interval = f"{100 * trend.low:+.1f} to {100 * trend.high:+.1f}"
    if not trend.raised:
        return (
            f"The {count} sessions that held the band show no clear rise over {days} days: {100 * trend.per_week:+.1f} % of "
            f"the target top a week (95 % interval {interval})."
        )
    return (
        f"The {count} sessions that held the band rise together, {_levels(last.audit, trend.first_level, trend.last_level)} "
        f"in {days} days: {100 * trend.per_week:+.1f} % a week (95 % interval {interval}). Each was in the band; together "
        f"they creep towards its top, highest in {week_words(_highest(trend).day)}."
    )


def _highest(trend: LevelTrend) -> Condensed:
    levels = [item.audit.load.mean if item.audit.load else 0.0 for item in trend.sessions]
    return trend.sessions[int(np.argmax(levels))]


def creep_advices(behind: Background) -> tuple[Advice, ...]:
    """Everything that crept, as things to look at."""
    return (
        *(creep_advice(creep) for creep in behind.creeps),
        *(trend_advice(trend) for trend in behind.trends if trend.raised),
    )


def trend_advice(trend: LevelTrend) -> Advice:
    """A trend that was raised as something to look at."""
    numbers = {"per_week": trend.per_week, "low": trend.low, "high": trend.high, "rise": trend.rise,
               "sessions": len(trend.sessions)}  # fmt: skip
    return Advice(
        f"{series_words(trend.sport, trend.channel)} is creeping up.", f"{trend_text(trend)} {HOLD_OR_TEST}", numbers
    )


def drift_notes(charts: Iterable[DriftChart], trends: Sequence[LevelTrend], first: date, last: date) -> tuple[str, ...]:
    """What each chart that reaches into the days from `first` to `last` has to say, then the trends."""
    reaching = [chart for chart in charts if _reaches(chart, first, last)]
    crept = {(chart.sport, chart.channel) for chart in reaching if _told(chart, first, last)}
    shown = [item for item in trends if item.raised or (item.sport, item.channel) not in crept]
    return (
        *(_chart_note(chart, first, last) for chart in reaching),
        *(f"{series_words(item.sport, item.channel)}: {_lower(trend_text(item))}" for item in shown),
    )


def _told(chart: DriftChart, first: date, last: date) -> list[Creep]:
    return [creep for creep in chart.creeps if first <= creep.raised.day <= last]


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _reaches(chart: DriftChart, first: date, last: date) -> bool:
    return any(first <= item.day <= last for item in chart.sessions)


def _chart_note(chart: DriftChart, first: date, last: date) -> str:
    name, count = series_words(chart.sport, chart.channel), len(chart.sessions)
    since = f"since {chart.started}"
    if chart.is_open:
        return (
            f"{name}: cannot tell yet whether the load creeps from session to session; the chart began anew with "
            f"{chart.started} and holds {count} of the {chart.settings.reference_sessions} sessions its reference needs."
        )
    told = _told(chart, first, last)
    if told:
        return f"{name}: {_lower(' '.join(creep_text(creep) for creep in told))}"
    at = max(index for index, item in enumerate(chart.sessions) if item.day <= last)
    if not np.isfinite(chart.upper[at]):
        return f"{name}: cannot tell yet for these weeks; the chart's reference of {chart.settings.reference_sessions} sessions was still being made."
    return (
        f"{name}: the latest of {at + 1} sessions {since} do not stand clear of the earlier ones: the rising sum is at "
        f"{chart.upper[at]:.3f}, its limit {chart.limit_up[at]:.3f}."
    )


def fit_text(fit: TestFit) -> str:
    """Whether the test of a sport still fits, in one sentence with its reason."""
    return f"{sport_words(fit.sport)}: {fit_words(fit)}"


def fit_words(fit: TestFit) -> str:
    """Whether the test still fits, with its reason; the sport is not named."""
    says = {
        "fits": "the test still fits",
        "fitter than the test": "fitter than the test",
        "tired, hot or ill": "tired, hot or ill, or the test no longer fits",
        "cannot tell": "cannot tell whether the test still fits",
    }[fit.fit]
    return f"{says}: {fit.reason}."
