"""The runs of the demo's four weeks: an athlete for whom every run is at least steady."""

from __future__ import annotations

from collections.abc import Callable

from simulation import courses
from simulation.athlete import RUN_STEPS, RUNNING_HEART, STEP_S, WALKING_HEART
from simulation.course import Course
from simulation.heart import heart_rate
from simulation.plans import knots
from simulation.rides import at
from simulation.runner import RunPlan, run, treadmill
from simulation.session import Session
from simulation.track import Planted, Track


def _steady_run(course: Callable[[], Course], minutes: int, kmh: float) -> Callable[[int], Track]:
    speed = knots((0, (kmh - 0.5) / 3.6), (6, kmh / 3.6), (minutes, kmh / 3.6))
    return lambda seed: run(course(), RunPlan(minutes * 60, speed), seed)


def _run_test(seed: int) -> Track:
    """The belt is a touch slower for the last seconds before the last step, so that its surge starts to the second."""
    steps = [(step.load / 3.6, STEP_S) for step in RUN_STEPS]
    before, last = steps[-2][0], steps[-1]
    track = treadmill([*steps[:-2], (before, STEP_S - 15), (before - 0.06, 15), last], seed)
    track.planted.append(Planted(len(track) - STEP_S, STEP_S, last[0], "unknown", None))
    return track


def _test_hearts(track: Track, seed: int) -> list[int]:
    """Heart rate over the test: walking costs less a km/h than running."""
    walked = STEP_S * sum(step.walk for step in RUN_STEPS)
    walking = heart_rate(WALKING_HEART, track.load[:walked], 0.0, seed)
    return walking + heart_rate(RUNNING_HEART, track.load[walked:], 0.0, seed + 7, float(walking[-1]))


RUNS = (
    Session("2026-W17/2026-04-22-run-test.fit", at(4, 22, 17, 30), "running", "treadmill",
            "the recording of the treadmill test, a lap a step, walking first", ("not_judged",), _run_test, 301,
            RUNNING_HEART, temperature_c=None, intent="test", intent_source="sessions.csv",
            label_note="step test on the treadmill", laps=tuple(range(0, 4200, 600)), hearts=_test_hearts),
    Session("2026-W17/2026-04-26-hilly-run.fit", at(4, 26, 9, 30), "running", "trail",
            "a hilly run at an even flat-equivalent pace", (), _steady_run(courses.run_hills, 62, 9.1), 311,
            RUNNING_HEART, temperature_c=None),
    Session("2026-W18/2026-04-29-lake-run.fit", at(4, 29, 17, 45), "running", "street",
            "a run round the lake with smart recording", (), _steady_run(courses.run_flat, 46, 8.9), 321,
            RUNNING_HEART, temperature_c=None, smart=True),
    Session("2026-W19/2026-05-06-hilly-run.fit", at(5, 6, 17, 50), "running", "trail",
            "a hilly run at an even flat-equivalent pace", (), _steady_run(courses.run_hills, 66, 9.2), 331,
            RUNNING_HEART, temperature_c=None, enhanced=True),
    Session("2026-W20/2026-05-13-easy-run.fit", at(5, 13, 17, 40), "running", "street",
            "a run labelled easy by an athlete who has no easy running", ("no_easy_band",),
            _steady_run(courses.run_flat, 50, 8.5), 341, RUNNING_HEART, temperature_c=None, intent="easy",
            intent_source="sessions.csv", label_time=True, label_note="wanted to jog"),
    Session("2026-W20/2026-05-17-hilly-run.fit", at(5, 17, 9, 40), "running", "trail",
            "a hilly run at an even flat-equivalent pace", (), _steady_run(courses.run_hills, 60, 9.15), 351,
            RUNNING_HEART, temperature_c=None),
)  # fmt: skip
