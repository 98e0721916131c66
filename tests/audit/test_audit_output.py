"""The output contract: every object validates, names what OUTPUT lists, and is plain JSON."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import jsonschema
import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_rows, make_zone_set, power_rows, wavy_ride

from steadyband.audit import audit_session
from steadyband.audit.model import Audit, Climb
from steadyband.ground.said import Said
from steadyband.recording.model import Repair
from steadyband.steptest.model import EdgeRange, HrLimits
from steadyband.told import audit_to_dict, audit_to_flat, contract_schema

# The keys below are typed from the contract page, not from the code.
KEYS: dict[str, set[str]] = {
    "zones": {
        "test",
        "age_days",
        "freshness",
        "load_unit",
        "floor",
        "target_top",
        "ceiling",
        "threshold",
        "hr_floor",
        "hr_target_top",
        "hr_ceiling",
        "floor_range",
        "ceiling_range",
    },
    "seconds": {"elapsed", "recorded", "pause", "gap", "active", "coasting", "unmeasured"},
    "load": {"channel", "mean", "max", "mean_31s_max"},
    "bands": {"easy", "steady", "heavy", "severe"},
    "surges": {
        "count",
        "micro",
        "sustained",
        "per_hour",
        "seconds_above",
        "share_above",
        "work_above_kj",
        "above_per_hour_s",
        "explained_per_hour_s",
        "forced",
        "by_cause",
        "events",
    },
    "drift": {
        "load_drifted_s",
        "load_longest_s",
        "load_slope_per_h",
        "load_slope_range",
        "hr_drift_percent",
        "hr_above_test_s",
    },
    "quality": {"records", "dropped", "held_s", "repairs", "damage"},
    "verdict": {"findings", "in_band", "agreement"},
}
TOP = {
    "schema",
    "file",
    "sha256",
    "sport",
    "sub_sport",
    "start",
    "local_date",
    "intent",
    "intent_source",
    "climbs",
} | set(KEYS)
EVENT = {
    "start_s",
    "length_s",
    "seconds_above",
    "mean",
    "highest",
    "work_above_j",
    "gap_before_s",
    "lat",
    "lon",
    "grade",
    "cause",
    "forced",
}
BAND = {"seconds", "share", "share_range", "seconds_1s", "mean_load", "mean_hr"}


def audits() -> dict[str, Audit]:
    run: dict[str, Any] = {"sport": "running", "unit": "min/km", "floor": 2.5, "target_top": 2.8, "ceiling": 3.0}
    long_ride, steady = wavy_ride(3600), power_rows(np.full(1800, 190.0))
    heart = make_rows({"heart_rate_bpm": np.full(1800, 130.0), "speed_mps": np.full(1800, 3.1)})
    damaged = dataclasses.replace(long_ride, repairs=(Repair("spike", "power", 2), Repair("unsorted", None, 1)))
    opened = make_zone_set(ceiling=None, hr=HrLimits(115.0, 120.0, None), draws=50, spread=0.05)
    floorless = make_zone_set(floor=None, ceiling=None, hr=HrLimits(None, None, None))
    cases = {
        "surging": (long_ride, make_info(), Chosen(make_zone_set(draws=50, spread=0.05))),
        "easy": (long_ride, make_info(intent="easy", threshold=260.0), Chosen(make_zone_set())),
        "race": (long_ride, make_info(intent="race", name="A race"), Chosen(make_zone_set())),
        "steady": (steady, make_info(sub_sport=None), Chosen(make_zone_set())),
        "run": (heart, make_info(sport="running"), Chosen(make_zone_set(**run))),
        "no easy run": (
            heart,
            make_info(sport="running", intent="easy"),
            Chosen(make_zone_set(**run, easy_empty=True)),
        ),
        "by heart rate": (heart, make_info(), Chosen(make_zone_set())),
        "damaged": (damaged, make_info(damage="cut short after 3600 s"), Chosen(make_zone_set())),
        "open": (long_ride, make_info(), Chosen(opened)),
        "floorless": (long_ride, make_info(), Chosen(floorless)),
        "no test": (long_ride, make_info(), Chosen(None, None, None, Said("no_test_of_sport", {"kind": "cycling"}))),
        "no load": (make_rows({"speed_mps": np.full(1800, 8.0)}), make_info(), Chosen(make_zone_set())),
        "tiny": (wavy_ride(3), make_info(), Chosen(make_zone_set())),
    }
    return {name: audit_session(*case, SETTINGS) for name, case in cases.items()}


AUDITS = audits()


@pytest.fixture(params=list(AUDITS))
def audit(request: pytest.FixtureRequest) -> Audit:
    return AUDITS[request.param]


def test_the_schema_is_itself_valid() -> None:
    jsonschema.Draft202012Validator.check_schema(contract_schema())
    assert contract_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_every_object_validates(audit: Audit) -> None:
    checker = jsonschema.Draft202012Validator.FORMAT_CHECKER
    jsonschema.Draft202012Validator(contract_schema(), format_checker=checker).validate(audit_to_dict(audit))


def test_every_object_is_plain_json_of_one_line(audit: Audit) -> None:
    found = audit_to_dict(audit)
    line = json.dumps(found, allow_nan=False)
    assert "\n" not in line
    assert json.loads(line) == found


def test_the_keys_are_those_of_the_contract(audit: Audit) -> None:
    found = audit_to_dict(audit)
    assert set(found) >= TOP
    for block, keys in KEYS.items():
        assert found[block] is None or set(found[block]) >= keys
    for band in (found["bands"] or {}).values():
        assert set(band) >= BAND
    for event in (found["surges"] or {"events": ()})["events"]:
        assert set(event) >= EVENT
    for finding in found["verdict"]["findings"]:
        assert set(finding) == {"code", "text", "agreement", "evidence"}


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("schema",), 1),
        (("seconds", "active"), -1),
        (("seconds", "active"), 1.5),
        (("bands", "easy", "share"), 1.2),
        (("bands", "violet"), {}),
        (("surges", "events", 0, "cause"), "wind"),
        (("verdict", "in_band"), "yes"),
        (("zones", "load_unit"), "furlongs"),
        (("file",), None),
    ],
)
def test_the_schema_refuses_what_the_contract_does_not_allow(path: tuple[Any, ...], value: object) -> None:
    found = audit_to_dict(AUDITS["surging"])
    inner: Any = found
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(found, contract_schema())


def test_the_schema_asks_for_every_key_of_the_contract() -> None:
    for key in TOP:
        found = audit_to_dict(AUDITS["surging"])
        del found[key]
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(found, contract_schema())


def test_zones_stand_in_the_unit_of_the_test_with_speed_beside_it() -> None:
    zones = audit_to_dict(AUDITS["run"])["zones"]
    # by hand: 2.5 m/s is 1000 / 2.5 / 60 = 6.667 min/km; 3.0 m/s is 5.556 min/km
    assert zones["load_unit"] == "min/km"
    assert zones["floor"] == pytest.approx(6.6667, abs=1e-4)
    assert zones["ceiling"] == pytest.approx(5.5556, abs=1e-4)
    assert (zones["floor_mps"], zones["target_top_mps"], zones["ceiling_mps"]) == (2.5, 2.8, 3.0)
    assert "floor_mps" not in audit_to_dict(AUDITS["surging"])["zones"]
    load = audit_to_dict(AUDITS["run"])["load"]
    assert (load["unit"], load["mean"]) == ("m/s", pytest.approx(3.1))


def test_ranges_keep_the_order_of_load() -> None:
    zone_set = make_zone_set(sport="running", unit="min/km", floor=2.5, target_top=2.8, ceiling=3.0)
    ranges = {"floor": EdgeRange(2.4, 2.6), "ceiling": EdgeRange(2.9, None)}
    chosen = Chosen(dataclasses.replace(zone_set, ranges=ranges))
    rows = make_rows({"speed_mps": np.full(1800, 2.6)})
    zones = audit_to_dict(audit_session(rows, make_info(sport="running"), chosen, SETTINGS))["zones"]
    # by hand: 1000 / 2.4 / 60 = 6.944, 1000 / 2.6 / 60 = 6.410, 1000 / 2.9 / 60 = 5.747 min/km
    assert zones["floor_range"] == pytest.approx([6.9444, 6.4103], abs=1e-4)
    assert zones["ceiling_range"] == [pytest.approx(5.7471, abs=1e-4), None]


def test_an_open_ceiling_is_null_with_the_last_load_beside_it() -> None:
    found = audit_to_dict(AUDITS["open"])
    assert (found["zones"]["ceiling"], found["zones"]["ceiling_at_least"]) == (None, 200.0)
    assert found["surges"] is None


def test_climbs_are_written_and_validate() -> None:
    climbed = dataclasses.replace(AUDITS["surging"], climbs=(Climb(1200.0, 900.0, 45.0, 0.05, 3, 21),))
    found = audit_to_dict(climbed)
    jsonschema.validate(found, contract_schema())
    typed = {
        "start_m": 1200.0,
        "length_m": 900.0,
        "height_m": 45.0,
        "mean_grade": 0.05,
        "surges": 3,
        "seconds_above": 21,
    }
    assert found["climbs"][0] | typed == found["climbs"][0]


def test_flat_rows_have_the_same_columns_and_only_scalars() -> None:
    rows = [audit_to_flat(audit) for audit in AUDITS.values()]
    assert len({tuple(row) for row in rows}) == 1
    for row in rows:
        assert all(value is None or isinstance(value, (str, int, float, bool)) for value in row.values())
        assert not any(isinstance(value, float) and not np.isfinite(value) for value in row.values())


def test_flat_rows_carry_the_numbers_of_the_object() -> None:
    row, found = audit_to_flat(AUDITS["surging"]), audit_to_dict(AUDITS["surging"])
    assert row["surges_per_hour"] == found["surges"]["per_hour"]
    assert row["heavy_share"] == found["bands"]["heavy"]["share"]
    assert row["heavy_share_high"] == found["bands"]["heavy"]["share_range"][1]
    assert row["zones_ceiling"] == 212.0
    assert row["in_band"] is False
    assert "surges" in str(row["findings"]).split("; ")
    assert audit_to_flat(AUDITS["no test"])["heavy_share"] is None


def test_flat_columns_cover_every_number_of_the_contract() -> None:
    columns = set(audit_to_flat(AUDITS["surging"]))
    found = audit_to_dict(AUDITS["surging"])
    for block in ("zones", "seconds", "load", "surges", "drift", "quality"):
        for key, value in found[block].items():
            plain = value is None or isinstance(value, (str, int, float))
            name = f"{block}_{key}".removesuffix("_range")
            assert not plain or name in columns or f"{name}_low" in columns, key
