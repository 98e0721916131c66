"""The zones object of the output contract, and the sentences."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from steptest_data import bike, curve_test, run, step

from steadyband.steptest import StepTest, make_zones
from steadyband.steptest.output import zone_set_to_dict
from steadyband.steptest.sentences import zone_sentences

RUNNER = [(4.0, "walk", 1.0), (5.0, "walk", 1.0), (6.0, "walk", 1.1), (8.0, "run", 1.5), (9.0, "run", 2.4)]


def shown(test: StepTest) -> dict[str, Any]:
    """Through strict JSON and back: NaN and inf raise."""
    return json.loads(json.dumps(zone_set_to_dict(make_zones(test)), allow_nan=False))


def said(test: StepTest) -> str:
    return "\n".join(zone_sentences(make_zones(test)))


def test_keys_of_the_contract(tmp_path: Path) -> None:
    zones = shown(bike(tmp_path))
    wanted = {"schema", "test", "sport", "date", "state", "load_unit", "usable", "override", "plateau", "edges", "hr"}
    assert wanted | {"curve", "checks", "methods", "easy_empty"} <= set(zones)
    assert (zones["schema"], zones["test"], zones["date"]) == (2, "2026-04-20-bike.toml", "2026-04-20")
    assert set(zones["edges"]["ceiling"]) >= {"value", "range", "at_least"}
    floor, ceiling = (zones["edges"][name] for name in ("floor", "ceiling"))
    assert 160 < floor["value"] < 180 < ceiling["value"] < 220  # common practice, see test_steptest_zones
    assert floor["range"][0] < floor["value"] < floor["range"][1]
    assert zones["hr_ranges"]["floor"][0] < zones["hr"]["floor"] < zones["hr_ranges"]["floor"][1]
    assert zones["curve"][0] | {"fitted": 0} == {"load": 0.0, "lactate": 1.1, "fitted": 0, "sd": 0.18, "hr_max": None}
    assert set(zones["methods"][0]) == {"name", "value", "source"}


def test_open_and_missing_edges_are_null(tmp_path: Path) -> None:
    open_end = shown(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.6], baseline="[1.0]"))["edges"]
    assert (open_end["ceiling"]["value"], open_end["ceiling"]["at_least"]) == (None, 160.0)
    none = shown(curve_test(tmp_path, [1.0, 1.0, 1.0, 1.1], baseline="[1.0]"))["edges"]
    assert (none["floor"]["value"], none["floor"]["range"][1]) == (None, None)


def test_a_blocked_test_has_no_zones(tmp_path: Path) -> None:
    zones = shown(bike(tmp_path, baseline="[1.6]"))
    assert not zones["usable"]
    assert {edge["value"] for edge in zones["edges"].values()} == {None}
    assert set(zones["hr"].values()) == {None}
    assert zones["checks"][0] | {"text": ""} == {"code": "baseline_high", "severity": "block", "step": 0, "text": ""}
    overridden = shown(bike(tmp_path, baseline="[1.6]", override='"always high"'))
    assert (overridden["usable"], overridden["override"]) == (True, "always high")


def test_pace_tests_carry_metres_a_second_and_ranges_from_low_to_high_load(tmp_path: Path) -> None:
    rows = [(8.0, "run", 1.0), (7.0, "run", 1.0), (6.5, "run", 1.0), (6.0, "run", 1.5), (5.5, "run", 2.6)]
    zones = shown(run(tmp_path, rows, '"min/km"', baseline="[1.0]"))
    floor, ceiling = zones["edges"]["floor"], zones["edges"]["ceiling"]
    assert 6.0 < floor["value"] < 6.5
    assert floor["value_mps"] == pytest.approx(1000 / 60 / floor["value"])
    assert ceiling["range"][0] > ceiling["range"][1]  # a slower pace is the larger number
    assert ceiling["range_mps"][0] < ceiling["range_mps"][1]
    assert zones["curve"][0]["load"] is None  # standing still has no pace
    assert zones["curve"][0]["load_mps"] == 0.0


def test_sentences_of_a_bike_test(tmp_path: Path) -> None:
    edges = make_zones(bike(tmp_path)).edges
    floor, top, ceiling = (f"{value:.0f}" for value in (edges.floor, edges.target_top, edges.ceiling))
    text = said(bike(tmp_path))
    assert f"Easy: everything below {floor} W (heart rate under 118 bpm)." in text
    assert f"Steady: {floor} to {ceiling} W; keep the average of a session between {floor} and {top} W" in text
    assert "lower three quarters" in text
    assert f"Keep below: {ceiling} W (heart rate about 130 bpm)." in text
    assert "80 % ranges" in text
    assert "By eye: step 4 (180 W) is the first that stands up" in text
    assert "How far the methods disagree" in text
    assert "draws the line between moderate and heavy at the first rise itself" in text
    assert "moderate domain" not in text


def test_sentences_of_a_run_test_in_pace(tmp_path: Path) -> None:
    rows = [(8.0, "run", 1.0), (7.0, "run", 1.0), (6.5, "run", 1.0), (6.0, "run", 1.5), (5.5, "run", 2.6)]
    text = said(run(tmp_path, rows, '"min/km"', baseline="[1.0]", incline="1"))
    assert "Easy: everything slower than" in text
    assert "Keep slower than:" in text
    assert "below" not in text
    assert "flat-equivalent" in text


def test_no_easy_running_is_said_plainly(tmp_path: Path) -> None:
    text = said(run(tmp_path, RUNNER, baseline="[1.0]"))
    assert "every run is at least steady; put easy volume on the bike or on walking" in text
    assert "Walking was easy up to 6.0 km/h." in text


def test_blocked_and_overridden_tests_say_so_first(tmp_path: Path) -> None:
    (blocked,) = zone_sentences(make_zones(bike(tmp_path, baseline="[1.6]")))
    assert blocked.startswith("No zones come from this test. The baseline is 1.6 mmol/L")
    assert 'override = "reason"' in blocked
    first = zone_sentences(make_zones(bike(tmp_path, baseline="[1.6]", override='"always high"')))[0]
    assert first.startswith("Overridden:")
    assert '"always high"' in first


def test_edges_that_overlap_are_called_unsure(tmp_path: Path) -> None:
    """Two samples of a step 1 mmol/L apart tell little; two that agree tell enough."""
    values = (1.0, 1.0, 1.0, 1.0, 1.6, 2.6)
    rough = [step(100 + 20 * i, value - 0.4, value + 0.6) for i, value in enumerate(values)]
    assert "That is unsure: the two ranges overlap" in said(bike(tmp_path, rough, baseline="[1.0]"))
    clear = [step(100 + 20 * i, value, value) for i, value in enumerate(values)]
    assert "unsure" not in said(bike(tmp_path, clear, baseline="[1.0]"))


@pytest.mark.parametrize(
    "lactate",
    [[1.0, 1.0, 1.0, 1.1], [1.0, 1.0, 1.0, 1.5], [1.0, 1.0, 1.0, 3.0], [1.8, 2.0, 2.5, 3.5], [1.0, 1.0, 1.5, 3.0]],
)
def test_every_kind_of_result_has_its_sentences(tmp_path: Path, lactate: list[float]) -> None:
    sentences = zone_sentences(make_zones(curve_test(tmp_path, lactate, baseline="[1.0]")))
    assert [text.split(":")[0] for text in sentences[:3]] == ["Easy", "Steady", "Keep below"]
    for text in sentences:
        assert text.endswith(".")
        assert [word for word in ("None", "nan", "inf ", "–", "  ") if word in text] == []
