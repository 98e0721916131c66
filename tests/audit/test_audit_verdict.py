"""Every finding raised and not raised at its limit, in made-up sessions counted by hand."""

from __future__ import annotations

import dataclasses
from typing import Any

import audit_builders as builders
import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_rows, make_zone_set, power_rows, text_of

from steadyband.audit.model import Audit, Finding, SessionInfo
from steadyband.audit.session import audit_session
from steadyband.ground.said import Said
from steadyband.ground.settings import BandSettings, Settings
from steadyband.steptest.model import HrLimits
from steadyband.told import finding_text
from steadyband.told.notes import quality_notes

ONE_SECOND = dataclasses.replace(SETTINGS, bands=BandSettings(window_s=1))
"""Bands by the load of each second, so that seconds in band can be counted by hand."""


def make_info(**changes: Any) -> SessionInfo:
    """A session that somebody labelled, unless a test says otherwise."""
    return builders.make_info(**{"intent_source": "sessions.csv", **changes})


def audit(power: np.ndarray, heart: np.ndarray | None = None, settings: Settings = SETTINGS, **info: Any) -> Audit:
    return audit_session(power_rows(power, heart), make_info(**info), Chosen(make_zone_set()), settings)


def codes(found: Audit) -> list[str]:
    return [finding.code for finding in found.verdict.findings]


def finding(found: Audit, code: str) -> Finding:
    return next(item for item in found.verdict.findings if item.code == code)


def with_block(value: float, seconds: int, base: float = 190.0, length: int = 3600) -> np.ndarray:
    load = np.full(length, base)
    load[1000 : 1000 + seconds] = value
    return load


def test_a_steady_session_is_in_band() -> None:
    found = audit(np.full(3600, 190.0), np.full(3600, 118.0))
    assert (found.verdict.findings, found.verdict.in_band, found.verdict.agreement) == ((), True, 1.0)


@pytest.mark.parametrize(("watts", "raised"), [(211.9, False), (212.0, True)])
def test_too_high_by_the_mean(watts: float, raised: bool) -> None:
    found = audit(np.full(3600, watts))
    assert ("too_high" in codes(found)) is raised
    if raised:
        text = text_of(found, "too_high")
        assert "mean power was 212 W, at or above the ceiling of 212 W" in text
        assert "between 180 W and 200 W" in text


@pytest.mark.parametrize(("first", "raised"), [(117.0, False), (121.0, True)])
def test_by_heart_rate_too_high_looks_at_the_first_forty_minutes(first: float, raised: bool) -> None:
    """By hand: 6 bpm an hour over 2 h; the first 40 min average 2 bpm over their beginning, the whole 6; the ceiling is 122."""
    beats = first + 6 * np.arange(7200) / 3600
    assert beats.mean() > 122
    found = audit_session(make_rows({"heart_rate_bpm": beats}), make_info(), Chosen(make_zone_set()), SETTINGS)
    assert ("too_high" in codes(found)) is raised
    if raised:
        evidence = finding(found, "too_high").evidence
        assert (round(evidence["mean_band_load"], 1), evidence["judged_s"]) == (123.0, 2400)
        assert "mean heart rate of the first 40 min was 123 bpm" in text_of(found, "too_high")
    assert any("first 40 active minutes" in note for note in quality_notes(found))


def test_what_too_high_tells() -> None:
    evidence = finding(audit(with_block(225.0, 2600, base=190.0), settings=ONE_SECOND), "too_high").evidence
    assert evidence["heavy_share"] == pytest.approx(2600 / 3600)
    # 2026-05-02T06:31:04Z + 1000 s = 06:47:44Z, 08:47 in Berlin in summer
    assert evidence["places"] == [{"time_of_day": "08:47", "start_s": 1000, "length_s": 2600, "mean_load": 225.0}]
    assert evidence["settings"] == {"bands.window_s": 1}


def test_a_part_above_the_ceiling_is_for_surges_and_drift_to_find() -> None:
    assert codes(audit(with_block(220.0, 900))) == ["surges", "zone_3_drift"]


@pytest.mark.parametrize(("count", "raised"), [(5, False), (6, True)])
def test_six_surges_an_hour(count: int, raised: bool) -> None:
    load = np.full(3600, 145.0)
    for number in range(count):
        load[200 + 300 * number : 211 + 300 * number] = 310.0
    # by hand (tests/audit/test_audit_surges.py): each stands 13 s above 212 W with 644 J, 3.04 s of 212 W; six make 18.2 s an hour
    found = audit(load, intent="easy")
    assert found.surges is not None
    assert (found.surges.micro, found.surges.seconds_above) == (count, 13 * count)
    assert ("surges" in codes(found)) is raised
    if raised:
        evidence, text = finding(found, "surges").evidence, text_of(found, "surges")
        assert (evidence["micro"], evidence["surges_per_hour"]) == (6, 6.0)
        assert [place["start_s"] for place in evidence["places"]] == [198, 498, 798, 1098, 1398]
        # 6 x 0.644 kJ; ten seconds of 212 W are 2.1 kJ, thirty are 6.4 kJ
        assert "3.9 kJ an hour (flagged from 2.1 kJ, with fewer surges from 6.4 kJ)" in text


