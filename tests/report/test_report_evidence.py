"""Evidence in words. Expected texts are written by hand from the numbers given."""

from __future__ import annotations

from report_builders import run_without_easy, steady_ride

from steadyband.report.common.evidence import evidence_rows, places, settings_text, slope_text


def test_numbers_get_words_and_units() -> None:
    evidence = {
        "surges_per_hour": 18.24,
        "work_above_kj": 31.26,
        "seconds_above": 480,
        "target_top": 200.0,
        "load_slope_per_h": 8.4,
        "hr_drift_percent": 6.34,
        "hr_ceiling": 128.0,
        "unheard_of": 3,
        "reasons": ["x"],
        "settings": {"drift.bin_s": 300},
        "places": [],
    }
    assert evidence_rows(steady_ride(), evidence) == (
        ("surges an active hour", "18.2"),
        ("work above the ceiling", "31.3 kJ"),
        ("time above the ceiling", "8 min"),
        ("target top", "200 W"),
        ("trend of the load", "+8 W an hour"),
        ("heart-rate drift", "6.3 %"),
        ("heart-rate limit at the ceiling", "128 bpm"),
        ("unheard of", "3"),
    )


def test_missing_values_are_dashes() -> None:
    assert evidence_rows(steady_ride(), {"floor": None, "mean_band_load": float("nan")}) == (
        ("floor", "–"),
        ("mean band load", "–"),
    )


def test_places_begin_with_the_time_of_day() -> None:
    given = {"places": [{"time_of_day": "07:41", "start_s": 600, "length_s": 31, "grade": None, "highest": 288.0}]}
    # by hand: the ride starts at 07:31:04; 600 s later it is 07:41:04
    assert places(steady_ride(), given) == ("07:41:04 (0:10:00 into the session), 31 s long, highest 288 W",)
    assert places(steady_ride(), {}) == ()


def test_settings_used_carry_their_units() -> None:
    assert settings_text(steady_ride(), {"settings": {"drift.bin_s": 300, "verdict.easy_share": 0.6}}) == (
        "drift.bin_s 300 s, verdict.easy_share 0.6"
    )
    assert settings_text(steady_ride(), {}) == ""


def test_slope_of_a_speed_is_in_km_per_hour() -> None:
    assert slope_text(run_without_easy(), -0.05) == "−0.2 km/h"  # by hand: 0.05 x 3.6 = 0.18
