"""The text files of the athlete folder: athlete.toml, the tests, sessions.csv, README.md."""

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
    OLDER_BASELINE,
    OLDER_HEARTS,
    OLDER_STEPS,
    RIDER_KG,
    RUN_BASELINE,
    RUN_STEPS,
    SAMPLE_MINUTES,
    STEP_S,
    ZONE,
    Step,
)
from simulation.session import Session

BIKE_TEST = "2026-04-20-bike.toml"
OLDER_TEST = "2026-02-09-bike.toml"
RUN_TEST = "2026-04-22-run.toml"
CAUTION = "# A real test can hurt: screening follows your physician and local practice; one single-use lancet a prick, never shared."

ATHLETE = f"""\
# The athlete folder of the demo. Wren is invented, and so are all numbers and recordings in this folder.

name = "{NAME}"
time_zone = "{ZONE}"          # three hours behind UTC: this name counts westward; it needs no claim of a place
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
cycling = 203                    # W

# Words in a recording's own workout name that tell what the session was for; a row in sessions.csv goes before these.
[[intent_rule]]
word = "repeats"
intent = "hard"

# The pedals are new and read less than the trainer the test was done on. Ride by them, and what this prints belongs here:
# steadyband compare-meters activities/2026-W18/2026-04-28-trainer-hour.fit activities/2026-W18/2026-04-28-trainer-hour-pedals.fit
# [[meter_offset]]
# device = "pedals"
# test_meter = "trainer of the demo"
"""

README = """\
# Demo activities

An athlete folder with four weeks of rides and runs, from 20 April to 17 May 2026: gravel and trails on an island.
**Everything here is invented**: the athlete, the step tests, the island and every recording. No person rode or ran any of it, and the positions lie in open
ocean so that no real place is claimed.

`python demo_activities/make_demo.py` writes the folder again, byte for byte, from the simulation in `simulation/`
(it needs the test extra, for the library that writes FIT). It simulates courses, a rider and a runner, heart rate,
an altimeter with steps of 0.2 m, and the habits of recording devices.

`truth.json` says what was planted in each recording (surges by second, length, dose and height; drift; pauses; faults) and
which findings an audit must come to. The tests hold the audit to it.
"""


REPORTS = re.compile(r"^reports = .*\n", re.MULTILINE)

PACKED_README = """\
# The demo athlete

Wren of this folder does not exist. **Everything here is invented**: the athlete, the step tests, the island and every
recording. No person rode or ran any of it, and the positions lie in open ocean so that no real place is claimed.

- `athlete.toml`: the athlete, with comments
- `tests/`: two step tests on the bike, ten weeks apart, and one on foot
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
{CAUTION}
date = 2026-04-20
sport = "cycling"
load_unit = "W"
{_conditions(BIKE_BASELINE)}
meter = "trainer of the demo"
analyser = "handheld unit of the demo"
recording = "../activities/2026-W17/2026-04-20-bike-test.fit"
"""
    return head + _steps(BIKE_STEPS, hearts)


def older_test() -> str:
    """The bike test of ten weeks before, as typed; nobody kept its recording."""
    head = f"""\
# Invented step test of the demo: the one before, ten weeks earlier on the same trainer. Lactate in mmol/L.
{CAUTION}
date = 2026-02-09
sport = "cycling"
load_unit = "W"
{_conditions(OLDER_BASELINE)}
meter = "trainer of the demo"
analyser = "handheld unit of the demo"
"""
    return head + _steps(OLDER_STEPS, OLDER_HEARTS)


def run_test(hearts: Sequence[int]) -> str:
    """The treadmill test as typed, by pace."""
    head = f"""\
# Invented step test of the demo, on a treadmill, by pace. Lactate in mmol/L.
{CAUTION}
date = 2026-04-22
sport = "running"
load_unit = "min/km"
{_conditions(RUN_BASELINE)}
meter = "foot pod of the demo"
analyser = "handheld unit of the demo"
recording = "../activities/2026-W17/2026-04-22-run-test.fit"
note = "Slow running is easy; the band above it is narrow."
"""
    return head + _steps(RUN_STEPS, hearts)


def _conditions(baseline: float) -> str:
    return f"""\
state = "fed"
mass_kg = {RIDER_KG:g}
step_minutes = {STEP_S // 60}
baseline = [{baseline}]"""


def _steps(steps: Sequence[Step], hearts: Sequence[int]) -> str:
    return "".join(_step(step, heart) for step, heart in zip(steps, hearts, strict=True))


def _step(step: Step, heart: int) -> str:
    load = f'"{step.load[0]}:{step.load[1]:02d}"' if isinstance(step.load, tuple) else f"{step.load:g}"
    pairs = zip(SAMPLE_MINUTES, (step.early, step.late), strict=True)
    samples = ", ".join(f"{{minute = {minute}, lactate = {value}}}" for minute, value in pairs)
    return f"\n[[step]]\nload = {load}\nhr_max = {heart}\nsamples = [{samples}]\n"