@pytest.mark.parametrize(("seconds", "raised"), [(76, False), (77, True)])
def test_one_long_effort_counts_by_its_work(seconds: int, raised: bool) -> None:
    # by hand: from 150 W to 300 W the 11-s mean climbs by 150 / 11 W a second; a block of n seconds stands above 212 W with
    # (n - 10) x 88 J and twice what its ends do: 5 to 10 of 11 seconds lie 6.18, 19.82, 33.45, 47.09, 60.73, 74.36 W above, in sum 241.6 J;
    # 30 s of 212 W are 6360 J, so n = 10 + (6360 - 483.3) / 88 = 76.8
    found = audit(with_block(300.0, seconds, base=150.0), intent="easy")
    assert ("surges" in codes(found)) is raised
    if raised:
        assert "0 micro-surges and 1 sustained effort above the ceiling of 212 W" in text_of(found, "surges")


@pytest.mark.parametrize(("seconds", "raised"), [(531, False), (532, True)])
def test_zone_3_drift_from_a_ten_minute_mean_at_the_ceiling_on(seconds: int, raised: bool) -> None:
    # by hand: n seconds at 220 W among 600, the others at 150 W, mean 212 W or more where 70 n >= 62 x 600, n = 532
    found = audit(np.concatenate((np.full(2000, 150.0), np.full(seconds, 220.0))))
    assert ("zone_3_drift" in codes(found)) is raised
    if raised:
        drifted, text = finding(found, "zone_3_drift"), text_of(found, "zone_3_drift")
        assert "lower heavy" in text
        assert "at or above the ceiling of 212 W for 10 min" in text
        assert drifted.evidence["load_longest_s"] == 600
        # 06:31:04Z + 1932 s = 07:03:16Z
        assert drifted.evidence["places"] == [{"time_of_day": "09:03", "start_s": 1932, "length_s": 600}]


def test_the_top_of_the_band_never_leaves_it() -> None:
    found = audit(np.full(3600, 208.0))  # target top 200 W, ceiling 212 W
    assert (found.verdict.in_band, found.verdict.findings) == (True, ())
    assert found.drift is not None
    assert found.drift.top_of_band_s == 3600


@pytest.mark.parametrize(("second_half", "raised"), [(125.9, False), (126.1, True)])
def test_heart_rate_drift_over_five_percent(second_half: float, raised: bool) -> None:
    heart = np.concatenate((np.full(2100, 120.0), np.full(1500, second_half)))
    found = audit(np.full(3600, 190.0), heart)
    assert ("heart_rate_drift" in codes(found)) is raised
    if raised:
        drifted, text = finding(found, "heart_rate_drift"), text_of(found, "heart_rate_drift")
        assert drifted.agreement == 1.0
        for word in ("airflow", "Heat", "fluid", "fatigue", "duration", "no published cut-off exists"):
            assert word in text


@pytest.mark.parametrize(
    ("seconds", "length", "raised"), [(299, 2000, False), (300, 2000, True), (359, 3600, False), (360, 3600, True)]
)
def test_heart_rate_above_the_test(seconds: int, length: int, raised: bool) -> None:
    heart = np.full(length, 118.0)
    heart[200 : 200 + seconds] = 123.0
    found = audit(np.full(length, 190.0), heart)
    assert ("heart_rate_above_test" in codes(found)) is raised
    if raised:
        assert finding(found, "heart_rate_above_test").evidence["places"][0]["length_s"] == seconds


@pytest.mark.parametrize(("seconds", "raised"), [(2159, False), (2160, True)])
def test_too_low_from_sixty_percent_easy(seconds: int, raised: bool) -> None:
    found = audit(with_block(150.0, seconds), settings=ONE_SECOND)
    assert ("too_low" in codes(found)) is raised
    unlabelled = audit(with_block(150.0, seconds), settings=ONE_SECOND, intent_source="assumed")
    assert codes(unlabelled) == []


