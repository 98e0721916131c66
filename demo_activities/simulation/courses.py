"""The four invented courses of the demo."""

from __future__ import annotations

from functools import cache

from simulation.course import Course, Segment, make_course

_VALLEY = (
    Segment("lake road", 3000, 0.2),
    Segment("first rise", 180, 4.4),
    Segment("mill flats", 3500, -0.4),
    Segment("long flats", 4000, 0.4),
    Segment("second rise", 160, 4.6),
    Segment("back road", 4000, -0.6),
    Segment("river flats", 3000, 0.3),
    Segment("home", 1800, 0.0),
)
_HILLS = (
    Segment("start flats", 2500, 0.2),
    Segment("first climb", 2600, 4.8),
    Segment("first top", 300, 0.0),
    Segment("first descent", 3300, -3.7),
    Segment("mid flats", 2200, 0.3),
    Segment("short rise", 180, 4.6),
    Segment("bridge flats", 1600, -0.2),
    Segment("steep climb", 700, 5.5),
    Segment("ramp", 110, 14.0),
    Segment("upper climb", 500, 5.5),
    Segment("second top", 250, 0.0),
    Segment("second descent", 2700, -3.0),
    Segment("river flats", 3500, 0.2),
    Segment("third climb", 1800, 3.8),
    Segment("third top", 250, 0.0),
    Segment("third descent", 2600, -3.0),
    Segment("home", 2200, 0.0),
)
_RUN_HILLS = (
    Segment("meadow", 700, 0.3),
    Segment("long hill", 900, 3.2),
    Segment("ridge", 500, -0.5),
    Segment("down to the brook", 900, -3.4),
    Segment("brook path", 600, 0.4),
    Segment("short hill", 500, 3.4),
    Segment("down again", 600, -2.5),
    Segment("home", 500, 0.0),
)
_RUN_FLAT = (Segment("round the lake", 2600, 0.3), Segment("dam", 700, -0.5), Segment("home", 900, 0.0))


@cache
def valley() -> Course:
    """20 km of valley floor with two short rises."""
    return make_course(_VALLEY, 24, 240.037, 0.6)


@cache
def hills() -> Course:
    """27 km with three climbs, one of them with a ramp of 14 %."""
    return make_course(_HILLS, 20, 251.043, 2.3)


@cache
def run_hills() -> Course:
    """5 km of path over two hills."""
    return make_course(_RUN_HILLS, 90, 262.031, 3.7)


@cache
def run_flat() -> Course:
    """4 km round a lake."""
    return make_course(_RUN_FLAT, 90, 241.057, 5.1)
