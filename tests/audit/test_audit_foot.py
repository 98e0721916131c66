"""Whole audits of runs whose altimeter or speed is noisy: what is found, what is left out, and what is said."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from audit_builders import Chosen, FloatArray, make_info, make_rows, make_zone_set

from steadyband.audit.model import Audit
from steadyband.audit.session import audit_session
from steadyband.ground.settings import Settings
from steadyband.steptest.model import HrLimits
from steadyband.told.notes import quality_notes

SIZE = 3600
CEILING = 3.6
RUN = make_zone_set(sport="running", unit="km/h", floor=3.1, target_top=3.45, ceiling=CEILING, spread=0.01)
SURGES = range(200, 3400, 320)  # ten of them


def wander(seed: int, sd: float, over_s: float = 40.0) -> FloatArray:
    """An error that forgets itself exponentially within `over_s` [n]."""
    rng, keep = np.random.default_rng(seed), np.exp(-1 / over_s)
    out = np.empty(SIZE)
    out[0] = rng.standard_normal()
    for row, push in enumerate(rng.standard_normal(SIZE - 1), 1):
        out[row] = keep * out[row - 1] + (1 - keep**2) ** 0.5 * push
    return sd * out


def run(altimeter_m: float = 0.0, jitter_mps: float = 0.0, *, seed: int = 1, faster: FloatArray | float = 1.0) -> Audit:
    """A flat hour at 3.35 m/s, 0.9 km/h below the ceiling, made faster by a factor."""
    speed = 3.35 * (1 + wander(seed + 50, 0.02, 10.0)) * faster
    altitude = 300 + np.round(5 * wander(seed, altimeter_m)) / 5
    seen = speed + jitter_mps * np.random.default_rng(seed).standard_normal(SIZE)
    channels = {"speed_mps": seen, "distance_m": np.cumsum(speed), "altitude_m": altitude}
    return audit_session(make_rows(channels), make_info(sport="running"), Chosen(RUN), Settings())  # type: ignore[arg-type]


def surged() -> FloatArray:
    out = np.ones(SIZE)
    for start in SURGES:
        out[start : start + 30] = 1.3
    return out


def codes(audit: Audit) -> list[str]:
    return [note.code for note in audit.quality.notes]


@pytest.mark.parametrize("sd", [0.0, 0.5, 1.0, 3.0])
def test_an_altimeter_that_wanders_makes_no_surges(sd: float) -> None:
    """Flat runs below the ceiling once got 17 to 73 surges an hour."""
    found = [run(sd, seed=seed) for seed in range(1, 7)]
    assert not [finding.code for audit in found for finding in audit.verdict.findings]
    wanted = {0.0: None, 0.5: "slope_window", 1.0: "slope_window", 3.0: "grade_unsure"}[sd]
    assert all((wanted in codes(audit)) if wanted else codes(audit) == [] for audit in found)


@pytest.mark.parametrize("sd", [0.0, 0.5, 1.0])
def test_planted_surges_are_still_found_under_a_longer_window(sd: float) -> None:
    audit = run(sd, faster=surged())
    assert "surges" in [finding.code for finding in audit.verdict.findings]
    assert audit.surges is not None
    events = audit.surges.events
    assert all(
        any(one.start_s < start + 30 and one.start_s + one.length_s > start for one in events) for start in SURGES
    )


@pytest.mark.parametrize("noise", [(3.0, 0.0, "grade_unsure"), (0.0, 0.8, "speed_unsure")])
def test_where_surges_would_be_noise_only_sustained_efforts_are_judged(noise: tuple[float, float, str]) -> None:
    quiet = run(*noise[:2], faster=surged())
    assert quiet.surges is None
    assert noise[2] in codes(quiet)
    assert all(climb.above_s is None for climb in quiet.climbs)
    assert any("only sustained efforts are judged" in note for note in quality_notes(quiet))
    faster = np.ones(SIZE)
    faster[1000:2200] = 1.18  # 20 min, 10 % above the ceiling
    hard = run(*noise[:2], faster=faster)
    assert "zone_3_drift" in [finding.code for finding in hard.verdict.findings]


def test_a_bike_keeps_its_window_and_its_surges() -> None:
    channels = {"power_w": np.full(SIZE, 190.0), "speed_mps": np.full(SIZE, 8.0), "altitude_m": 300 + wander(3, 3.0)}
    channels["distance_m"] = np.cumsum(channels["speed_mps"])
    audit = audit_session(make_rows(channels), make_info(), Chosen(make_zone_set()), Settings())  # type: ignore[arg-type]
    assert codes(audit) == []
    assert audit.surges is not None


def test_what_is_good_is_a_setting() -> None:
    settings = Settings()
    lax = dataclasses.replace(settings, foot=dataclasses.replace(settings.foot, grade_good=0.05, grade_most=0.05))
    speed = np.full(SIZE, 3.35)
    channels = {"speed_mps": speed, "distance_m": np.cumsum(speed), "altitude_m": 300 + wander(4, 3.0)}
    audit = audit_session(make_rows(channels), make_info(sport="running"), Chosen(RUN), lax)  # type: ignore[arg-type]
    assert audit.surges is not None
    assert codes(audit) == []


def power_run(power: FloatArray, altimeter_m: float) -> Audit:
    """A run judged by a running test in watts."""
    zones = make_zone_set(
        sport="running", unit="W", floor=240.0, target_top=262.0, ceiling=280.0, hr=HrLimits(None, None, None)
    )
    speed = np.full(SIZE, 3.35)
    channels = {
        "speed_mps": speed,
        "distance_m": np.cumsum(speed),
        "altitude_m": 300 + wander(5, altimeter_m),
        "power_w": power,
    }
    return audit_session(make_rows(channels), make_info(sport="running"), Chosen(zones), Settings())  # type: ignore[arg-type]


def test_running_power_is_a_load_like_any_other() -> None:
    """Tested in watts and recorded: judged by power, whatever the altimeter does; zero on the ground is no coasting."""
    power = 252 * (1 + wander(6, 0.02, 10.0))
    calm = power_run(power, 3.0)
    assert calm.load is not None
    assert (calm.load.channel, calm.load.unit) == ("power", "W")
    assert calm.verdict.in_band is True
    assert codes(calm) == []
    found = power_run(power * surged(), 3.0)
    assert found.surges is not None
    assert found.surges.count == len(SURGES)
    # by hand: 30 s at 1.3 x 252 = 327.6 W are 10 x 30 x 47.6 W = 14.3 kJ above 280 W
    assert found.surges.work_above_kj == pytest.approx(14.3, rel=0.15)
    assert "surges" in [finding.code for finding in found.verdict.findings]
    stood = power.copy()
    stood[500:520] = 0.0
    assert power_run(stood, 0.0).seconds.coasting == 0


def test_a_run_tested_in_watts_without_power_is_not_judged_by_speed() -> None:
    speed = np.full(SIZE, 3.35)
    zones = make_zone_set(sport="running", unit="W", hr=HrLimits(None, None, None))
    audit = audit_session(make_rows({"speed_mps": speed}), make_info(sport="running"), Chosen(zones), Settings())  # type: ignore[arg-type]
    assert audit.load is None
    assert [reason.code for reason in audit.verdict.reasons] == ["no_load"]
