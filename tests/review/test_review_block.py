"""The block review and the week review beside many sessions: what they say, and that numbers stand behind it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from many_sessions import BIKE, NO_SURGES, audit, folder, series, session

from conftest import DEMO
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.measured import zone_sets_of
from steadyband.ground.errors import NothingToReviewError
from steadyband.review.block import block_days, review_block
from steadyband.review.output import block_to_dict
from steadyband.review.week import review_week

MONDAY = date(2026, 1, 12)


def test_block_days_are_whole_iso_weeks() -> None:
    days = [date(2026, 12, 28), date(2027, 1, 3)]
    # By hand: 3 January 2027 is the Sunday of 2026-W53, so four weeks begin on Monday 7 December 2026.
    assert block_days(days, 4, None) == (date(2026, 12, 7), date(2027, 1, 3))
    assert block_days(days, 1, date(2026, 12, 30)) == (date(2026, 12, 28), date(2027, 1, 3))
    with pytest.raises(NothingToReviewError, match="2026-12-28"):
        block_days(days, 2, date(2026, 6, 1))
    with pytest.raises(NothingToReviewError, match="activities"):
        block_days([], 4, None)


def test_counts_weeks_and_answer(tmp_path: Path) -> None:
    found = [
        *series([0.94, 0.93, 0.95], first=MONDAY, step=2),
        session(MONDAY + timedelta(days=15), 1.02, in_band=False, codes=("too_high",)),
        session(MONDAY + timedelta(days=16), 0.9, agreement=0.6),
        session(MONDAY + timedelta(days=17), intent="hard", in_band=None, agreement=None),
    ]
    review = review_block(folder(tmp_path), found, ending=MONDAY + timedelta(days=27))
    assert (review.judged, review.held, review.unsure) == (5, 4, 1)
    assert review.answer.startswith(
        "Four of five endurance sessions held the band in these four weeks; one of these verdicts is unsure."
    )
    assert [(week.name, len(week.sessions)) for week in review.weeks] == [
        ("2026-W03", 3), ("2026-W04", 0), ("2026-W05", 3), ("2026-W06", 0),
    ]  # fmt: skip
    assert review.weeks[0].sports[0].load_ratio == pytest.approx(0.94)
    assert review.weeks[2].sports[0].load_ratio == pytest.approx(0.96)  # the hard session is no part of it


def test_a_creep_reaches_answer_notes_and_decisions(tmp_path: Path) -> None:
    steady = [0.93, 0.94, 0.92, 0.93, 0.94, 0.93, 0.92, 0.93, 0.93, 0.92]
    found = series([*steady, *[0.985] * 5], first=MONDAY)
    review = review_block(folder(tmp_path), found)
    assert "Cycling has crept up since Sunday 1 February, week 5." in review.answer
    assert any("crept up since Sunday 1 February (week 5)" in note for note in review.notes["drift"])
    cap = next(item for item in review.decisions if "cap the average" in item.head)
    assert "from 186 W to 197 W" in cap.text
    assert cap.unless
    assert block_to_dict(review)["creeps"][0]["began"]["week"] == "2026-W05"


def test_every_decision_says_what_would_change_the_mind(tmp_path: Path) -> None:
    lost = series([1.02] * 6, first=MONDAY, in_band=False, codes=("too_high",), agreement=0.6)
    review = review_block(folder(tmp_path), lost)
    heads = [item.head for item in review.decisions]
    assert "Cycling: test before the block?" in heads
    assert "Lower the aim, or the hills?" in heads
    assert "Cycling: is the test sharp enough?" in heads
    assert all(item.unless and re.search(r"[.?!]$", item.text) for item in review.decisions)


def test_load_increases_are_mentioned_and_left_to_the_athlete(tmp_path: Path) -> None:
    found = [
        session(MONDAY, minutes=150),
        session(MONDAY + timedelta(days=7), minutes=180),
        session(MONDAY + timedelta(days=14), minutes=190),
    ]
    review = review_block(folder(tmp_path), found, weeks=3)
    # By hand: 150 to 180 min is +20 %, 180 to 190 min +5.6 %.
    assert len(review.notes["load"]) == 1
    assert "Week 3 to 4: 2 h 30 to 3 h 00 active, 20 % more" in review.notes["load"][0]
    assert "you or your coach decide" in review.notes["load"][0]


def test_durability_by_sport_and_place(tmp_path: Path) -> None:
    drifts = [(60, 1.0), (90, 2.0), (120, 3.0), (150, 4.0), (180, 5.0), (210, 6.0)]
    found = [session(MONDAY + timedelta(days=n), minutes=m, hr_drift=d) for n, (m, d) in enumerate(drifts)]
    found.append(session(MONDAY, hour=18, hr_drift=9.0, sub_sport="indoor_cycling"))
    review = review_block(folder(tmp_path), found)
    texts = {item.sport: item.text for item in review.durability}
    # By hand: 1 % in half an hour is 2 % an hour; 5 % is not over 5 %.
    assert "within 5 % of the load in 5 of 6 sessions, the longest of them 3 h 00" in texts["Cycling, outdoors"]
    assert "grows with length: +2.0 % an hour (95 % interval +2.0 to +2.0)" in texts["Cycling, outdoors"]
    assert "3 are needed to tell" in texts["Cycling, indoors"]


def test_forced_climbs_and_little_steady_time_are_limiters(tmp_path: Path) -> None:
    surges = replace(NO_SURGES, count=20, micro=20, per_hour=13.3, forced=8)
    forced = session(MONDAY, bands=(85, 5, 0, 0))
    forced = replace(forced, audit=replace(forced.audit, surges=surges))
    review = review_block(folder(tmp_path), [forced])
    heads = [item.head for item in review.limiters]
    assert heads == ["Climbs force the load up.", "Little steady time."]
    assert "8 of 20 surges" in review.limiters[0].text


def with_ceilings(home: AthleteFolder, cycling: float, running: float) -> AthleteFolder:
    """The folder with the demo's two tests, their heart rates at the ceiling set by hand [bpm]."""
    pulses = {"cycling": cycling, "running": running}
    tests = zone_sets_of(DEMO / "tests", home.athlete.settings)
    moved = [replace(item, hr=replace(item.hr, ceiling=pulses[item.test.sport])) for item in tests]
    return replace(home, zone_sets=tuple(moved))


