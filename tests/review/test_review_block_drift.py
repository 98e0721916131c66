"""Block drift: what is charted, when a chart begins anew, which session a creep is traced to."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from many_sessions import BIKE, series, session

from steadyband.ground.settings import BlockSettings
from steadyband.review.block_drift import creeps_within, drift_charts, level_trends, ratio_of
from steadyband.review.drift_sentences import creep_text, drift_notes, trend_text

LIMITS = BlockSettings()

STEADY = [0.93, 0.94, 0.92, 0.93, 0.94, 0.93, 0.92, 0.93]


def test_a_creep_is_traced_to_the_session_it_began_with() -> None:
    found = series([*STEADY, 0.93, 0.92, *[0.985] * 6])
    chart = drift_charts(found, LIMITS)[0]
    creep = chart.creeps[0]
    # By hand: reference 0.93, SD floor 0.03, so K = 0.015 and H = 0.126; each 0.985 adds 0.04: 0.16 > 0.126 at the 4th.
    assert (creep.side, creep.began.day, creep.raised.day) == ("up", found[10].day, found[13].day)
    assert (creep.sessions, creep.total) == (4, pytest.approx(0.16))
    assert creep_text(creep).startswith("The mean load has crept up since Sunday 1 February (week 5), over 4 sessions")
    assert "186 W to 197 W" in creep_text(creep)


def test_a_falling_load_is_told_apart() -> None:
    chart = drift_charts(series([*STEADY, *[0.85] * 6]), LIMITS)[0]
    assert chart.creeps[0].side == "down"
    assert "come down" in creep_text(chart.creeps[0])


def test_few_sessions_cannot_tell() -> None:
    found = series(STEADY[:5])
    chart = drift_charts(found, LIMITS)[0]
    assert chart.is_open
    note = drift_notes([chart], (), found[0].day, found[-1].day)[0]
    assert "cannot tell yet" in note
    assert "5 of the 8 sessions" in note


def test_a_new_test_and_a_long_break_begin_the_chart_anew() -> None:
    newer = replace(BIKE, test="2026-03-01-bike.toml", test_date=date(2026, 3, 1), target_top=210.0)
    found = [
        *series(STEADY),
        *series(STEADY, first=date(2026, 2, 20)),
        *series(STEADY, first=date(2026, 3, 8), zones=newer),
    ]
    charts = drift_charts(found, LIMITS)
    assert [chart.started for chart in charts] == [
        "the first session",
        "a break of 25 days",
        "the test of 1 March 2026",
    ]
    assert [len(chart.sessions) for chart in charts] == [8, 8, 8]


def test_only_judged_endurance_sessions_are_charted() -> None:
    day = date(2026, 1, 12)
    left_out = [
        session(day, intent="hard", in_band=None),
        session(day, intent="easy"),
        session(day, in_band=None, agreement=None),
        session(day, zones=None, in_band=None),
    ]
    assert drift_charts(left_out, LIMITS) == ()
    assert ratio_of(session(day, 0.9).audit) == pytest.approx(0.9)


def test_sports_and_kinds_of_load_have_charts_of_their_own() -> None:
    day = date(2026, 1, 12)
    by_heart = session(day + timedelta(days=1), hour=9)
    load = replace(by_heart.audit.load, channel="heart_rate", unit="bpm", mean=120.0)
    by_heart = replace(by_heart, audit=replace(by_heart.audit, load=load))
    charts = drift_charts([session(day), by_heart, session(day, sport="running")], LIMITS)
    assert [(chart.sport, chart.channel) for chart in charts] == [
        ("cycling", "heart_rate"), ("cycling", "power"), ("running", "power"),
    ]  # fmt: skip
    assert charts[0].ratio[0] == pytest.approx(120 / 126)


def test_signals_of_other_weeks_are_left_out() -> None:
    found = series([*STEADY, *[0.985] * 4])
    charts = drift_charts(found, LIMITS)
    last = found[-1].day
    assert len(creeps_within(charts, last, last)) == 1
    assert creeps_within(charts, last + timedelta(days=1), last + timedelta(days=9)) == ()


def test_sessions_that_held_and_rise_together_are_a_trend() -> None:
    found = series([0.92, 0.93, 0.94, 0.95, 0.96, 0.97], step=4)
    trend = level_trends(found, found[-1].day, LIMITS)[0]
    # By hand: 0.01 in 4 days is 0.0175 a week, over 20 days 0.05; every pairwise slope is the same.
    assert (trend.per_week, trend.low, trend.high) == pytest.approx((0.0175,) * 3)
    assert trend.raised
    assert "from 92 to 97 % of the target top (184 W to 194 W) in 20 days" in trend_text(trend)


def test_a_trend_needs_sessions_a_rise_and_the_band() -> None:
    day = date(2026, 1, 12)
    assert level_trends(series([0.9, 0.95, 1.0, 1.05, 1.1]), day + timedelta(days=9), LIMITS) == ()
    small = series([0.950, 0.951, 0.952, 0.953, 0.954, 0.955])
    assert not level_trends(small, small[-1].day, LIMITS)[0].raised
    lost = series([0.92, 0.93, 0.94, 0.95, 0.96, 0.97], in_band=False)
    assert level_trends(lost, lost[-1].day, LIMITS) == ()


def test_chart_and_trend_together_stay_under_one_false_signal_in_100_sessions() -> None:
    """Simulation, seeded: four sessions a week with an SD of 0.02, looked at week by week."""
    rng = np.random.default_rng(8)
    days = [0, 2, 4, 6]
    false, count = 0, 0
    for _ in range(12):
        ratios = 0.94 + 0.02 * rng.normal(size=100)
        found = [
            session(date(2026, 1, 5) + timedelta(days=7 * (n // 4) + days[n % 4]), float(value))
            for n, value in enumerate(ratios)
        ]
        false += len(drift_charts(found, LIMITS)[0].creeps)
        raised = [
            any(t.raised for t in level_trends(found, date(2026, 1, 11) + timedelta(weeks=w), LIMITS))
            for w in range(25)
        ]
        false += sum(now and not before for before, now in zip([False, *raised], raised, strict=False))
        count += 1
    assert false / count < 1
