"""The four invented courses of the demo: gravel and trails of an island that does not exist."""

from __future__ import annotations

from functools import cache

from simulation.course import Course, Segment, make_course

_SHORE = (
    Segment("quay track", 2600, 0.2),
    Segment("first ramp", 150, 4.3),
    Segment("salt flats", 3300, -0.3),
    Segment("long beach", 3700, 0.3),
    Segment("second ramp", 140, 4.7),
    Segment("back lane", 3400, -0.5),
    Segment("reed path", 2700, 0.3),
    Segment("harbour", 1500, 0.0),
)
_MOOR = (
    Segment("start track", 2000, 0.2),
    Segment("first climb", 1900, 5.1),
    Segment("first top", 250, 0.0),
    Segment("first descent", 2500, -3.7),
    Segment("peat flats", 1600, 0.3),
    Segment("short rise", 160, 4.7),
    Segment("bridge lane", 1300, -0.2),
    Segment("steep climb", 520, 5.6),
    Segment("ramp", 95, 14.0),
    Segment("upper climb", 420, 5.5),
    Segment("second top", 250, 0.0),
    Segment("second descent", 2100, -3.0),
    Segment("heath flats", 3500, 0.2),
    Segment("third climb", 1300, 4.2),
    Segment("third top", 250, 0.0),
    Segment("third descent", 1800, -3.0),
    Segment("homeward", 2400, 0.0),
)
_DUNES = (
    Segment("marsh path", 800, 0.3),
    Segment("long dune", 850, 3.3),
    Segment("crest path", 450, -0.4),
    Segment("down to the bay", 850, -3.4),
    Segment("bay path", 700, 0.4),
    Segment("short dune", 450, 3.3),
    Segment("down again", 550, -2.4),
    Segment("last bend", 500, 0.0),
)
_CAUSEWAY = (Segment("out to the light", 2300, 0.3), Segment("old wall", 800, -0.5), Segment("back", 700, 0.0))


@cache
def shore() -> Course:
    """17 km of gravel along the shore with two short ramps."""
    return make_course(_SHORE, 24, 12.037, 0.9)


@cache
def moor() -> Course:
    """22 km of gravel over three climbs, one of them with a ramp of 14 %."""
    return make_course(_MOOR, 20, 31.043, 2.7)


@cache
def dunes() -> Course:
    """5 km of trail over two dunes."""
    return make_course(_DUNES, 90, 17.031, 4.1)


@cache
def causeway() -> Course:
    """4 km out to a light and back."""
    return make_course(_CAUSEWAY, 90, 8.057, 5.4)