@pytest.mark.parametrize(
    ("pulses", "text"),
    [
        (
            (130.0, 150.0),
            "A low ceiling in cycling. The ceiling comes at 130 bpm in cycling and at 150 bpm in running.",
        ),
        (
            (150.0, 131.0),
            "A low ceiling in running. The ceiling comes at 131 bpm in running and at 150 bpm in cycling.",
        ),
        (
            (135.0, 150.0),
            "A low ceiling in cycling. The ceiling comes at 135 bpm in cycling and at 150 bpm in running.",
        ),
        ((135.1, 150.0), ""),  # by hand: 14.9 bpm apart, under 15
    ],
)
def test_a_low_ceiling_in_one_sport_is_a_limiter(tmp_path: Path, pulses: tuple[float, float], text: str) -> None:
    day = date(2026, 5, 4)  # both tests of the demo lie before
    review = review_block(with_ceilings(folder(tmp_path), *pulses), [session(day)], weeks=1)
    found = [f"{item.head} {item.text}" for item in review.limiters if "low ceiling" in item.head]
    assert [item.split(" Some difference")[0] for item in found] == ([text] if text else [])
    if text:
        numbers = next(item.numbers for item in review.limiters if "low ceiling" in item.head)
        assert numbers == {"low_bpm": min(pulses), "high_bpm": max(pulses)}


