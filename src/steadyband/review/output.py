"""Reviews as plain values for JSON: what `week`, `block` and `roster` print with --format json."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.own_words import OwnWords
from steadyband.audit.model import Audit
from steadyband.ground.values import picked, plain_value
from steadyband.review.block_drift import DriftChart, LevelTrend
from steadyband.review.fit_of_test import ShiftInterval
from steadyband.review.model import Advice, PlanHours, Review, TestInForce, Week, week_name
from steadyband.review.roster_model import Roster, RosterPlace

SCHEMA = 1


def week_to_dict(review: Review) -> dict[str, Any]:
    """The object of `week --format json`: counts, sentences, hours per band, one row a session."""
    return {
        "schema": SCHEMA,
        "week": review.name,
        **_head(review),
        "sports": [
            picked(item, "sport", "sessions", "active_s", seconds="bands", not_banded_s="not_banded_s")
            for item in review.sports
        ],
        "tests": [_test(item) for item in review.tests],
        "sessions": [
            _session(audit) | {"told": _told(words)}
            for audit, words in zip(review.audits, review.words_told, strict=True)
        ],
        "note": review.week_note or None,
        "changes": [_advice(item) for item in review.changes],
        "went_well": [_advice(item) for item in review.went_well],
        "decisions": [_advice(item) for item in review.decisions],
        "questions": [_advice(item) for item in review.questions],
        "since_last_week": list(review.since_last_week),
        "creeps": [_advice(item) for item in review.creeps],
        "fits": list(review.notes["fit"]),
        "taken": list(review.notes["taken"]),
        "plan": [_plan(item) for item in review.plan],
        **_rest(review),
    }


def block_to_dict(review: Review) -> dict[str, Any]:
    """The object of `block --format json`: counts, sentences, weeks, charts, distribution, fit, decisions."""
    return {
        "schema": SCHEMA,
        **_head(review),
        "weeks": [_week(week) for week in review.weeks if isinstance(week, Week)],
        "charts": [_chart(chart) for chart in review.behind.charts],
        "creeps": [
            {
                **picked(creep, "side", sport="began.audit.info.sport"),
                "began": _place(creep.began),
                "raised": _place(creep.raised),
                **picked(creep, "sessions", "level_before", "level_since", "limit", sum="total"),
            }
            for creep in review.behind.creeps
        ],
        "trends": [_trend(trend) for trend in review.behind.trends],
        "fits": [
            {**picked(fit, "sport", "fit", "reason"), "intervals": [_interval(item) for item in fit.intervals]}
            for fit in review.behind.fits
        ],
        "distributions": {
            name: {
                **picked(item, "seconds", "low", "middle", "high", polarization_index="index"),
                "upper_border": "threshold" if item.by_threshold else "ceiling",
            }
            for name, item in review.distributions.items()
        },
        "durability": [picked(item, "points", "text", series="sport") for item in review.durability],
        "notes": {topic: list(review.notes[topic]) for topic in ("drift", "fit", "load", "distribution", "taken")},
        "sessions": [
            {**_session(item.audit), "intent_source": item.audit.info.intent_source, "asked": item.is_asked}
            for item in review.sessions
        ],
        "limiters": [_advice(item) for item in review.limiters],
        "went_well": [_advice(item) for item in review.went_well],
        "questions": [_advice(item) for item in review.questions],
        "decisions": [{**_advice(item), "unless": item.unless} for item in review.decisions],
        **_rest(review),
    }


def roster_to_dict(roster: Roster) -> dict[str, Any]:
    """The object of `roster --format json`: the week, the answer, one object an athlete in the roster's order.

    The same folder gives the same object wherever the work was done; paths are taken from the roster's folder.
    """
    return {
        "schema": SCHEMA,
        "week": week_name(roster.first_day) if roster.first_day else None,
        **picked(roster, "first_day", "last_day", "answer"),
        "athletes": [_athlete(place, roster.folder.resolve()) for place in roster.places],
        "left_alone": list(roster.left_alone),
    }


def _head(review: Review) -> dict[str, Any]:
    return {
        **picked(review, "first_day", "last_day", "answer"),
        "endurance": picked(review, "judged", "held", "unsure"),
    }


def _rest(review: Review) -> dict[str, Any]:
    return {
        "left_out": [*(f"{item.file}: {item.message}" for item in review.failures), *review.left_out],
        "failures": [picked(item, "file", "message") for item in review.failures],
    }


def _session(audit: Audit) -> dict[str, Any]:
    return {
        **picked(audit.info, "file", "start", "sport", "intent"),
        **picked(audit.verdict, "in_band", "agreement"),
        "findings": [finding.code for finding in audit.verdict.findings],
    }


def _told(words: OwnWords) -> dict[str, Any] | None:
    if not words:
        return None
    return {"note": words.note or None, **picked(words, "effort", "sleep_h"), "illness": words.illness or None}


def _test(item: TestInForce) -> dict[str, Any]:
    test = item.zone_set.test.file if item.zone_set else None
    return {"sport": item.sport, "test": test, **picked(item, "age_days", "freshness", "reason")}


def _advice(item: Advice) -> dict[str, Any]:
    return {**picked(item, "head", "text", "numbers"), "behind": list(item.behind)}


def _plan(item: PlanHours) -> dict[str, Any]:
    return picked(item, "sport", "band", "at_most", "met", planned_h="planned", done_h="done", unknown_h="unknown")


def _week(week: Week) -> dict[str, Any]:
    return {
        "week": week.name,
        "sessions": len(week.sessions),
        **picked(week, "judged", "held", "active_s"),
        "sports": [
            picked(
                item,
                "sport",
                "heavy_share",
                "surges_per_hour",
                active_s="hours.active_s",
                seconds="hours.bands",
                not_banded_s="hours.not_banded_s",
                load_over_target_top="load_ratio",
                hr_shift_bpm="hr_shift",
            )
            for item in week.sports
        ],
        "plan": [_plan(item) for item in week.plan],
    }


def _chart(chart: DriftChart) -> dict[str, Any]:
    columns = {
        "load_over_target_top": chart.ratio,
        "reference": chart.reference,
        "rising_sum": chart.upper,
        "falling_sum": chart.lower,
        "limit_up": chart.limit_up,
        "limit_down": chart.limit_down,
    }
    rows = zip(*(values.tolist() for values in columns.values()), strict=True)
    return {
        **picked(chart, "sport", "channel", "started"),
        "sessions": [
            {
                "file": item.audit.info.file,
                "date": item.day.isoformat(),
                **plain_value(dict(zip(columns, row, strict=True))),
            }
            for item, row in zip(chart.sessions, rows, strict=True)
        ],
    }


def _place(item: Condensed) -> dict[str, str]:
    return {"file": item.audit.info.file, "date": item.day.isoformat(), "week": week_name(item.day)}


def _trend(trend: LevelTrend) -> dict[str, Any]:
    return {
        **picked(trend, "sport", "channel", "raised", "per_week", "rise"),
        "range": [trend.low, trend.high],
        "sessions": [_place(item) for item in trend.sessions],
    }


def _interval(item: ShiftInterval) -> dict[str, Any]:
    return {
        **picked(
            item, "place", "sessions", "stretches", shift_bpm="mean", sessions_with_temperature="known_temperature"
        ),
        "range_bpm": [item.low, item.high],
        "hot_sessions": item.hot if item.known_temperature else None,
    }


def _athlete(place: RosterPlace, home: Path) -> dict[str, Any]:
    entry, page = place.entry, place.entry.page
    return {
        "group": place.group,
        **picked(entry, "folder", "name", "answer", "last_session", "sessions", "active_s"),
        "fault": entry.fault or None,
        "endurance": picked(entry, "judged", "held", "unsure"),
        "notes": [{**picked(note, "code", "head", "text"), "file": note.file or None} for note in entry.notes],
        "tests": [
            picked(item, "sport", "test", "age_days", "freshness", "fit", "reason", "due") for item in entry.tests
        ],
        "weeks": [
            {"week": week_name(week.first_day), **picked(week, "sessions", "judged", "held", "active_s")}
            for week in place.weeks
        ],
        "plan": [_plan(item) for item in entry.plan],
        "changed": list(place.changed),
        "page": page and (page.relative_to(home) if page.is_relative_to(home) else page).as_posix(),
    }
