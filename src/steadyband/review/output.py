"""The week review's tables as plain values for JSON."""

from __future__ import annotations

from typing import Any

from steadyband.review.model import Advice, TestInForce, WeekReview


def week_to_dict(review: WeekReview) -> dict[str, Any]:
    """The object of `week --format json`: counts, sentences, hours per band, one row a session."""
    return {
        "schema": 1,
        "week": f"{review.iso_year}-W{review.iso_week:02d}",
        "first_day": review.first_day.isoformat(),
        "last_day": review.last_day.isoformat(),
        "answer": review.answer,
        "endurance": {"judged": review.judged, "held": review.held, "unsure": review.unsure},
        "sports": [
            {"sport": item.sport, "sessions": item.sessions, "active_s": item.active_s, "seconds": dict(item.bands),
             "not_banded_s": item.not_banded_s}
            for item in review.sports
        ],
        "tests": [_test(item) for item in review.tests],
        "sessions": [
            {"file": audit.info.file, "start": audit.info.start.isoformat(), "sport": audit.info.sport,
             "intent": audit.info.intent, "in_band": audit.verdict.in_band, "agreement": audit.verdict.agreement,
             "findings": [finding.code for finding in audit.verdict.findings]}
            for audit in review.audits
        ],
        "changes": [_advice(item) for item in review.changes],
        "went_well": [_advice(item) for item in review.went_well],
        "decisions": [_advice(item) for item in review.decisions],
        "questions": [_advice(item) for item in review.questions],
        "since_last_week": list(review.since_last_week),
        "creeps": [_advice(item) for item in review.creeps],
        "fits": list(review.fits),
        "plan": [
            {"sport": item.sport, "band": item.band, "planned_h": item.planned, "done_h": item.done,
             "at_most": item.at_most, "met": item.met, "unknown_h": item.unknown}
            for item in review.plan
        ],
        "left_out": list(review.left_out),
        "failures": [{"file": item.file, "message": item.message} for item in review.failures],
    }  # fmt: skip


def _test(item: TestInForce) -> dict[str, Any]:
    test = item.zone_set.test.file if item.zone_set else None
    return {
        "sport": item.sport,
        "test": test,
        "age_days": item.age_days,
        "freshness": item.freshness,
        "reason": item.reason,
    }


def _advice(item: Advice) -> dict[str, Any]:
    return {"head": item.head, "text": item.text, "numbers": dict(item.numbers)}
