"""[body], [bike], privacy_m and positions of athlete.toml: what is taken, and what a slip of the pen is told."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from steadyband.athlete.athlete import default_athlete, parse_athlete
from steadyband.audit.model import Rider
from steadyband.ground.errors import AthleteFileError

BIKE = """
privacy_m = 250
positions = false
[body]
mass_kg = 71.5
[bike]
mass_kg = 8
chainrings = [50, 34]
cassette = [11, 32]
wheel_circumference_m = 2.105
cadence_floor = 65
crr = 0.006
cda = 0.35
"""


def parse(text: str) -> object:
    return parse_athlete(tomllib.loads(text), Path(), "athlete.toml")


def test_rider_and_bike_as_typed() -> None:
    found = parse_athlete(tomllib.loads(BIKE), Path(), "athlete.toml")
    assert found.rider == Rider(71.5, 8.0, (50, 34), (11, 32), 2.105, 65.0, 0.006, 0.35)
    assert (found.rider.mass_kg, found.rider.lowest_ratio) == (79.5, 34 / 32)
    assert (found.privacy_m, found.positions) == (250.0, False)


def test_without_them_nothing_is_known_and_300_m_stay_private() -> None:
    found = default_athlete(Path())
    assert (found.rider, found.rider.mass_kg, found.rider.lowest_ratio) == (Rider(), None, None)
    assert (found.privacy_m, found.positions) == (300.0, True)


@pytest.mark.parametrize(
    ("text", "place", "told"),
    [
        ("[body]\nmass_kg = 720", "body.mass_kg", "expected 20 to 300 kg, found 720"),
        ("[body]\nmass_kg = '72'", "body.mass_kg", "expected 20 to 300 kg, found '72'"),
        ("[body]\nmass = 72", "body.mass", "Did you mean 'mass_kg'?"),
        ("[bike]\nchainrings = [50, 3400]", "bike.chainrings", "expected numbers of teeth from 8 to 70"),
        ("[bike]\ncassette = [11.5]", "bike.cassette", "such as [50, 34]; found [11.5]"),
        ("[bike]\nwheel_circumference_m = 2105", "bike.wheel_circumference_m", "expected 0.8 to 3 m, found 2105"),
        ("[bike]\ncda = 0", "bike.cda", "expected 0.1 to 1.5 m², found 0"),
        ("bike = 9", "bike", "expected a table [bike], found 9"),
        ("privacy_m = -1", "privacy_m", "expected metres from 0"),
        ("privacy_m = true", "privacy_m", "expected metres from 0"),
        ("positions = 'no'", "positions", "expected true or false, found 'no'"),
    ],
)
def test_a_slip_is_named_with_its_place(text: str, place: str, told: str) -> None:
    with pytest.raises(AthleteFileError) as caught:
        parse(text)
    assert caught.value.place == place
    assert told in str(caught.value)