@pytest.mark.parametrize(("seconds", "intent"), [(2879, "endurance"), (2880, "easy")])
def test_from_four_fifths_below_the_floor_an_unlabelled_session_is_taken_as_easy(seconds: int, intent: str) -> None:
    # By hand: four fifths of 3600 s are 2880 s.
    load = np.full(3600, 190.0)
    load[:seconds] = 150.0
    found = audit(load, settings=ONE_SECOND, intent_source="assumed")
    assert found.info.intent == intent
    notes = [text for text in quality_notes(found) if text.startswith("Taken as easy")]
    assert len(notes) == (intent == "easy")
    assert all(",endurance,cycling," in text for text in notes)
    labelled = audit(load, settings=ONE_SECOND)
    assert (labelled.info.intent, codes(labelled)) == ("endurance", ["too_low"])


def test_an_unlabelled_session_is_judged_for_what_can_harm() -> None:
    load = np.full(3600, 150.0)
    load[2000:2400] = 240.0
    found = audit(load, settings=ONE_SECOND, intent_source="assumed")
    assert (found.info.intent_source, found.verdict.in_band) == ("look", False)
    assert "surges" in codes(found)


def test_coasting_is_left_out_of_too_low() -> None:
    load = np.full(3600, 190.0)
    load[:1600] = 0.0  # coasting
    load[1600 : 1600 + 1199] = 150.0
    # by hand: 1199 of 2000 seconds other than coasting are easy, 59.95 %; with coasting it would be 77.8 %
    found = audit(load, settings=ONE_SECOND)
    assert found.bands is not None
    assert found.bands["easy"].share > 0.77
    assert found.seconds.coasting == 1600
    assert "too_low" not in codes(found)
    load[2799] = 150.0
    assert "too_low" in codes(audit(load, settings=ONE_SECOND))


def test_coasting_alone_is_not_too_low() -> None:
    assert codes(audit(np.zeros(3600))) == []


@pytest.mark.parametrize(("seconds", "raised"), [(899, False), (900, True)])
def test_an_easy_session_may_not_be_a_quarter_steady(seconds: int, raised: bool) -> None:
    found = audit(with_block(190.0, seconds, base=150.0), settings=ONE_SECOND, intent="easy")
    assert codes(found) == (["steady_in_easy"] if raised else [])
    assert found.verdict.in_band is not raised


def test_heavy_counts_in_an_easy_session() -> None:
    load = with_block(190.0, 600, base=150.0)
    load[2000:2300] = 220.0
    assert "steady_in_easy" in codes(audit(load, settings=ONE_SECOND, intent="easy"))


def test_without_an_easy_band_an_easy_run_is_a_finding_about_the_plan() -> None:
    zones = make_zone_set(sport="running", unit="min/km", floor=2.4, target_top=2.8, ceiling=3.0, easy_empty=True)
    rows = make_rows({"speed_mps": np.full(3600, 2.5), "heart_rate_bpm": np.full(3600, 118.0)})
    found = audit_session(rows, make_info(sport="running", intent="easy"), Chosen(zones), SETTINGS)
    assert codes(found) == ["no_easy_band"]
    assert "on the bike or on foot walking" in text_of(found, "no_easy_band")
    steady = audit_session(rows, make_info(sport="running"), Chosen(zones), SETTINGS)
    assert steady.verdict.in_band is True


def test_a_test_that_ended_too_early_only_calls_easy_what_it_tested() -> None:
    # all that is known: up to 220 W the athlete is below the first rise
    zones = make_zone_set(floor=None, target_top=220.0, ceiling=None, hr=HrLimits(None, 120.0, None))
    low = audit_session(power_rows(np.full(3600, 190.0)), make_info(), Chosen(zones), SETTINGS)
    assert codes(low) == ["too_low"]
    high = audit_session(power_rows(np.full(3600, 220.0)), make_info(), Chosen(zones), SETTINGS)
    assert "too_low" not in codes(high)
    notes = " ".join(quality_notes(low))
    assert "The floor lies above the last load tested (220 W)" in notes
    assert "The ceiling is open" in notes


def not_judged(found: Audit) -> list[str]:
    assert (found.verdict.in_band, found.verdict.agreement) == (None, None)
    (only,) = found.verdict.findings
    assert (only.code, only.agreement) == ("not_judged", None)
    return list(only.evidence["reasons"])


@pytest.mark.parametrize(("active", "judged"), [(1199, False), (1200, True)])
def test_twenty_active_minutes_are_needed(active: int, judged: bool) -> None:
    found = audit(np.full(active, 190.0))
    assert found.verdict.in_band is (True if judged else None)
    if not judged:
        assert not_judged(found) == ["too_short"]
        assert found.bands is not None