def test_the_distance_of_ceilings_is_a_setting_and_one_sport_has_nothing_to_compare(tmp_path: Path) -> None:
    close = folder(tmp_path, {"settings": {"block": {"hr_between_sports": 25}}})
    day = date(2026, 5, 4)
    for home in (with_ceilings(close, 130, 150), folder(tmp_path)):
        review = review_block(home, [session(day)], weeks=1)
        assert not any("low ceiling" in item.head for item in review.limiters)


def test_unlabelled_hard_sessions_become_questions(tmp_path: Path) -> None:
    asked = session(MONDAY, guess="hard", in_band=None, agreement=None)
    review = review_block(folder(tmp_path), [asked, session(MONDAY + timedelta(days=1))])
    assert review.judged == 1
    assert review.questions[0].head == "Monday 12 January's ride: was it a hard session?"


def test_a_block_without_anything_judged_says_so(tmp_path: Path) -> None:
    review = review_block(folder(tmp_path), [session(MONDAY, zones=None, in_band=None, agreement=None)])
    assert review.answer == "No endurance session could be judged in these four weeks."
    assert review.distributions == {}
    assert review.limiters == ()
    assert "nothing can be said" in review.notes["distribution"][0]


def test_plan_reaches_the_weeks(tmp_path: Path) -> None:
    (tmp_path / "plan.csv").write_text(
        "week,sport,band,hours\n,cycling,steady,3\n2026-W03,cycling,steady,1.5\n", encoding="utf-8"
    )
    review = review_block(folder(tmp_path, {"plan": {"cycling": {"heavy": 1}}}), [session(MONDAY)], weeks=1)
    assert [(item.band, item.planned, item.met) for item in review.weeks[0].plan] == [
        ("heavy", 1.0, True), ("steady", 1.5, True),
    ]  # fmt: skip


def test_week_tells_what_changed_since_the_last_one(tmp_path: Path) -> None:
    before = [audit(MONDAY), audit(MONDAY + timedelta(days=2))]
    now = [
        audit(MONDAY + timedelta(days=7), minutes=120, bands=(0, 90, 30, 0), in_band=False, codes=("too_high",)),
        audit(MONDAY + timedelta(days=9), minutes=120, agreement=0.65),
    ]
    review = review_week(folder(tmp_path), [*before, *now])
    # By hand: 4 h after 3 h is +33 %; 30 of 240 min above the ceiling are 12.5 %.
    assert review.since_last_week == (
        "4 h 00 active after 3 h 00; one of two held (one unsure) after two of two held; cycling 12 % above the ceiling after 0 %.",
        "That is 33 % more: common practice keeps increases to 10 to 15 % a week, and you or your coach decide.",
    )
    alone = review_week(folder(tmp_path), before)
    assert alone.since_last_week == ("There is no session in the week before to compare with.",)


def test_week_says_unsure_where_the_test_is(tmp_path: Path) -> None:
    review = review_week(folder(tmp_path), [audit(MONDAY, agreement=0.6)])
    assert "One that held is unsure." in review.answer
    assert "of Monday the test is unsure" in review.went_well[0].text


def test_week_asks_about_a_hard_looking_session(tmp_path: Path) -> None:
    review = review_week(folder(tmp_path), [audit(MONDAY, bands=(10, 20, 60, 0), in_band=False, codes=("too_high",))])
    assert review.judged == 0
    assert review.questions[0].head.startswith("Monday 12 January")
    assert review.decisions[0] == review.questions[0]
    assert review.audits[0].verdict.findings[0].code == "not_judged"


def test_week_and_block_take_the_season_for_drift(tmp_path: Path) -> None:
    rising = series([0.92, 0.93, 0.94, 0.95, 0.96, 0.97], first=MONDAY, step=4)
    last = rising[-1].audit
    review = review_week(folder(tmp_path), [last], season=rising)
    assert review.creeps[0].head == "Cycling is creeping up."
    assert review.creeps[0] in review.decisions
    assert review.audits == (last,)
    assert BIKE.target_top == 200
