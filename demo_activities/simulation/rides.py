"""The rides of the demo's four weeks."""

from __future__ import annotations

import random
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
CAP = 157.5
"""Highest 3-s mean [W] of riding that is meant to be smooth: under the target top of 158.8 W, so it can begin no surge."""
PEDALS_SLOPE, PEDALS_W = 0.975, -1.5
"""What the pedals read of the trainer's watts: the offset to find."""


def at(month: int, day: int, hour: int, minute: int, second: int = 11) -> datetime:
    """Local time in 2026."""
    return datetime(2026, month, day, hour, minute, second, tzinfo=ZoneInfo(ZONE))


def push(
    segment: str, offset: float, lap: int, seconds: int, watts: float, *, cause: str = "flat", lead_s: int = 0
) -> Planned:
    """An avoidable effort on a segment."""
    return segment, offset, lap, Effort(0.0, seconds, watts, cause, lead_s=lead_s)


def lull(segment: str, offset: float, lap: int, seconds: int, watts: float, *, cause: str) -> Planned:
    """An effort with 5 s between release and ceiling in its middle: one surge, not two."""
    return segment, offset, lap, Effort(0.0, seconds, watts, cause, lull_s=5)


def near_miss(segment: str, offset: float, lap: int) -> Planned:
    """Two hard strokes, over the ceiling for less than 5 s: no surge."""
    return segment, offset, lap, Effort(0.0, 2, 228.0, "flat", counts=False)


def on_gravel(course: Callable[[], Course], plan: Callable[[Course], RidePlan]) -> Callable[[int], Track]:
    """A ride on a course, simulated when it is asked for."""
    return lambda seed: ride(course(), plan(course()), BIKE, seed)


def _shore(seconds: int, base: float, *efforts: Planned, stops: tuple[Stop, ...] = ()) -> Callable[[int], Track]:
    return on_gravel(
        courses.shore,
        lambda course: RidePlan(seconds, steady(base), level(CAP), place(course, efforts), stops),
    )


def _bike_test(seed: int) -> Track:
    blocks = [Block(step.si, STEP_S) for step in BIKE_STEPS]
    last = BIKE_STEPS[-2].si
    blocks[-2:-1] = [Block(last, STEP_S - 8), Block(last - 4.0, 8, 1.0)]
    blocks[-1] = Block(BIKE_STEPS[-1].si, STEP_S, planted=True)
    return trainer_ride(blocks, BIKE, seed)


def _trainer_hour(seed: int) -> Track:
    blocks = (
        Block(112, 300),
        Block(134, 240),
        Block(152, 1500),
        Block(154, 900),
        Block(156, 900, 3.0),
        Block(124, 240),
    )
    return trainer_ride(blocks, BIKE, seed)


def _trainer_hour_by_pedals(seed: int) -> Track:
    """The same hour as the pedals read it; the heart beats for what was really ridden."""
    dice, track = random.Random(seed + 5), _trainer_hour(seed)
    track.power_w = [round(PEDALS_W + PEDALS_SLOPE * power + dice.gauss(0.0, 2.0)) for power in track.power_w]
    return track


def _minute_repeats(seed: int) -> Track:
    work = [Block(104, 75, 5.0), Block(242, 50, 7.0, planted=True)] * 9
    return trainer_ride([Block(112, 420, 5.0), Block(140, 300, 5.0), *work, Block(104, 480, 5.0)], BIKE, seed)


def _long_repeats(course: Course) -> RidePlan:
    """Four and a half minutes hard, about three easy, four times over."""
    work = tuple(Effort(8100.0 + 3900.0 * number, 270, 209.0, "flat") for number in range(4))
    return RidePlan(3900, knots((0, 115), (10, 140), (17, 140), (19, 104)), level(CAP), work)


def _slow_company(course: Course) -> RidePlan:
    power = knots((0, 112), (5, 130), (38, 128), (40, 149), (46, 149), (48, 127), (80, 126))
    return RidePlan(4800, power, level(CAP), place(course, [near_miss("long beach", 900, 0)]), slow_sd=4.0)


def _last_ferry(_: Course) -> RidePlan:
    """Steady for 55 minutes; then the ferry is in sight, and 25 minutes go by well above the ceiling."""
    race = Effort(23600.0, 1500, 184.0, "flat", lead_s=8, ease_s=20)
    return RidePlan(4920, steady(151.0), level(CAP), (race,), slow_sd=2.0, fast_sd=4.0)


