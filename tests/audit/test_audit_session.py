"""Whole audits: which load is used, what is said about it, and what the result must keep."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_rows, make_zone_set, power_rows, wavy_ride

from steadyband.audit import audit_session
from steadyband.audit.model import GAP, PAUSE, Audit
from steadyband.ground.said import Said
from steadyband.recording.model import Rows
from steadyband.steptest.model import Check, HrLimits, ZoneSet
from steadyband.told.notes import quality_notes

RUN: dict[str, Any] = {"sport": "running", "unit": "min/km", "floor": 2.4, "target_top": 2.8, "ceiling": 3.0}


def audit(rows: Rows, zone_set: ZoneSet | None = None, **info: Any) -> Audit:
    return audit_session(rows, make_info(**info), Chosen(zone_set or make_zone_set()), SETTINGS)


def test_a_ride_is_judged_by_power() -> None:
    found = audit(wavy_ride(3000))
    assert found.load is not None
    assert (found.load.channel, found.load.unit) == ("power", "W")
    assert found.quality.notes == ()
    # by hand: the ground is 40 sin(x / 900) m; its grade is 2 % or more where cos(x / 900) >= 0.45, so the first climb ends
    # at x = 900 acos(0.45) = 993 m, 40 sin(acos(0.45)) = 35.7 m higher
    assert found.climbs[0].length_m == pytest.approx(993, abs=30)
    assert found.climbs[0].height_m == pytest.approx(35.7, abs=0.7)


def test_a_run_is_judged_by_flat_equivalent_speed() -> None:
    # By hand from SOURCES S5 (published polynomial): C(0.10) = 155.4e-5 - 30.4e-4 - 43.3e-3 + 46.3e-2 + 1.95 + 3.6
    # = 0.001554 - 0.00304 - 0.0433 + 0.463 + 1.95 + 3.6 = 5.968214; C(0) = 3.6; 2.0 m/s x 5.968214 / 3.6 = 3.3157
    speed = np.full(1800, 2.0)
    distance = np.cumsum(speed)
    rows = make_rows({"speed_mps": speed, "distance_m": distance, "altitude_m": 100 + 0.1 * distance})
    found = audit(rows, make_zone_set(**RUN), sport="running")
    assert found.load is not None
    assert (found.load.channel, found.load.unit) == ("flat_equivalent_speed", "m/s")
    assert found.load.mean == pytest.approx(3.3157, abs=0.0001)
    assert found.bands is not None
    assert found.bands["heavy"].share == 1.0
    assert found.quality.notes == ()


def test_a_run_without_altitude_says_that_hills_are_left_out() -> None:
    found = audit(make_rows({"speed_mps": np.full(1800, 2.6)}), make_zone_set(**RUN), sport="running")
    assert found.load is not None
    assert found.load.mean == pytest.approx(2.6)
    assert "speed is taken as it is, hills could not be accounted for" in quality_notes(found)[0]


def test_a_run_with_a_hole_in_its_altitude_counts_it_as_flat() -> None:
    speed = np.full(1800, 2.0)
    altitude = 100 + 0.1 * np.cumsum(speed)
    altitude[600:900] = np.nan
    rows = make_rows({"speed_mps": speed, "distance_m": np.cumsum(speed), "altitude_m": altitude})
    found = audit(rows, make_zone_set(**RUN), sport="running")
    assert "Grade is unknown for 300 of 1800 active seconds, which count as flat." in quality_notes(found)
    assert found.traces.load[700] == pytest.approx(2.0)


def test_a_run_with_a_test_in_watts_is_judged_by_power() -> None:
    found = audit(power_rows(np.full(1800, 190.0)), make_zone_set(sport="running"), sport="running")
    assert found.load is not None
    assert found.load.channel == "power"


def test_without_power_heart_rate_is_used_and_said_not_to_see_surges() -> None:
    rows = make_rows({"heart_rate_bpm": np.full(1800, 118.0), "speed_mps": np.full(1800, 8.0)})
    found = audit(rows, threshold=260.0)
    assert found.load is not None
    assert (found.load.channel, found.load.unit, found.load.mean) == ("heart_rate", "bpm", 118.0)
    assert found.surges is None
    assert found.verdict.in_band is True
    assert "cannot see micro-surges" in quality_notes(found)[0]


def test_heart_rate_needs_every_limit_that_the_test_has_an_edge_for() -> None:
    rows = make_rows({"heart_rate_bpm": np.full(1800, 118.0), "speed_mps": np.full(1800, 8.0)})
    assert audit(rows, make_zone_set(hr=HrLimits(None, 120.0, 122.0))).load is None
    assert audit(rows, make_zone_set(hr=HrLimits(115.0, 120.0, None))).load is None
    assert audit(rows, make_zone_set(ceiling=None, hr=HrLimits(115.0, 120.0, None))).load is not None


def test_other_sports_without_a_test_still_show_their_heart_rate() -> None:
    rows = make_rows({"heart_rate_bpm": np.full(1800, 118.0)})
    found = audit_session(
        rows,
        make_info(sport="rowing"),
        Chosen(None, None, None, Said("no_test_of_sport", {"kind": "rowing"})),
        SETTINGS,
    )
    assert found.load is not None
    assert found.load.channel == "heart_rate"


@pytest.mark.parametrize(
    ("changes", "choice", "words"),
    [
        ({"ceiling": None}, {}, "The ceiling is open: the test ended at 200 W"),
        ({"jumped": True}, {}, "No step of the test lay inside the steady band"),
        ({"easy_empty": True}, {}, "no easy band"),
        ({}, {"freshness": "ageing", "age_days": 60}, "The test was 60 days old (ageing): test again."),
        ({}, {"freshness": "stale", "age_days": 120}, "The test was 120 days old (stale): test again."),
    ],
)
def test_what_has_to_be_said_about_the_test(changes: dict[str, Any], choice: dict[str, Any], words: str) -> None:
    chosen = Chosen(make_zone_set(**changes), **choice)
    found = audit_session(power_rows(np.full(1800, 190.0)), make_info(), chosen, SETTINGS)
    assert any(words in note for note in quality_notes(found)), quality_notes(found)


def test_an_overridden_check_is_said_in_every_audit() -> None:
    zone_set = make_zone_set()
    test = dataclasses.replace(zone_set.test, override="coffee before the baseline")
    blocked = dataclasses.replace(zone_set, test=test, checks=(Check("baseline_high", "block", 0, "too high"),))
    found = audit(power_rows(np.full(1800, 190.0)), blocked)
    assert found.zones is not None
    assert found.zones.override == "coffee before the baseline"
    assert any("coffee before the baseline" in note for note in quality_notes(found))
    fine = dataclasses.replace(zone_set, test=test)
    assert audit(power_rows(np.full(1800, 190.0)), fine).quality.notes == ()


def test_a_threshold_below_the_ceiling_is_said() -> None:
    found = audit(power_rows(np.full(1800, 190.0)), threshold=205.0)
    assert any("The upper threshold of 205 W lies below the ceiling of 212 W" in note for note in quality_notes(found))


def test_notes_of_the_reader_come_first() -> None:
    found = audit_session(
        power_rows(np.full(1800, 190.0)),
        make_info(),
        Chosen(make_zone_set()),
        SETTINGS,
        (Said("spikes", {"text": "two spikes left out"}),),
    )
    assert quality_notes(found)[0] == "two spikes left out"


def test_seconds_and_traces_cover_every_row() -> None:
    rows = wavy_ride(3000)
    found = audit(rows)
    seconds = found.seconds
    assert seconds.elapsed == seconds.recorded + seconds.pause + seconds.gap == 3000
    assert seconds.pause == 40
    for trace in (found.traces.ribbon, found.traces.load, found.traces.band_load, found.traces.gathered_above):
        assert len(trace) == 3000
    assert np.count_nonzero(found.traces.ribbon == PAUSE) == 40
    assert np.count_nonzero(found.traces.ribbon == GAP) == 0
    assert found.bands is not None
    for code, band in enumerate(found.bands.values()):
        assert np.count_nonzero(found.traces.ribbon == code) == band.seconds
    assert found.surges is not None
    assert found.surges.work_above_kj == pytest.approx(found.traces.gathered_above[-1] / 1000)


@pytest.mark.parametrize("length", [1, 2, 20])
def test_very_short_sessions_are_audited_without_a_stumble(length: int) -> None:
    assert audit(wavy_ride(length)).verdict.in_band is None
    assert audit(make_rows({"heart_rate_bpm": np.full(length, 118.0)})).verdict.in_band is None


def test_where_nothing_is_active_nothing_is_measured() -> None:
    found = audit(make_rows({"power_w": np.zeros(3000), "speed_mps": np.zeros(3000)}))
    assert (found.load, found.bands, found.verdict.in_band) == (None, None, None)


def test_the_same_session_gives_the_same_audit() -> None:
    first, second = audit(wavy_ride(3000)), audit(wavy_ride(3000))
    assert (first.bands, first.surges, first.drift, first.verdict) == (
        second.bands,
        second.surges,
        second.drift,
        second.verdict,
    )


def test_the_rows_are_left_as_they_were() -> None:
    rows = wavy_ride(3000)
    before = {name: values.copy() for name, values in rows.channels.items()}
    audit(rows)
    for name, values in before.items():
        np.testing.assert_array_equal(rows.channels[name], values)
