"""Where surges came from, forced or avoidable, planted by hand on a drawn course."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_rows, make_zone_set, text_of

from steadyband.audit import audit_session
from steadyband.audit.measure.gears import gearing, missing_for_gears
from steadyband.audit.model import Audit, Rider, Surges
from steadyband.ground.road import Vehicle
from steadyband.recording.model import Rows
from steadyband.told.causes import advice_text, causes_text
from steadyband.told.notes import ground_note

RIDER = Rider(72.0, 9.0, (50, 34), (11, 13, 15, 17, 19, 21, 24, 28, 32), 2.105, 60.0)
SPEED = 6.0
# (length in m, grade): foot at 1200 m = row 200, top at 2400 m = row 400
HILL = [(1200, 0.0), (1200, 0.06), (600, 0.0), (1200, -0.04), (600, 0.0), (150, 0.05), (3000, 0.0)]


def ride(*surges: tuple[int, int], slow: tuple[int, int] | None = None, altitude: bool = True, **more: object) -> Rows:
    ends = np.concatenate(([0.0], np.cumsum([length for length, _ in HILL])))
    heights = np.concatenate(([0.0], np.cumsum([length * slope for length, slope in HILL])))
    distance = np.arange(0.0, ends[-1], SPEED)
    power, speed = np.full(len(distance), 150.0), np.full(len(distance), SPEED)
    for start, seconds in surges:
        power[start : start + seconds] = 300.0
    if slow:
        speed[slow[0] : slow[0] + slow[1]] = 0.8
    channels = {"power_w": power, "speed_mps": speed, "distance_m": distance}
    if altitude:
        channels["altitude_m"] = 300 + np.interp(distance, ends, heights)
    return make_rows(channels, **more)  # type: ignore[arg-type]


def audited(rows: Rows, rider: Rider = Rider()) -> Audit:
    return audit_session(rows, make_info(rider=rider), Chosen(make_zone_set()), SETTINGS)


def surges_of(rows: Rows, rider: Rider = Rider()) -> Surges:
    found = audited(rows, rider).surges
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("start", "cause"),
    [
        (100, "flat"),
        (192, "climb start"),  # 8 s before the foot
        (226, "climb start"),  # 26 s after it
        (300, "on climb"),
        (384, "crest"),  # 16 s before the top
        (416, "crest"),  # 16 s after it
        (450, "flat"),
        (560, "descent"),
        (806, "rise"),  # 150 m at 5 %: too short for a climb
        (1000, "flat"),
    ],
)
def test_the_cause_of_a_surge(start: int, cause: str) -> None:
    (event,) = surges_of(ride((start, 10))).events
    assert event.cause == cause


def test_a_start_after_a_stop_goes_before_every_other_cause() -> None:
    (event,) = surges_of(ride((226, 10), slow=(214, 6))).events
    assert event.cause == "restart"
    pause = np.zeros(len(ride()), bool)
    pause[214:222] = True
    (event,) = surges_of(ride((226, 10), pause=pause)).events
    assert event.cause == "restart"
    # by hand: the last slow second is 19 s before the first one of the surge
    (event,) = surges_of(ride((300, 10), slow=(275, 6))).events
    assert event.cause == "on climb"


def test_counts_and_seconds_by_cause_add_up() -> None:
    found = surges_of(ride((100, 10), (300, 10), (340, 20), (560, 10)))
    assert {cause: count for cause, count in found.by_cause.items() if count} == {
        "flat": 1,
        "on climb": 2,
        "descent": 1,
    }
    assert sum(found.seconds_by_cause.values()) == sum(event.seconds_above for event in found.events)
    assert found.seconds_by_cause["on climb"] == found.events[1].seconds_above + found.events[2].seconds_above


def test_without_altitude_everything_else_still_works_and_says_so() -> None:
    found = audited(ride((100, 10), (300, 10), altitude=False))
    assert found.surges is not None
    assert found.surges.by_cause["unknown"] == 2
    assert (found.climbs, found.surges.forced) == ((), None)
    assert found.ground is not None
    assert not found.ground.known
    assert "no usable altitude" in str(ground_note(found))
    assert found.bands is not None


def test_climbs_carry_their_surges_and_seconds_above() -> None:
    (climb,) = audited(ride((100, 10), (226, 10), (300, 12), (560, 10))).climbs
    assert (climb.start_s, climb.seconds) == (pytest.approx(200, abs=3), pytest.approx(200, abs=4))
    # by hand: five seconds of eleven at 300 W over 150 W make 218 W, four 205 W, so that a plateau of n seconds stands above
    # 212 W for n + 2 seconds of the 11-s mean
    assert (climb.surges, climb.seconds_above) == (2, 26)
    assert climb.steepest == pytest.approx(0.06, abs=0.003)
    assert climb.mean_load == pytest.approx(150 + 22 * 150 / 200, abs=1)
    assert len(climb.parts) == 40


def test_forced_needs_mass_and_gears() -> None:
    rows = ride((300, 10))
    assert surges_of(rows).forced is None
    part = Rider(body_kg=72.0, chainrings=(50, 34))
    assert audited(rows, part).ground is not None
    assert "bike.mass_kg, bike.cassette, bike.wheel_circumference_m" in str(ground_note(audited(rows, part)))
    assert missing_for_gears(RIDER) == []
    found = surges_of(rows, RIDER)
    assert (found.forced, found.avoidable) == (0, 1)


def test_a_tall_gear_is_forced_where_a_low_one_is_not() -> None:
    """By hand: 53/25 x 2.105 m x 60 /min = 4.46 m/s. 81 kg on 6 %: 81 x 9.80665 x (0.0599 + 0.005) = 51.5 N, air 0.5 x 1.2 x 0.32 x
    4.46² = 3.8 N: 55.3 N x 4.46 m/s / 0.976 = 253 W, above the ceiling of 212 W. The lowest gear 34/32 gives 2.24 m/s and 120 W."""
    tall = dataclasses.replace(RIDER, chainrings=(53,), cassette=(11, 25))
    gears = gearing(tall, SETTINGS.terrain)
    assert gears is not None
    assert float(gears.needed(0.06)) == pytest.approx(253, abs=1)
    found = audited(ride((300, 10)), tall)
    assert found.surges is not None
    assert (found.surges.forced, found.surges.events[0].forced) == (1, True)
    (climb,) = found.climbs
    # by hand: 212 W on 6 % is held at v with 81 x 9.80665 x 0.0649 v + 0.192 v³ = 206.9, so v = 3.80 m/s, and
    # 3.80 x 60 / (2.105 x 60) = 1.805 turns of the wheel; 53 / 1.805 = 29.4, so 30 teeth
    assert climb.gear_ratio == pytest.approx(1.805, abs=0.01)
    assert climb.gear_cog == 30
    assert climb.too_steep is False


def test_a_hill_too_steep_for_any_gear() -> None:
    # by hand: 200 kg on 6 % at 1.5 m/s: 200 x 9.80665 x 0.0649 x 1.5 / 0.976 = 196 W; 260 kg: 254 W, over 212 W
    heavy = dataclasses.replace(RIDER, body_kg=240.0, bike_kg=20.0)
    found = audited(ride((300, 10)), heavy)
    assert found.climbs[0].too_steep is True
    assert found.climbs[0].gear_ratio is None
    assert found.surges is not None
    assert found.surges.forced == 1


def test_the_steepest_grade_in_the_band() -> None:
    ground = audited(ride((300, 10)), RIDER).ground
    assert ground is not None
    # by hand: 34/32 x 2.105 = 2.2366 m/s; 212 W x 0.976 / 2.2366 = 92.51 N, less air 0.5 x 1.2 x 0.32 x 2.2366² = 0.96 N
    # leaves 91.55 N = 794.3 N x (sin a + 0.005 cos a): sin a about 0.1103, tan a about 0.111
    assert ground.steepest_in_band == pytest.approx(0.111, abs=0.0005)
    assert ground.slowest_mps == pytest.approx(2.2366, abs=1e-4)


def test_the_bikes_own_drag_is_taken() -> None:
    rider = dataclasses.replace(RIDER, crr=0.01, cda_m2=0.5)
    gears = gearing(rider, SETTINGS.terrain)
    assert gears is not None
    assert gears.vehicle == Vehicle(81.0, 0.5, 0.01, 1.2)


def test_the_finding_says_where_and_what_to_do() -> None:
    found = audited(ride(*((start, 10) for start in range(40, 1200, 60))), RIDER)
    text = text_of(found, "surges")
    assert "on the flat" in text
    assert "The hills forced none of them." in text
    told = re.search(r"(\d+) came [a-z ]+?((?:, \d+ [a-z ]+?)*)(?: and (\d+) [a-z ]+)?\.", text)
    assert told, text
    assert sum(map(int, re.findall(r"\d+", told[0]))) == 20  # every surge is told once
    assert "one even effort on the flat" in text


def test_words_of_causes() -> None:
    found = surges_of(ride((100, 10), (300, 10)), RIDER)
    forced = dataclasses.replace(found, forced=1, avoidable=1)
    assert causes_text(forced, 3).endswith("The hill forced 1 (a lower gear or another road helps), 1 was avoidable.")
    unknown = dataclasses.replace(found, by_cause={"unknown": 2}, seconds_by_cause={"unknown": 20})
    assert (causes_text(unknown, 3), advice_text(unknown, on_foot=False)) == ("", "")
    assert advice_text(found, on_foot=True) != advice_text(found, on_foot=False)
