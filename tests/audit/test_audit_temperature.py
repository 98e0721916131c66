"""The session's temperature: mean over active seconds that have one, and what a hot session's findings say."""

from __future__ import annotations

import jsonschema
import numpy as np
import pytest
from audit_builders import Chosen, make_info, make_rows, make_zone_set, text_of

from steadyband.audit import audit_session
from steadyband.audit.model import Audit
from steadyband.ground.settings import Settings
from steadyband.told import audit_to_dict, audit_to_flat, contract_schema


def ride(temperature: np.ndarray | None, **block: float) -> Audit:
    """90 min at 190 W: heart rate 118 bpm, then 130 bpm in the second half of what follows the first 10 min."""
    length, power = 5400, np.full(5400, 190.0)
    power[:60] = 0.0
    speed = np.full(length, 8.0)
    speed[:60] = 0.0  # standing: not active
    heart = np.where(np.arange(length) < 3000, 118.0, 130.0)
    channels = {"power_w": power, "speed_mps": speed, "heart_rate_bpm": heart}
    if temperature is not None:
        channels["temperature_c"] = temperature
    settings = Settings.from_mapping({"block": block})
    return audit_session(make_rows(channels), make_info(), Chosen(make_zone_set()), settings)


def test_mean_over_active_seconds_that_have_a_temperature() -> None:
    warm = np.full(5400, np.nan)
    warm[:60] = 60.0  # in the sun before the start
    warm[1000:2000], warm[2000:3000] = 20.0, 30.0
    assert ride(warm).temperature_c == 25.0  # by hand
    assert ride(None).temperature_c is None
    assert ride(np.full(5400, np.nan)).temperature_c is None


def test_a_hot_session_names_its_temperature() -> None:
    hot = text_of(ride(np.full(5400, 35.0)), "heart_rate_drift")
    assert "It was 35 °C by the device: a hot session." in hot
    for cooler in (ride(np.full(5400, 18.0)), ride(None), ride(np.full(5400, 35.0), hot_c=36.0)):
        assert "hot session" not in text_of(cooler, "heart_rate_drift")


@pytest.mark.parametrize("known", [True, False])
def test_the_contract_has_it_and_null_where_it_is_unknown(known: bool) -> None:
    found = ride(np.full(5400, 35.0) if known else None)
    nested = audit_to_dict(found)
    jsonschema.validate(nested, contract_schema())
    told = 35.0 if known else None
    assert (nested["temperature_c"], audit_to_flat(found)["temperature_c"]) == (told, told)
    evidence = next(item for item in nested["verdict"]["findings"] if item["code"] == "heart_rate_drift")["evidence"]
    assert evidence.get("temperature_c") == told
