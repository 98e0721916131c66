"""The rides of the demo's four weeks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from simulation import courses
from simulation.athlete import BIKE, BIKE_STEPS, RIDING_HEART, STEP_S, ZONE
from simulation.course import Course
from simulation.plans import knots, level, place, steady
from simulation.rider import Effort, RidePlan, Stop, ride
from simulation.session import Faults, Session
from simulation.track import Track
from simulation.trainer import Block, trainer_ride

Planned = tuple[str, float, int, Effort]
CAP = 198.0
"""Highest 3-s mean [W] of riding that is meant to be smooth: under the target top of 200 W, so it can begin no surge."""


def at(month: int, day: int, hour: int, minute: int) -> datetime:
    """Local time in 2026."""
    return datetime(2026, month, day, hour, minute, 11, tzinfo=ZoneInfo(ZONE))


def push(segment: str, offset: float, lap: int, seconds: int, watts: float, *, cause: str = "flat") -> Planned:
    """An avoidable effort on a segment."""
    return segment, offset, lap, Effort(0.0, seconds, watts, cause)


def lull(segment: str, offset: float, lap: int, seconds: int, watts: float, *, cause: str) -> Planned:
    """An effort with 5 s between release and ceiling in its middle: one surge, not two."""
    return segment, offset, lap, Effort(0.0, seconds, watts, cause, lull_s=5)


def near_miss(segment: str, offset: float, lap: int) -> Planned:
    """Two hard strokes, over the ceiling for less than 5 s: no surge."""
    return segment, offset, lap, Effort(0.0, 2, 290.0, "flat", counts=False)


def on_road(course: Callable[[], Course], plan: Callable[[Course], RidePlan]) -> Callable[[int], Track]:
    """A ride on a course, simulated when it is asked for."""
    return lambda seed: ride(course(), plan(course()), BIKE, seed)


def _valley(seconds: int, base: float, *efforts: Planned, stops: tuple[Stop, ...] = ()) -> Callable[[int], Track]:
    return on_road(
        courses.valley,
        lambda course: RidePlan(seconds, steady(base), level(CAP), place(course, efforts), stops),
    )


def _bike_test(seed: int) -> Track:
    blocks = [Block(step.load, STEP_S) for step in BIKE_STEPS]
    last = BIKE_STEPS[-2].load
    blocks[-2:-1] = [Block(last, STEP_S - 8), Block(last - 4.0, 8, 1.0)]
    blocks[-1] = Block(BIKE_STEPS[-1].load, STEP_S, planted=True)
    return trainer_ride(blocks, BIKE, seed)


def _steady_indoors(seed: int) -> Track:
    return trainer_ride([Block(150, 180), Block(172, 240), Block(189, 3660, 5.0), Block(160, 120)], BIKE, seed)


def _short_intervals(seed: int) -> Track:
    work = [Block(130, 80, 6.0), Block(300, 40, 8.0, planted=True)] * 10
    return trainer_ride([Block(140, 420, 6.0), Block(175, 300, 6.0), *work, Block(130, 480, 6.0)], BIKE, seed)


def _long_intervals(course: Course) -> RidePlan:
    """Four minutes hard, about three easy, five times over."""
    work = tuple(Effort(8600.0 + 3800.0 * number, 240, 262.0, "flat") for number in range(5))
    return RidePlan(4200, knots((0, 150), (10, 175), (17, 175), (19, 130)), level(CAP), work)


def _social(course: Course) -> RidePlan:
    power = knots((0, 140), (5, 163), (38, 163), (40, 187), (54, 187), (56, 160), (80, 158))
    return RidePlan(4800, power, level(CAP), place(course, [near_miss("long flats", 900, 0)]), slow_sd=5.0)


def _creep(_: Course) -> RidePlan:
    """Steady for 70 minutes, then a little more every minute, and over the ceiling on the way home."""
    power = knots((0, 150), (3, 168), (8, 187), (68, 189), (76, 197), (82, 204), (88, 206.5), (100, 207))
    cap = knots((0, CAP), (68, CAP), (78, 209), (100, 209))
    finish = Effort(53200.0, 130, 222.0, "flat", lead_s=8)
    return RidePlan(6000, power, cap, (finish,), slow_sd=2.0, fast_sd=5.0)


def _two_hills(course: Course) -> RidePlan:
    ramp = Effort(0.0, 0, 268.0, "on climb", True, until_m=116.0)
    efforts = [
        push("start flats", 900, 0, 9, 272),
        near_miss("start flats", 1700, 0),
        push("first climb", 24, 0, 11, 278, cause="climb start"),
        push("first climb", 700, 0, 9, 262, cause="on climb"),
        lull("first climb", 1500, 0, 12, 258, cause="on climb"),
        push("first climb", 2566, 0, 9, 266, cause="crest"),
        push("first descent", 1200, 0, 8, 280, cause="descent"),
        push("mid flats", 900, 0, 8, 284),
        push("short rise", 40, 0, 9, 276, cause="rise"),
        push("bridge flats", 800, 0, 7, 270),
        push("steep climb", 24, 0, 10, 276, cause="climb start"),
        ("ramp", -3.0, 0, ramp),
        push("upper climb", 466, 0, 8, 264, cause="crest"),
        push("second descent", 900, 0, 7, 276, cause="descent"),
        push("river flats", 900, 0, 8, 282),
        push("third climb", 24, 0, 10, 272, cause="climb start"),
        push("third climb", 900, 0, 9, 262, cause="on climb"),
        push("third climb", 1764, 0, 8, 262, cause="crest"),
        push("third descent", 900, 0, 7, 274, cause="descent"),
        push("start flats", 1200, 1, 8, 276),
        push("first climb", 24, 1, 9, 272, cause="climb start"),
        near_miss("first climb", 900, 1),
        lull("first climb", 1700, 1, 12, 256, cause="on climb"),
        push("first climb", 2566, 1, 8, 262, cause="crest"),
        push("short rise", 40, 1, 8, 274, cause="rise"),
        push("steep climb", 24, 1, 9, 270, cause="climb start"),
        ("ramp", -3.0, 1, ramp),
        push("river flats", 1100, 1, 8, 280),
        push("third climb", 24, 1, 8, 268, cause="climb start"),
    ]
    stops = (
        Stop(course.place("river flats", 2400, 0), 34, "auto", 3, (8, 292.0)),
        Stop(course.place("bridge flats", 1300, 1), 12, "none", 0, (7, 284.0)),
    )
    return RidePlan(7080, steady(187.0, 2.0), level(CAP), place(course, efforts), stops, climb_w=2.0)


def _cafe_stops() -> tuple[Stop, ...]:
    course = courses.valley()
    return (
        Stop(course.place("back road", 900, 0), 41, "auto", 3, (8, 268.0)),
        Stop(course.place("mill flats", 1500, 1), 846, "timer", 6, (9, 274.0)),
        Stop(course.place("long flats", 3000, 1), 25, "none", 0),
        Stop(course.place("river flats", 600, 1), 8, "auto", 1),
    )


RIDES = (
    Session("2026-W17/2026-04-20-bike-test.fit", at(4, 20, 17, 30), "cycling", "indoor_cycling",
            "the recording of the bike test, a lap a step", ("not_judged",), _bike_test, 101, RIDING_HEART,
            drift_per_h=0.0, temperature_c=(20.0, 22.0), intent="test", intent_source="sessions.csv",
            label_note="step test on the trainer", laps=tuple(range(0, 3600, 600))),
    Session("2026-W17/2026-04-23-easy-ride.fit", at(4, 23, 18, 5), "cycling", "road",
            "an easy ride that stays easy", (), on_road(courses.valley, lambda _: RidePlan(
                3600, knots((0, 130), (4, 152), (60, 150)), level(CAP))), 131, RIDING_HEART, drift_per_h=0.004,
            intent="easy", intent_source="sessions.csv", label_note="legs still tired from the tests"),
    Session("2026-W17/2026-04-25-valley-ride.fit", at(4, 25, 9, 10), "cycling", "road",
            "a steady ride in band; the power meter falls silent for 7 s and writes nonsense once", (),
            _valley(6300, 186.0, push("first rise", 60, 0, 8, 262, cause="rise"), near_miss("long flats", 2000, 0),
                    push("river flats", 1500, 0, 9, 258), push("mill flats", 2000, 1, 7, 264),
                    push("back road", 2500, 1, 10, 255)),
            141, RIDING_HEART, faults=Faults(no_power=(3120, 7), no_heart_rate=(4000, 25), spike=5003)),
    Session("2026-W18/2026-04-28-indoor-ride.fit", at(4, 28, 18, 15), "cycling", "indoor_cycling",
            "a steady indoor ride with smart recording", (), _steady_indoors, 151, RIDING_HEART, drift_per_h=0.018,
            temperature_c=(21.0, 23.0), smart=True),
    Session("2026-W18/2026-04-30-long-intervals.fit", at(4, 30, 17, 50), "cycling", "road",
            "a hard interval day, labelled so", ("not_judged",), on_road(courses.valley, _long_intervals), 161,
            RIDING_HEART, intent="hard", intent_source="sessions.csv", label_note="five times four minutes"),
    Session("2026-W18/2026-05-02-cafe-ride.fit", at(5, 2, 9, 0), "cycling", "road",
            "a steady ride in band with a cafe stop, two automatic pauses and a stop with the timer running", (),
            _valley(8100, 188.5, push("lake road", 2000, 0, 8, 266), push("mill flats", 900, 2, 7, 270),
                    stops=_cafe_stops()),
            171, RIDING_HEART, enhanced=True, stop_kinds=("auto", "timer", "auto")),
    Session("2026-W18/2026-05-03-lake-ride.gpx", at(5, 3, 9, 45), "cycling", "",
            "a steady ride in band that exists as GPX only", (),
            _valley(4500, 191.5, push("mill flats", 1200, 0, 9, 268), push("back road", 800, 0, 7, 276)),
            181, RIDING_HEART),
    Session("2026-W19/2026-05-05-short-intervals.fit", at(5, 5, 18, 0), "cycling", "indoor_cycling",
            "intervals whose file names them", ("not_judged",), _short_intervals, 191, RIDING_HEART,
            temperature_c=(21.0, 23.0), intent="hard", intent_source="recording", workout="Short intervals"),
    Session("2026-W19/2026-05-07-hot-ride.fit", at(5, 7, 14, 30), "cycling", "road",
            "power in band on a hot day, heart rate drifting up", ("heart_rate_drift", "heart_rate_above_test"),
            _valley(5400, 189.0, push("long flats", 1500, 0, 8, 262)), 201, RIDING_HEART, drift_per_h=0.135,
            temperature_c=(33.0, 37.0), enhanced=True),
    Session("2026-W19/2026-05-09-social-ride.fit", at(5, 9, 10, 0), "cycling", "road",
            "company that rides below the band; nobody labelled it easy", ("too_low",),
            on_road(courses.valley, _social), 211, RIDING_HEART),
    Session("2026-W19/2026-05-10-cut-short.fit", at(5, 10, 9, 20), "cycling", "road",
            "a steady ride in band whose device died: the file ends inside a record", (),
            _valley(4800, 193.0, push("back road", 1200, 0, 8, 268)), 221, RIDING_HEART,
            intent_source="sessions.csv", label_note="device ran out of battery", faults=Faults(cut=(3120, 13))),
    Session("2026-W20/2026-05-12-valley-ride.fit", at(5, 12, 18, 5), "cycling", "road",
            "a steady ride in band", (),
            _valley(4980, 196.5, push("second rise", 50, 0, 7, 258, cause="rise"), push("mill flats", 700, 1, 8, 262)),
            231, RIDING_HEART),
    Session("2026-W20/2026-05-13-to-the-baker.fit", at(5, 13, 7, 20), "cycling", "commuting",
            "a quarter of an hour, too short to judge", ("not_judged",), on_road(courses.valley, lambda _: RidePlan(
                840, knots((0, 120), (3, 150)), level(CAP))), 241, RIDING_HEART),
    Session("2026-W20/2026-05-14-evening-ride.fit", at(5, 14, 17, 40), "cycling", "road",
            "a steady ride that creeps into zone 3 in its last part", ("zone_3_drift",),
            on_road(courses.valley, _creep), 251, RIDING_HEART, drift_per_h=0.002, enhanced=True),
    Session("2026-W20/2026-05-16-two-hills.fit", at(5, 16, 9, 0), "cycling", "road",
            "a hilly ride with an average in band and too many surges", ("surges",),
            on_road(courses.hills, _two_hills), 261, RIDING_HEART, stop_kinds=("auto",), enhanced=True),
)  # fmt: skip
