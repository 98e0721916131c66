"""The price of riding smooth, against rides simulated with another integrator, another step and other constants.

The rider here steps through time (explicit Euler, 0.2 s); the package goes through distance by energy. No bearings and no
spokes are in these rides, so the fit has to find what stands for them.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_rows, make_zone_set

from steadyband.audit import audit_session
from steadyband.audit.model import Audit, Rider
from steadyband.recording.model import Rows
from steadyband.told.notes import price_note

RIDER = Rider(72.0, 9.0, (50, 34), (11, 13, 15, 17, 19, 21, 24, 28, 32), 2.105, 60.0)
MASS, CDA, CRR, AIR, STEP_S = 81.0, 0.33, 0.0045, 1.2, 0.2
COURSE = [(1500, 0.0), (1400, 0.05), (500, 0.0), (2200, -0.03), (2500, 0.004), (600, 0.07), (1500, -0.02)] * 3
ENDS = np.cumsum([length for length, _ in COURSE])
HEIGHTS = np.concatenate(([0.0], np.cumsum([length * slope for length, slope in COURSE])))
SURGES = [(500, 900), (1700, 1800), (2850, 2950), (6000, 6200), (11_000, 11_300), (12_000, 12_150), (26_500, 26_900)]


def power_at(metre: float, smooth: bool) -> float:
    """185 W throughout, 330 W in the surges (places in metres), clipped at 212 W when ridden smooth; none down the hills."""
    slope = COURSE[min(int(np.searchsorted(ENDS, metre, side="right")), len(COURSE) - 1)][1]
    if slope <= -0.03:
        return 0.0
    surging = any(start <= metre < end for start, end in SURGES)
    return (212.0 if smooth else 330.0) if surging else 185.0


def ridden(smooth: bool, wind: float = 0.0) -> tuple[Rows, float]:
    """One-second rows of the ride, and the seconds it took."""
    speed, metre, time = 3.0, 0.0, 0.0
    rows: list[tuple[float, float, float]] = []
    while metre < ENDS[-1] - 1:
        slope = COURSE[min(int(np.searchsorted(ENDS, metre, side="right")), len(COURSE) - 1)][1]
        power, angle = power_at(metre, smooth), math.atan(slope)
        against = 0.5 * AIR * CDA * (speed + wind) * abs(speed + wind)
        hold = MASS * 9.80665 * (math.sin(angle) + CRR * math.cos(angle)) + against
        if abs(time - round(time)) < STEP_S / 2 and len(rows) == round(time):
            rows.append((metre, speed, power))
        speed = max(0.5, speed + STEP_S * (0.976 * power / speed - hold) / MASS)
        metre += STEP_S * speed
        time += STEP_S
    distance, speeds, power_w = np.array(rows).T
    altitude = 300 + np.interp(distance, np.concatenate(([0.0], ENDS)), HEIGHTS)
    channels = {"distance_m": distance, "speed_mps": speeds, "power_w": power_w, "altitude_m": altitude}
    return make_rows(channels), time


def audited(rows: Rows, rider: Rider = RIDER) -> Audit:
    return audit_session(rows, make_info(rider=rider), Chosen(make_zone_set()), SETTINGS)


ROWS, TIME = ridden(smooth=False)
AUDIT = audited(ROWS)


def test_the_model_takes_the_time_that_was_ridden() -> None:
    price = AUDIT.price
    assert price is not None
    assert price.moving_s == pytest.approx(TIME, rel=0.002)
    assert abs(price.model_error or 1.0) < 0.03
    # fitted without bearings and spokes (0.0044 m²) in the ride: a little less drag area and rolling than was put in
    assert price.cda_m2 == pytest.approx(CDA - 0.0044, abs=0.02)
    assert price.crr == pytest.approx(CRR, abs=0.0007)


def test_the_price_is_what_the_smooth_ride_took_longer() -> None:
    _, smooth = ridden(smooth=True)
    price = AUDIT.price
    assert price is not None
    assert price.surges_saved == len(SURGES)
    assert price.seconds_lost == pytest.approx(smooth - TIME, abs=max(price.seconds_error or 0.0, 2.0))
    assert price.share_lost == pytest.approx((smooth - TIME) / TIME, rel=0.15)
    assert "wind" in price_note(price)


def test_a_ride_the_model_does_not_explain_has_no_price() -> None:
    """A meter that reads a third too low only where it matters: the second half of the ride."""
    power = ROWS.channels["power_w"].copy()
    power[len(power) // 2 :] *= 0.45
    found = audited(replace(ROWS, channels=dict(ROWS.channels) | {"power_w": power})).price
    assert found is not None
    assert found.seconds_lost is None
    assert "Withheld" in price_note(found)


def test_no_price_without_mass_or_without_a_surge_to_save() -> None:
    assert audited(ROWS, replace(RIDER, bike_kg=None)).price is None
    calm = dict(ROWS.channels) | {"power_w": np.minimum(ROWS.channels["power_w"], 190.0)}
    assert audited(replace(ROWS, channels=calm)).price is None


def test_too_little_known_ground_is_said() -> None:
    altitude = np.where(np.arange(len(ROWS)) < 240, ROWS.channels["altitude_m"], np.nan)
    found = audited(replace(ROWS, channels=dict(ROWS.channels) | {"altitude_m": altitude})).price
    assert found is not None
    assert found.seconds_lost is None
    assert "too little of the ride" in price_note(found)


def test_what_the_athlete_file_gives_is_kept() -> None:
    price = audited(ROWS, replace(RIDER, cda_m2=0.30, crr=0.006)).price
    assert price is not None
    assert (price.cda_m2, price.crr) == (0.30, 0.006)


def test_a_steady_wind_goes_into_the_fit_and_changes_the_price_little() -> None:
    rows, _ = ridden(smooth=False, wind=2.0)
    windy, calm = audited(rows).price, AUDIT.price
    assert windy is not None
    assert calm is not None
    assert (windy.cda_m2 or 0) > (calm.cda_m2 or 0) + 0.05
    assert windy.seconds_lost == pytest.approx(calm.seconds_lost, rel=0.3)
