"""The runs of the demo's four weeks: an athlete whose easy running is slow, but there."""

from __future__ import annotations

from collections.abc import Callable

from simulation import courses
from simulation.athlete import RUN_STEPS, RUNNING_HEART, STEP_S
from simulation.course import Course
from simulation.plans import knots
from simulation.rides import at
from simulation.runner import RunPlan, run, treadmill
from simulation.session import Session
from simulation.track import Planted, Track


def _even_run(course: Callable[[], Course], minutes: int, kmh: float) -> Callable[[int], Track]:
    speed = knots((0, (kmh - 0.5) / 3.6), (6, kmh / 3.6), (minutes, kmh / 3.6))
    return lambda seed: run(course(), RunPlan(minutes * 60, speed), seed)


def _run_test(seed: int) -> Track:
    """The belt is a touch slower for some seconds before the first step over the ceiling, so that it starts to the second."""
    speeds = [step.si for step in RUN_STEPS]
    steps = [(speed, STEP_S) for speed in speeds]
    steps[-3:-2] = [(speeds[-3], STEP_S - 15), (speeds[-3] - 0.06, 15)]
    track = treadmill(steps, seed)
    track.planted.append(Planted(len(track) - 2 * STEP_S, 2 * STEP_S, speeds[-2], "unknown", None))
    return track


RUNS = (
    Session("2026-W17/2026-04-22-run-test.fit", at(4, 22, 17, 30), "running", "treadmill",
            "the recording of the treadmill test, a lap a step", ("not_judged",), _run_test, 301,
            RUNNING_HEART, drift_per_h=0.0, temperature_c=None, intent="test", intent_source="sessions.csv",
            label_note="step test on the treadmill", laps=tuple(range(0, STEP_S * len(RUN_STEPS), STEP_S))),
    Session("2026-W17/2026-04-26-dune-run.fit", at(4, 26, 9, 30), "running", "trail",
            "a hilly run at an even flat-equivalent pace", (), _even_run(courses.dunes, 60, 9.2), 311,
            RUNNING_HEART, temperature_c=None),
    Session("2026-W18/2026-04-29-causeway-jog.fit", at(4, 29, 17, 45), "running", "street",
            "an easy run that stays easy, with smart recording", (), _even_run(courses.causeway, 46, 8.1), 321,
            RUNNING_HEART, temperature_c=None, smart=True, intent="easy", intent_source="sessions.csv",
            label_note="slow on purpose"),
    Session("2026-W19/2026-05-06-dune-run.fit", at(5, 6, 17, 50), "running", "trail",
            "a hilly run at an even flat-equivalent pace", (), _even_run(courses.dunes, 64, 9.25), 331,
            RUNNING_HEART, temperature_c=None, enhanced=True),
    Session("2026-W20/2026-05-13-causeway-jog.fit", at(5, 13, 17, 40), "running", "street",
            "a run labelled easy that was run in the steady band", ("steady_in_easy",),
            _even_run(courses.causeway, 48, 9.3), 341, RUNNING_HEART, temperature_c=None, intent="easy",
            intent_source="sessions.csv", label_time=True, label_note="felt easy"),
    Session("2026-W20/2026-05-17-dune-run.fit", at(5, 17, 9, 40), "running", "trail",
            "a hilly run at an even flat-equivalent pace", (), _even_run(courses.dunes, 58, 9.2), 351,
            RUNNING_HEART, temperature_c=None),
)  # fmt: skip