def _moor(course: Course) -> RidePlan:
    ramp = Effort(0.0, 0, 214.0, "on climb", True, until_m=100.0)
    efforts = [
        push("start track", 900, 0, 10, 250),
        near_miss("start track", 1500, 0),
        push("first climb", 24, 0, 11, 254, cause="climb start"),
        push("first climb", 600, 0, 10, 244, cause="on climb"),
        lull("first climb", 1200, 0, 14, 240, cause="on climb"),
        push("first climb", 1872, 0, 10, 246, cause="crest"),
        push("first descent", 900, 0, 12, 258, cause="descent"),
        push("peat flats", 700, 0, 10, 260),
        push("short rise", 40, 0, 10, 254, cause="rise"),
        push("bridge lane", 600, 0, 9, 252),
        push("steep climb", 24, 0, 11, 254, cause="climb start"),
        ("ramp", -3.0, 0, ramp),
        push("upper climb", 392, 0, 10, 244, cause="crest"),
        push("second descent", 700, 0, 12, 254, cause="descent"),
        push("heath flats", 800, 0, 10, 258),
        push("third climb", 24, 0, 11, 250, cause="climb start"),
        push("third climb", 650, 0, 10, 244, cause="on climb"),
        push("third climb", 1268, 0, 10, 242, cause="crest"),
        push("third descent", 700, 0, 12, 254, cause="descent"),
        push("start track", 1100, 1, 10, 252),
        push("first climb", 24, 1, 10, 250, cause="climb start"),
        near_miss("first climb", 800, 1),
        lull("first climb", 1300, 1, 14, 238, cause="on climb"),
        push("first climb", 1872, 1, 10, 242, cause="crest"),
        push("short rise", 40, 1, 10, 252, cause="rise"),
        push("steep climb", 24, 1, 10, 248, cause="climb start"),
        ("ramp", -3.0, 1, ramp),
        push("heath flats", 1000, 1, 10, 256),
        push("third climb", 24, 1, 10, 246, cause="climb start"),
    ]
    stops = (
        Stop(course.place("heath flats", 1900, 0), 34, "auto", 3, (10, 258.0)),
        Stop(course.place("bridge lane", 1050, 1), 12, "none", 0, (10, 252.0)),
    )
    return RidePlan(6660, steady(149.0, 1.5), level(CAP), place(course, efforts), stops, climb_w=1.5, coast_above=12.0)


def _ferry_stops() -> tuple[Stop, ...]:
    course = courses.shore()
    return (
        Stop(course.place("back lane", 900, 0), 41, "auto", 3, (10, 238.0)),
        Stop(course.place("salt flats", 1500, 1), 774, "timer", 6, (10, 242.0)),
        Stop(course.place("long beach", 2800, 1), 25, "none", 0),
        Stop(course.place("reed path", 600, 1), 8, "auto", 1),
    )


