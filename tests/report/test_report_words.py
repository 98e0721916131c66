"""Words: each expected text is written by hand from the rules of the language and the calendar."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from report_builders import drifting_ride, hard_session, run_without_easy, steady_ride, unjudged_ride

from steadyband.report.common import words
from steadyband.report.common.words import Loads
from steadyband.told.findings import WORDS


def test_dates_and_spans() -> None:
    assert words.day_text(date(2026, 5, 12)) == "Tue 12 May"  # calendar: 12 May 2026 is a Tuesday
    assert words.span_text(date(2026, 5, 11), date(2026, 5, 17)) == "11 to 17 May 2026"
    assert words.span_text(date(2026, 4, 27), date(2026, 5, 3)) == "27 April to 3 May 2026"
    assert words.span_text(date(2025, 12, 29), date(2026, 1, 4)) == "29 December 2025 to 4 January 2026"


@pytest.mark.parametrize(
    ("days", "text"), [(0, "made the same day"), (1, "1 day old"), (20, "20 days old"), (28, "4 weeks old")]
)
def test_age(days: int, text: str) -> None:
    assert words.age_text(days) == text


@pytest.mark.parametrize(
    ("share", "text"), [(None, "–"), (0.0, "0 %"), (0.001, "under 1 %"), (0.126, "13 %"), (1.0, "100 %")]
)
def test_share(share: float | None, text: str) -> None:
    assert words.share_text(share) == text


def test_missing_is_a_dash_and_never_nought() -> None:
    assert words.number_text(None, "bpm") == "–"
    assert words.number_text(float("nan"), "bpm") == "–"
    assert words.signed_text(None) == "–"
    assert words.signed_text(-0.02, "km/h", 1) == "0.0 km/h"
    assert words.signed_text(-3.4, "W") == "−3 W"
    assert Loads("W").text(None) == "–"
    assert words.zero_or_time(0) == "0"


def test_ranges_of_loads() -> None:
    assert Loads("W").range(206, 219) == "206 to 219 W"
    assert Loads("W").range(206, None) == "206 W or more"
    assert Loads("W").range(None, None) == "above the last load"
    # by hand: 1000 m / 2.5 m/s = 400 s = 6:40; 1000 m / (10/3 m/s) = 300 s = 5:00
    assert Loads("min/km").range(2.5, 10 / 3) == "6:40 to 5:00 min/km"
    assert Loads("min/km").range(2.5, None) == "6:40 min/km or faster"
    assert Loads("bpm").range(118.2, 124.4) == "118 to 124 bpm"


def test_clock_follows_the_local_time_through_a_change_of_clocks() -> None:
    # calendar: Europe/Lisbon goes from +00:00 to +01:00 at 01:00 UTC on 29 March 2026
    start = datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
    ride = steady_ride()
    info = replace(ride.info, start=start, local_start=start.astimezone(ZoneInfo("Europe/Lisbon")))
    moved = replace(ride, info=info)
    assert words.clock_of(moved, 0) == "00:30:00"
    assert words.clock_of(moved, 3600) == "02:30:00"


def test_verdicts_in_words() -> None:
    assert words.verdict_label(steady_ride()) == "in band"
    assert words.verdict_label(drifting_ride()) == "load drift, heart-rate drift, too high (unsure)"
    assert words.verdict_label(hard_session()) == "hard session, not judged"
    assert words.verdict_label(unjudged_ride()) == "not judged"
    assert words.agreement_text(run_without_easy()) == "unsure: agreement 61 %"
    assert words.agreement_text(unjudged_ride()) == ""


def test_heart_rate_as_the_load_is_said_to_be_blind_to_micro_surges() -> None:
    ride = steady_ride()
    assert ride.load is not None
    judged = replace(ride, load=replace(ride.load, channel="heart_rate", unit="bpm"))
    assert "cannot see micro-surges" in words.compared_text(judged)
    assert "cannot see micro-surges" not in words.compared_text(ride)


def test_lists_and_counts() -> None:
    assert words.counted(1, "surge") == "1 surge"
    assert words.counted(1204, "record") == "1,204 records"
    assert words.sentence("held the band") == "Held the band."
    assert words.sentence("Really?") == "Really?"


def test_every_finding_code_has_a_label_of_its_own() -> None:
    assert len({item.label for item in WORDS.values()}) == len(WORDS)
    assert words.label_of("some_new_code") == "some new code"
