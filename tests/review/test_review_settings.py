"""[settings.block] of athlete.toml reaches what the reviews say."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from many_sessions import audit, folder, series, session

import steadyband
from steadyband.athlete.athlete import read_athlete
from steadyband.athlete.condensed import condense
from steadyband.audit.model import STEADY, Traces
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.settings import Settings
from steadyband.review.block import review_block
from steadyband.review.model import Review
from steadyband.review.week import review_week

MONDAY = date(2026, 1, 12)
STEADY_LEVEL = [0.93, 0.94, 0.92, 0.93, 0.94, 0.93, 0.92, 0.93, 0.93, 0.92]


def block(tmp_path: Path, sessions: list, **limits: float) -> Review:
    return review_block(folder(tmp_path, {"settings": {"block": limits}}), sessions)


def test_trend_days_and_trend_rise(tmp_path: Path) -> None:
    rising = series([0.92, 0.93, 0.94, 0.95, 0.96, 0.97], first=MONDAY, step=4)
    assert block(tmp_path, rising).behind.trends[0].raised
    # By hand: of 12, 16, 20, 24, 28 January and 1 February, four lie in the 14 days up to Sunday 1 February.
    assert block(tmp_path, rising, trend_days=14).behind.trends == ()
    assert len(block(tmp_path, rising, trend_days=14, trend_sessions=4).behind.trends[0].sessions) == 4
    # By hand: the line rises by 0.05 over the six sessions.
    assert block(tmp_path, rising, trend_rise=0.049).behind.trends[0].raised
    assert not block(tmp_path, rising, trend_rise=0.051).behind.trends[0].raised


def test_the_week_takes_the_same_settings(tmp_path: Path) -> None:
    rising = series([0.92, 0.93, 0.94, 0.95, 0.96, 0.97], first=MONDAY, step=4)
    changed = folder(tmp_path, {"settings": {"block": {"trend_days": 14}}})
    assert review_week(folder(tmp_path), [rising[-1].audit], season=rising).creeps
    assert review_week(changed, [rising[-1].audit], season=rising).creeps == ()


def test_reference_limit_and_break_of_the_chart(tmp_path: Path) -> None:
    crept = series([*STEADY_LEVEL, *[0.985] * 5], first=MONDAY)
    assert block(tmp_path, crept).creeps
    assert block(tmp_path, crept, creep_sds=50).creeps == ()
    waiting = block(tmp_path, crept, reference_sessions=20)
    assert waiting.creeps == ()
    assert any("15 of the 20 sessions" in note for note in waiting.notes["drift"])
    assert len(block(tmp_path, crept, break_days=1).behind.charts) == 15  # one session every second day


def test_the_weekly_increase_that_is_mentioned(tmp_path: Path) -> None:
    weeks = [session(MONDAY, minutes=150), session(MONDAY + timedelta(days=7), minutes=180)]  # by hand: +20 %
    assert len(block(tmp_path, weeks).notes["load"]) == 1
    assert block(tmp_path, weeks, increase_percent=25).notes["load"] == ()
    quiet = folder(tmp_path, {"settings": {"block": {"increase_percent": 25}}})
    told = [review_week(home, [item.audit for item in weeks]).since_last_week for home in (folder(tmp_path), quiet)]
    assert [any("common practice" in line for line in lines) for lines in told] == [True, False]


def test_heart_rate_drift_that_durability_points_out(tmp_path: Path) -> None:
    found = [session(MONDAY + timedelta(days=n), hr_drift=6.0) for n in range(3)]
    assert "drifted by more than 5 %" in block(tmp_path, found).durability[0].text
    home = folder(tmp_path, {"settings": {"drift": {"hr_drift_percent": 7.5}}})
    assert "within 7.5 % of the load in 3 of 3" in review_block(home, found).durability[0].text


def test_the_length_of_a_steady_stretch_is_taken_while_condensing() -> None:
    codes, load, pulse = np.full(4000, STEADY, np.uint8), np.full(4000, 190.0), np.full(4000, 125.0)
    ridden = replace(audit(MONDAY), traces=Traces(codes, load, load, pulse, np.zeros(4000)))
    longer = replace(ridden, settings=Settings.from_mapping({"block": {"stretch_s": 1200}}))
    # By hand: 600 to 4000 s hold five stretches of 600 s, two of 1200 s.
    assert [len(condense(item).stretches) for item in (ridden, longer)] == [5, 2]


def test_a_faulty_value_names_its_place(tmp_path: Path) -> None:
    path = tmp_path / "athlete.toml"
    path.write_text("[settings.block]\nfit_days = 2\n", encoding="utf-8")
    with pytest.raises(AthleteFileError, match=r"\[settings.block\] fit_days.*expected 7"):
        read_athlete(path)


def test_how_many_decisions_and_how_much_of_a_trend(tmp_path: Path) -> None:
    rising = series([0.92, 0.93, 0.94, 0.95, 0.96, 0.97], first=MONDAY, step=4)
    assert len(block(tmp_path, rising).decisions) > 1
    assert len(block(tmp_path, rising, decisions=1).decisions) == 1


def test_weeks_much_the_same(tmp_path: Path) -> None:
    weeks = [session(MONDAY, minutes=150), session(MONDAY + timedelta(days=7), minutes=165)]  # by hand: +10 %
    changed = folder(tmp_path, {"settings": {"block": {"same_share": 0.11}}})
    now = [weeks[1].audit]
    assert any(
        "2 h 45 active after 2 h 30" in line
        for line in review_week(folder(tmp_path), now, season=weeks).since_last_week
    )
    assert any("much the same" in line for line in review_week(changed, now, season=weeks).since_last_week)


def test_a_short_week_before_is_no_base(tmp_path: Path) -> None:
    weeks = [session(MONDAY, minutes=60), session(MONDAY + timedelta(days=7), minutes=90)]  # by hand: 3,600 s, +50 %
    assert block(tmp_path, weeks).notes["load"] == ()
    assert len(block(tmp_path, weeks, short_week_s=3600).notes["load"]) == 1


def test_every_setting_is_read_somewhere() -> None:
    """A setting that nothing reads would promise what it does not keep."""
    package = Path(steadyband.__file__).parent
    texts = [path.read_text(encoding="utf-8") for path in package.rglob("*.py") if not path.name.startswith("setting")]
    code = "\n".join(texts)
    unread = [item.name for item in Settings().told() if not re.search(rf"\.{item.name}\b", code)]
    assert unread == []


def test_whole_numbers_only_where_the_setting_counts() -> None:
    """Step minutes may be 7.5, a number of draws may not."""
    assert Settings.from_mapping({"steptest": {"step_minutes_advised": 7.5}}).steptest.step_minutes_advised == 7.5
    with pytest.raises(AthleteFileError, match="whole number"):
        Settings.from_mapping({"steptest": {"draws": 2000.5}})
