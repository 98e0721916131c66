"""The text files of the athlete folder: athlete.toml, both tests, sessions.csv, README.md."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from simulation.athlete import (
    BIKE,
    BIKE_BASELINE,
    BIKE_KG,
    BIKE_STEPS,
    NAME,
    RIDER_KG,
    RUN_BASELINE,
    RUN_STEPS,
    ZONE,
    Step,
)
from simulation.session import Session

BIKE_TEST = "2026-04-20-bike.toml"
RUN_TEST = "2026-04-22-run.toml"

ATHLETE = f"""\
# The athlete folder of the demo. Robin is invented, and so are all numbers and recordings in this folder.

name = "{NAME}"
time_zone = "{ZONE}"          # one hour ahead of UTC: this name counts westward; it needs no claim of a place
units = "metric"
reports = "../reports"           # the demo's pages go to the repository's reports/; without this line, to reports/ here
privacy_m = 300                  # positions within so many metres of a track's start and end are never written or drawn

# Rider and bike: with both, surges that the hill forced are told from avoidable ones.
[body]
mass_kg = {RIDER_KG:g}

[bike]
mass_kg = {BIKE_KG:g}
chainrings = {list(BIKE.chainrings)}
cassette = {list(BIKE.cassette)}
wheel_circumference_m = {BIKE.wheel_m}
cadence_floor = {BIKE.cadence_floor:g}

# Upper threshold in the unit of the sport's test; what lies above it is shown as severe.
[thresholds]
cycling = 258                    # W

# Words in a recording's own workout name that tell what the session was for; a row in sessions.csv goes before these.
[[intent_rule]]
word = "intervals"
intent = "hard"
"""

README = """\
# Demo activities

An athlete folder with four weeks of rides and runs, from 20 April to 17 May 2026. **Everything here is invented**: the
athlete, the step tests, the roads and every recording. No person rode or ran any of it, and the positions lie in open
ocean so that no real place is claimed.

`python demo_activities/make_demo.py` writes the folder again, byte for byte, from the simulation in `simulation/`
(it needs the test extra, for the library that writes FIT). It simulates courses, a rider and a runner, heart rate,
an altimeter with steps of 0.2 m, and the habits of recording devices.

`truth.json` says what was planted in each recording (surges by second, length and height; drift; pauses; faults) and
which findings an audit must come to. The tests hold the audit to it.
"""


REPORTS = re.compile(r"^reports = .*\n", re.MULTILINE)

PACKED_README = """\
# The demo athlete

Robin of this folder does not exist. **Everything here is invented**: the athlete, the step tests, the roads and every
recording. No person rode or ran any of it, and the positions lie in open ocean so that no real place is claimed.

- `athlete.toml`: the athlete, with comments
- `tests/`: a step test on the bike and one on foot
- `activities/`: four weeks of rides and runs, from 20 April to 17 May 2026
- `sessions.csv`: what some of the sessions were for
- `reports/`: the pages that the commands write

Change what you like and run `steadyband week` on this folder again. Delete the folder when you are done; nothing else
was written on your computer.
"""


def athlete_toml() -> str:
    """athlete.toml of the folder in the repository."""
    return ATHLETE


def packed_athlete_toml() -> str:
    """athlete.toml of the demo that the package carries: its pages go to its own reports/."""
    return REPORTS.sub("", ATHLETE)


def readme() -> str:
    """README.md of the folder in the repository."""
    return README


def packed_readme() -> str:
    """README.md of the demo that the package carries."""
    return PACKED_README


def sessions_csv(sessions: Sequence[Session]) -> str:
    """sessions.csv: a row for each labelled session, in order of time."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("date", "time", "intent", "sport", "note"))
    for item in sorted(sessions, key=lambda one: one.start):
        if item.intent_source == "sessions.csv":
            clock = item.start.strftime("%H:%M") if item.label_time else ""
            writer.writerow((item.start.date().isoformat(), clock, item.intent, item.sport, item.label_note))
    return out.getvalue()


def bike_test(hearts: Sequence[int]) -> str:
    """The bike test as typed; highest heart rates are those of the recording's laps."""
    head = f"""\
# Invented step test of the demo, on an indoor trainer. Lactate in mmol/L.
# A real test can hurt: screening follows your physician and local practice; one single-use lancet a prick, never shared.
date = 2026-04-20
sport = "cycling"
load_unit = "W"
state = "fed"
mass_kg = {RIDER_KG:g}
step_minutes = 10
baseline = [{BIKE_BASELINE}]
meter = "trainer of the demo"
analyser = "handheld unit of the demo"
recording = "../activities/2026-W17/2026-04-20-bike-test.fit"
"""
    return head + _steps(BIKE_STEPS, hearts)


def run_test(hearts: Sequence[int]) -> str:
    """The treadmill test as typed: three walking steps, then running."""
    head = f"""\
# Invented step test of the demo, on a treadmill: walking first, then running. Lactate in mmol/L.
# A real test can hurt: screening follows your physician and local practice; one single-use lancet a prick, never shared.
date = 2026-04-22
sport = "running"
load_unit = "km/h"
state = "fed"
mass_kg = {RIDER_KG:g}
step_minutes = 10
baseline = [{RUN_BASELINE}]
meter = "foot pod of the demo"
analyser = "handheld unit of the demo"
recording = "../activities/2026-W17/2026-04-22-run-test.fit"
note = "Lactate is up as soon as walking turns into running: no easy running."
"""
    return head + _steps(RUN_STEPS, hearts)


def _steps(steps: Sequence[Step], hearts: Sequence[int]) -> str:
    return "".join(_step(step, heart) for step, heart in zip(steps, hearts, strict=True))


def _step(step: Step, heart: int) -> str:
    gait = 'gait = "walk"\n' if step.walk else ""
    samples = f"[{{minute = 5, lactate = {step.early}}}, {{minute = 10, lactate = {step.late}}}]"
    return f"\n[[step]]\nload = {step.load}\n{gait}hr_max = {heart}\nsamples = {samples}\n"
