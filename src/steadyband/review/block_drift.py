"""Block drift: mean load over target top, session after session, on a tabular CUSUM chart (METHOD 6, SOURCES S6)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from steadyband.athlete.condensed import Condensed
from steadyband.audit.measure.drift import theil_sen
from steadyband.audit.model import Audit, Channel
from steadyband.ground.settings import BlockSettings
from steadyband.review.chart import Side, lagged_reference, tabular_cusum

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Creep:
    """A signal of the chart: the session it was raised by, the session its run began with, and the level before and in
    the run as fractions of the target top."""

    side: Side
    raised: Condensed
    began: Condensed
    sessions: int
    level_before: float
    level_since: float
    total: float
    limit: float


@dataclass(frozen=True, slots=True)
class DriftChart:
    """One unbroken chart of a sport: the ratio of each session, the sums and limits after it, and its signals.

    `ratio` [n] is mean load over target top; `reference`, `limit_up`, `limit_down` [n] are NaN for the sessions that
    the first reference is made from. `started` says why the chart begins where it does.
    """

    sport: str
    channel: Channel
    started: str
    sessions: tuple[Condensed, ...]
    ratio: FloatArray
    reference: FloatArray
    upper: FloatArray
    lower: FloatArray
    limit_up: FloatArray
    limit_down: FloatArray
    creeps: tuple[Creep, ...]
    settings: BlockSettings

    @property
    def is_open(self) -> bool:
        """True where there are too few sessions to tell anything yet."""
        return not bool(np.any(np.isfinite(self.reference)))


@dataclass(frozen=True, slots=True)
class LevelTrend:
    """Trend of mean load over target top among the sessions that held the band: each unremarkable, rising together.

    `per_week` is the Theil-Sen slope with its 95 % interval, `rise` that slope over the days from first to last, and the
    levels are those of the fitted line on the first and the last day.
    """

    sport: str
    channel: Channel
    sessions: tuple[Condensed, ...]
    first_level: float
    last_level: float
    per_week: float
    low: float
    high: float
    rise: float
    raised: bool
    fitted: FloatArray  # the line at each session, as fractions of the target top


def charted(sessions: Iterable[Condensed]) -> list[Condensed]:
    """The sessions that belong on a chart: endurance, judged, with a load and a target top."""
    return [item for item in sessions if item.audit.info.intent == "endurance" and ratio_of(item.audit) is not None]


def ratio_of(audit: Audit) -> float | None:
    """Mean load over target top of a judged session (heart rate over its limit where that is the load)."""
    if audit.verdict.in_band is None or audit.load is None or audit.zones is None:
        return None
    by_heart = audit.load.channel == "heart_rate"
    top = audit.zones.hr_target_top if by_heart else audit.zones.target_top
    return audit.load.mean / top if top else None


def load_ratio_of(audit: Audit) -> float | None:
    """The same by power or speed alone: a ratio of heart rates is no ratio of loads, and no mean holds both."""
    by_heart = audit.load is not None and audit.load.channel == "heart_rate"
    return None if by_heart else ratio_of(audit)


def drift_charts(sessions: Sequence[Condensed], limits: BlockSettings) -> tuple[DriftChart, ...]:
    """One chart for each sport, kind of load, and unbroken series of sessions, in that order (METHOD 6, SOURCES S6).

    A chart starts again with another test and after a break of more than `break_days`.
    """
    chosen = charted(sessions)
    keys = sorted({_key(item) for item in chosen})
    series = [part for key in keys for part in _series([item for item in chosen if _key(item) == key], limits)]
    return tuple(_chart(part, started, limits) for started, part in series)


def _key(item: Condensed) -> tuple[str, str]:
    return item.audit.info.sport, item.audit.load.channel if item.audit.load else ""


def _series(sessions: Sequence[Condensed], limits: BlockSettings) -> list[tuple[str, list[Condensed]]]:
    parts: list[tuple[str, list[Condensed]]] = []
    for item in sessions:
        why = _restart(parts[-1][1][-1], item, limits) if parts else "the first session"
        if why:
            parts.append((why, []))
        parts[-1][1].append(item)
    return parts


def _restart(last: Condensed, item: Condensed, limits: BlockSettings) -> str | None:
    before, now = last.audit.zones, item.audit.zones
    if before and now and (before.test, before.target_top) != (now.test, now.target_top):
        return f"the test of {now.test_date:%-d %B %Y}"
    days = (item.day - last.day).days
    return f"a break of {days} days" if days > limits.break_days else None


def _chart(sessions: Sequence[Condensed], started: str, limits: BlockSettings) -> DriftChart:
    ratio = np.array([ratio_of(item.audit) for item in sessions], dtype=np.float64)
    reference, scatter = lagged_reference(ratio, limits.reference_sessions, limits.reference_lag)
    spread = np.maximum(scatter, limits.sd_floor)
    first = min(limits.reference_sessions, len(ratio))
    up, down = limits.creep_sds * spread, limits.fall_sds * spread
    sums, signals = tabular_cusum(
        ratio[first:], reference[first:], limits.allowance_sds * spread[first:], (up[first:], down[first:])
    )
    creeps = tuple(
        Creep(
            side=signal.side,
            raised=sessions[first + signal.at],
            began=sessions[first + signal.began],
            sessions=signal.at - signal.began + 1,
            level_before=float(reference[first + signal.began]),
            level_since=float(ratio[first + signal.began : first + signal.at + 1].mean()),
            total=signal.total,
            limit=float((up if signal.side == "up" else down)[first + signal.at]),
        )
        for signal in signals
    )
    return DriftChart(
        sport=sessions[0].audit.info.sport,
        channel=sessions[0].audit.load.channel if sessions[0].audit.load else "power",
        started=started,
        sessions=tuple(sessions),
        ratio=ratio,
        reference=reference,
        upper=_after(sums.upper, first),
        lower=_after(sums.lower, first),
        limit_up=up,
        limit_down=down,
        creeps=creeps,
        settings=limits,
    )


def _after(sums: FloatArray, first: int) -> FloatArray:
    return np.concatenate((np.full(first, np.nan), sums))


def creeps_within(charts: Iterable[DriftChart], first: date, last: date) -> tuple[Creep, ...]:
    """The signals raised from `first` to `last`, in time order."""
    found = [creep for chart in charts for creep in chart.creeps if first <= creep.raised.day <= last]
    return tuple(sorted(found, key=lambda creep: creep.raised.audit.info.start))


def level_trends(sessions: Sequence[Condensed], last: date, limits: BlockSettings) -> tuple[LevelTrend, ...]:
    """The trend of each sport and kind of load over the `trend_days` up to `last`, where enough sessions held the band.

    Raised where the whole interval lies above 0 and the rise is at least `trend_rise`. The sessions of one trend share
    one test: those judged by another than the latest one are left out.
    Source: METHOD 10.
    """
    first = last - timedelta(days=limits.trend_days - 1)
    held = [item for item in charted(sessions) if item.audit.verdict.in_band and first <= item.day <= last]
    keys = sorted({_key(item) for item in held})
    series = [_of_latest_test([item for item in held if _key(item) == key]) for key in keys]
    return tuple(_trend(part, limits) for part in series if _can_trend(part, limits))


def _of_latest_test(sessions: Sequence[Condensed]) -> list[Condensed]:
    latest = sessions[-1].audit.zones
    return [item for item in sessions if item.audit.zones and latest and item.audit.zones.test == latest.test]


def _can_trend(sessions: Sequence[Condensed], limits: BlockSettings) -> bool:
    starts = {item.audit.info.start for item in sessions}
    return len(sessions) == len(starts) >= limits.trend_sessions


def _trend(sessions: Sequence[Condensed], limits: BlockSettings) -> LevelTrend:
    begun = sessions[0].audit.info.start
    weeks = np.array([(item.audit.info.start - begun).total_seconds() / (7 * 86400) for item in sessions])
    ratio = np.array([ratio_of(item.audit) for item in sessions], dtype=np.float64)
    slope, low, high = theil_sen(weeks, ratio)
    rise = slope * float(weeks[-1])
    start = float(np.median(ratio - slope * weeks))
    return LevelTrend(
        sport=sessions[0].audit.info.sport,
        channel=sessions[0].audit.load.channel if sessions[0].audit.load else "power",
        sessions=tuple(sessions),
        first_level=start,
        last_level=start + rise,
        per_week=slope,
        low=low,
        high=high,
        rise=rise,
        raised=low > 0 and rise >= limits.trend_rise,
        fitted=start + slope * weeks,
    )
