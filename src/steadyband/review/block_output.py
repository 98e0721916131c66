"""The block review's tables as plain values for JSON."""

from __future__ import annotations

import math
from typing import Any

from steadyband.athlete.condensed import Condensed
from steadyband.review.block_drift import Creep, DriftChart, LevelTrend
from steadyband.review.block_model import BlockReview, BlockWeek
from steadyband.review.fit_of_test import ShiftInterval, TestFit
from steadyband.review.model import Advice


def block_to_dict(review: BlockReview) -> dict[str, Any]:
    """The object of `block --format json`: counts, sentences, weeks, charts, distribution, fit, decisions."""
    return {
        "schema": 1,
        "first_day": review.first_day.isoformat(),
        "last_day": review.last_day.isoformat(),
        "answer": review.answer,
        "endurance": {"judged": review.judged, "held": review.held, "unsure": review.unsure},
        "weeks": [_week(week) for week in review.weeks],
        "charts": [_chart(chart) for chart in review.charts],
        "creeps": [_creep(creep) for creep in review.creeps],
        "trends": [_trend(trend) for trend in review.trends],
        "fits": [_fit(fit) for fit in review.fits],
        "distributions": {
            name: {"seconds": item.seconds, "low": item.low, "middle": item.middle, "high": item.high,
                   "polarization_index": item.index, "upper_border": "threshold" if item.by_threshold else "ceiling"}
            for name, item in review.distributions.items()
        },
        "durability": [
            {"series": item.sport, "points": [list(point) for point in item.points], "text": item.text}
            for item in review.durability
        ],
        "notes": {"drift": list(review.drift_notes), "fit": list(review.fit_notes), "load": list(review.load_notes),
                  "distribution": list(review.distribution_notes)},
        "sessions": [_session(item) for item in review.sessions],
        "limiters": [advice_to_dict(item) for item in review.limiters],
        "went_well": [advice_to_dict(item) for item in review.went_well],
        "questions": [advice_to_dict(item) for item in review.questions],
        "decisions": [
            {"head": item.head, "text": item.text, "unless": item.unless, "numbers": dict(item.numbers)}
            for item in review.decisions
        ],
        "left_out": list(review.left_out),
        "failures": [{"file": item.file, "message": item.message} for item in review.failures],
    }  # fmt: skip


def advice_to_dict(item: Advice) -> dict[str, Any]:
    """Head, text and numbers of an advice."""
    return {"head": item.head, "text": item.text, "numbers": dict(item.numbers)}


def _week(week: BlockWeek) -> dict[str, Any]:
    return {
        "week": week.name,
        "sessions": week.sessions,
        "judged": week.judged,
        "held": week.held,
        "active_s": week.active_s,
        "sports": [
            {"sport": item.sport, "active_s": item.hours.active_s, "seconds": dict(item.hours.bands),
             "not_banded_s": item.hours.not_banded_s, "heavy_share": item.heavy_share,
             "load_over_target_top": item.load_ratio, "surges_per_hour": item.surges_per_hour,
             "hr_shift_bpm": item.hr_shift}
            for item in week.sports
        ],
        "plan": [
            {"sport": item.sport, "band": item.band, "planned_h": item.planned, "done_h": item.done,
             "at_most": item.at_most, "met": item.met, "unknown_h": item.unknown}
            for item in week.plan
        ],
    }  # fmt: skip


def _chart(chart: DriftChart) -> dict[str, Any]:
    return {
        "sport": chart.sport,
        "channel": chart.channel,
        "started": chart.started,
        "sessions": [
            {"file": item.audit.info.file, "date": item.day.isoformat(), "load_over_target_top": float(ratio),
             "reference": _number(reference), "rising_sum": _number(up), "falling_sum": _number(down),
             "limit_up": _number(high), "limit_down": _number(low)}
            for item, ratio, reference, up, down, high, low in zip(
                chart.sessions, chart.ratio, chart.reference, chart.upper, chart.lower, chart.limit_up,
                chart.limit_down, strict=True)
        ],
    }  # fmt: skip


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _creep(creep: Creep) -> dict[str, Any]:
    return {
        "sport": creep.began.audit.info.sport,
        "side": creep.side,
        "began": _place(creep.began),
        "raised": _place(creep.raised),
        "sessions": creep.sessions,
        "level_before": creep.level_before,
        "level_since": creep.level_since,
        "sum": creep.total,
        "limit": creep.limit,
    }


def _place(item: Condensed) -> dict[str, str]:
    year, week, _ = item.day.isocalendar()
    return {"file": item.audit.info.file, "date": item.day.isoformat(), "week": f"{year}-W{week:02d}"}


def _trend(trend: LevelTrend) -> dict[str, Any]:
    return {
        "sport": trend.sport,
        "channel": trend.channel,
        "raised": trend.raised,
        "per_week": trend.per_week,
        "range": [trend.low, trend.high],
        "rise": trend.rise,
        "sessions": [_place(item) for item in trend.sessions],
    }


def _fit(fit: TestFit) -> dict[str, Any]:
    intervals = [_interval(item) for item in fit.intervals]
    return {"sport": fit.sport, "fit": fit.fit, "reason": fit.reason, "intervals": intervals}


def _interval(item: ShiftInterval) -> dict[str, Any]:
    known = item.known_temperature
    return {
        "place": item.place,
        "sessions": item.sessions,
        "stretches": item.stretches,
        "shift_bpm": item.mean,
        "range_bpm": [item.low, item.high],
        "hot_sessions": item.hot if known else None,
        "sessions_with_temperature": known,
    }


def _session(item: Condensed) -> dict[str, Any]:
    audit = item.audit
    return {
        "file": audit.info.file,
        "start": audit.info.start.isoformat(),
        "sport": audit.info.sport,
        "intent": audit.info.intent,
        "intent_source": audit.info.intent_source,
        "asked": item.is_asked,
        "in_band": audit.verdict.in_band,
        "agreement": audit.verdict.agreement,
        "findings": [finding.code for finding in audit.verdict.findings],
    }