@pytest.mark.parametrize(("missing", "judged"), [(720, True), (721, False)])
def test_a_fifth_unmeasured_is_the_most(missing: int, judged: bool) -> None:
    load = np.full(3600, 190.0)
    load[:missing] = np.nan
    found = audit(load)
    assert found.seconds.unmeasured == missing
    assert found.verdict.in_band is (True if judged else None)
    if not judged:
        assert not_judged(found) == ["unmeasured"]
        assert "20 % of the active time is unmeasured (limit 20 %)" in text_of(found, "not_judged")


@pytest.mark.parametrize("intent", ["hard", "test", "race", "other"])
def test_other_intents_are_counted_but_not_judged(intent: str) -> None:
    found = audit(np.full(3600, 250.0), intent=intent)
    assert not_judged(found) == ["intent"]
    assert "counted" in text_of(found, "not_judged")
    assert found.bands is not None
    assert found.bands["heavy"].share == 1.0


def test_no_usable_test_is_said_with_its_reason() -> None:
    choice = Chosen(None, None, None, Said("no_test_of_sport", {"kind": "cycling"}))
    found = audit_session(power_rows(np.full(3600, 190.0)), make_info(), choice, SETTINGS)
    assert not_judged(found) == ["no_test"]
    assert text_of(found, "not_judged") == "Not judged: there is no step test for cycling."
    assert (found.zones, found.bands, found.surges, found.drift) == (None, None, None, None)
    assert found.load is not None
    assert found.load.mean == 190.0


def test_a_test_without_usable_zones_is_no_test() -> None:
    choice = Chosen(dataclasses.replace(make_zone_set(), usable=False))
    found = audit_session(power_rows(np.full(3600, 190.0)), make_info(), choice, SETTINGS)
    assert not_judged(found) == ["no_test"]
    assert found.zones is None


def test_nothing_to_judge_by() -> None:
    rows = make_rows({"speed_mps": np.full(3600, 8.0)})
    found = audit_session(rows, make_info(), Chosen(make_zone_set()), SETTINGS)
    assert not_judged(found) == ["no_load"]
    assert (found.load, found.bands) == (None, None)
    assert found.seconds.unmeasured == 3600


def test_several_reasons_are_all_named() -> None:
    found = audit_session(
        make_rows({"speed_mps": np.full(20, 8.0)}), make_info(intent="race"), Chosen(None, None, None), SETTINGS
    )
    assert not_judged(found) == ["intent", "no_test", "too_short"]


def test_at_most_five_places_in_time_order() -> None:
    load = np.full(3600, 150.0)
    for number in range(8):
        load[100 + 400 * number : 100 + 400 * number + 120 + number] = 230.0
    places = finding(audit(load, settings=ONE_SECOND, intent="easy"), "steady_in_easy").evidence["places"]
    assert [place["length_s"] for place in places] == [123, 124, 125, 126, 127]
    assert [place["start_s"] for place in places] == sorted(place["start_s"] for place in places)


def test_a_pace_is_worded_as_faster_and_slower() -> None:
    zones = make_zone_set(sport="running", unit="min/km", floor=2.5, target_top=2.8, ceiling=3.0)
    fast = audit_session(
        make_rows({"speed_mps": np.full(3600, 3.2)}), make_info(sport="running"), Chosen(zones), SETTINGS
    )
    # by hand: 1000 / 3.2 = 312.5 s, 5:12 (half to even); 1000 / 2.8 = 357.1 s, 5:57; 1000 / 3.0 = 333.3 s, 5:33;
    # 1000 / 2.5 = 400 s, 6:40
    text = text_of(fast, "too_high")
    assert "mean flat-equivalent pace was 5:12 min/km, at or faster than the ceiling of 5:33 min/km" in text
    assert "faster than the ceiling of 5:33 min/km" in text
    assert "between 6:40 min/km and 5:57 min/km" in text
    slow = audit_session(
        make_rows({"speed_mps": np.full(3600, 2.2)}), make_info(sport="running"), Chosen(zones), SETTINGS
    )
    assert "easy, slower than 6:40 min/km" in text_of(slow, "too_low")


def test_heart_rate_findings_say_at_which_load() -> None:
    heart = np.concatenate((np.full(2100, 120.0), np.full(1500, 130.0)))
    found = audit(np.full(3600, 190.0), heart)
    assert "120 bpm at 190 W, then 130 bpm at 190 W" in text_of(found, "heart_rate_drift")


@pytest.mark.parametrize("words", ["diagnos", "injur"])
def test_no_finding_claims_to_diagnose(words: str) -> None:
    heart = np.concatenate((np.full(2100, 120.0), np.full(1500, 130.0)))
    found = audit(with_block(300.0, 1200), heart)
    for item in found.verdict.findings:
        assert words not in finding_text(found, item)