RIDES = (
    Session("2026-W17/2026-04-20-bike-test.fit", at(4, 20, 17, 30), "cycling", "indoor_cycling",
            "the recording of the bike test, a lap a step", ("not_judged",), _bike_test, 101, RIDING_HEART,
            drift_per_h=0.0, temperature_c=(20.0, 22.0), intent="test", intent_source="sessions.csv",
            label_note="step test on the trainer", laps=tuple(range(0, STEP_S * len(BIKE_STEPS), STEP_S))),
    Session("2026-W17/2026-04-23-loose-legs.fit", at(4, 23, 18, 5), "cycling", "gravel_cycling",
            "an easy ride that stays easy", (), on_gravel(courses.shore, lambda _: RidePlan(
                3300, knots((0, 100), (4, 119), (55, 117)), level(CAP))), 131, RIDING_HEART, drift_per_h=0.004,
            intent="easy", intent_source="sessions.csv", label_note="heavy legs after the tests"),
    Session("2026-W17/2026-04-25-shore-gravel.fit", at(4, 25, 9, 10), "cycling", "gravel_cycling",
            "a steady ride in band; the power meter falls silent for 7 s and writes nonsense once", (),
            _shore(6000, 149.0, push("first ramp", 50, 0, 10, 246, cause="rise"), near_miss("long beach", 2000, 0),
                   push("reed path", 1300, 0, 10, 248), push("salt flats", 1900, 1, 9, 250),
                   push("back lane", 2200, 1, 11, 244)),
            141, RIDING_HEART, faults=Faults(no_power=(3120, 7), no_heart_rate=(4000, 25), spike=5003)),
    Session("2026-W18/2026-04-28-trainer-hour.fit", at(4, 28, 18, 15), "cycling", "indoor_cycling",
            "a steady hour indoors with smart recording", (), _trainer_hour, 151, RIDING_HEART, drift_per_h=0.016,
            temperature_c=(21.0, 23.0), smart=True, device="trainer of the demo"),
    Session("2026-W18/2026-04-28-trainer-hour-pedals.fit", at(4, 28, 18, 15, 15), "cycling", "indoor_cycling",
            "the same hour as new pedals read it, their clock 4 s ahead: a copy to leave out, an offset to find", (),
            _trainer_hour_by_pedals, 151, RIDING_HEART, drift_per_h=0.016, temperature_c=None,
            device="pedals of the demo"),
    Session("2026-W18/2026-04-30-long-repeats.fit", at(4, 30, 17, 50), "cycling", "gravel_cycling",
            "a hard day, labelled so", ("not_judged",), on_gravel(courses.shore, _long_repeats), 161,
            RIDING_HEART, intent="hard", intent_source="sessions.csv", label_note="four times four and a half minutes"),
    Session("2026-W18/2026-05-02-ferry-wait.fit", at(5, 2, 9, 0), "cycling", "gravel_cycling",
            "a steady ride in band with a wait for the ferry, two automatic pauses and a stop with the timer running", (),
            _shore(7500, 151.0, push("quay track", 1700, 0, 10, 250), push("salt flats", 900, 2, 9, 254),
                   stops=_ferry_stops()),
            171, RIDING_HEART, enhanced=True, stop_kinds=("auto", "timer", "auto")),
    Session("2026-W18/2026-05-03-phone-ride.gpx", at(5, 3, 9, 45), "cycling", "",
            "a steady ride in band that only a phone recorded, every other second, as GPX", (),
            _shore(4200, 152.5, push("salt flats", 1200, 0, 11, 252, lead_s=5), push("back lane", 800, 0, 10, 256, lead_s=5)),
            181, RIDING_HEART, phone=True),
    Session("2026-W19/2026-05-05-minute-repeats.fit", at(5, 5, 18, 0), "cycling", "indoor_cycling",
            "repeats whose file names them", ("not_judged",), _minute_repeats, 191, RIDING_HEART,
            temperature_c=(21.0, 23.0), intent="hard", intent_source="recording", workout="Minute repeats"),
    Session("2026-W19/2026-05-07-heat-ride.fit", at(5, 7, 14, 30), "cycling", "gravel_cycling",
            "power in band on a hot day, heart rate drifting up", ("heart_rate_drift", "heart_rate_above_test"),
            _shore(5400, 151.5, push("long beach", 1500, 0, 10, 246)), 201, RIDING_HEART, drift_per_h=0.125,
            temperature_c=(33.0, 37.0), enhanced=True),
    Session("2026-W19/2026-05-08-borrowed-bike.fit", at(5, 8, 17, 20), "cycling", "road",
            "a steady hour on a bike without a power meter: heart rate is all there is", (),
            _shore(3600, 153.5), 205, RIDING_HEART, drift_per_h=0.002, by_heart=True),
    Session("2026-W19/2026-05-09-slow-company.fit", at(5, 9, 10, 0), "cycling", "gravel_cycling",
            "a ride labelled endurance, in company that rides below the band", ("too_low",),
            on_gravel(courses.shore, _slow_company), 211, RIDING_HEART, intent_source="sessions.csv",
            label_note="meant to be steady"),
    Session("2026-W19/2026-05-10-flat-battery.fit", at(5, 10, 9, 20), "cycling", "gravel_cycling",
            "a steady ride in band whose device died: the file ends inside a record", (),
            _shore(4800, 154.0, push("back lane", 1200, 0, 10, 250)), 221, RIDING_HEART,
            intent_source="sessions.csv", label_note="device ran out of battery", faults=Faults(cut=(3120, 13))),
    Session("2026-W20/2026-05-12-shore-gravel.fit", at(5, 12, 18, 5), "cycling", "gravel_cycling",
            "a steady ride in band", (),
            _shore(4800, 157.0, push("second ramp", 45, 0, 10, 246, cause="rise"), push("salt flats", 700, 1, 10, 248)),
            231, RIDING_HEART),
    Session("2026-W20/2026-05-13-to-the-harbour.fit", at(5, 13, 7, 20), "cycling", "commuting",
            "a quarter of an hour, too short to judge", ("not_judged",), on_gravel(courses.shore, lambda _: RidePlan(
                840, knots((0, 96), (3, 119)), level(CAP))), 241, RIDING_HEART),
    Session("2026-W20/2026-05-14-last-ferry.fit", at(5, 14, 17, 40), "cycling", "gravel_cycling",
            "a steady ride whose last 25 minutes chase a ferry, above the ceiling",
            ("surges", "zone_3_drift"), on_gravel(courses.shore, _last_ferry), 251, RIDING_HEART,
            drift_per_h=0.002, enhanced=True),
    Session("2026-W20/2026-05-16-moor-tracks.fit", at(5, 16, 9, 0), "cycling", "gravel_cycling",
            "a hilly ride with an average in band and too many surges", ("surges",),
            on_gravel(courses.moor, _moor), 261, RIDING_HEART, stop_kinds=("auto",), enhanced=True),
)  # fmt: skip
