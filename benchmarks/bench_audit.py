"""How long zones, audits and terrain take beside reading the same ride, in one run. Prints; passes no judgement.

    python benchmarks/bench_audit.py [--rounds 7]

The longest real ride is used where ../shared/recordings (or STEADYBAND_RECORDINGS) is there, otherwise the longest demo ride.
"""

# ruff: noqa: T201

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable
from pathlib import Path

from steadyband import make_zones, read
from steadyband.athlete.folder import open_folder
from steadyband.athlete.sessions import audit_file
from steadyband.audit import audit_session
from steadyband.audit.measure.terrain import grade
from steadyband.recording.cleaning import prepared_rows
from steadyband.steptest.choose import Choice
from steadyband.told import audit_to_dict

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo_activities"


def longest_ride() -> Path:
    """The longest real ride with power, or the longest demo ride."""
    real = Path(os.environ.get("STEADYBAND_RECORDINGS", ROOT.parent / "shared" / "recordings"))
    found = real / "fit" / "ride_power_hr_gps_6h33.fit"
    return found if found.is_file() else max((DEMO / "activities").rglob("*ride*.fit"), key=lambda p: p.stat().st_size)


def best(work: Callable[[], object], rounds: int) -> float:
    """Shortest time of some rounds, in ms."""
    took = []
    for _ in range(rounds):
        begun = time.perf_counter()
        work()
        took.append(time.perf_counter() - begun)
    return 1000 * min(took)


def main() -> None:
    """Time every step and print it beside reading."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=7)
    rounds = parser.parse_args().rounds
    path, folder = longest_ride(), open_folder(DEMO)
    zones = next(item for item in folder.zone_sets if item.test.sport == "cycling")
    settings, session = folder.athlete.settings, read(path).sessions[0]
    rows, choice = prepared_rows(session, settings), Choice(zones, 10, "current", None)
    (info,) = (audit.info for audit in audit_file(path, folder)[:1])
    audit = audit_session(rows, info, choice, settings)
    reading = best(lambda: read(path), rounds)
    steps: list[tuple[str, Callable[[], object]]] = [
        ("one-second rows, cleaned", lambda: prepared_rows(session, settings)),
        ("terrain", lambda: grade(rows, settings.terrain)),
        ("audit, 2,000 curves of the test", lambda: audit_session(rows, info, choice, settings)),
        ("audit as JSON object", lambda: audit_to_dict(audit)),
        ("zones of a test, 2,000 curves", lambda: make_zones.__wrapped__(zones.test)),
    ]
    print(f"{path.name}: {len(rows)} s\n{'reading':40s} {reading:8.1f} ms")
    for name, work in steps:
        took = best(work, rounds)
        print(f"{name:40s} {took:8.1f} ms  {took / reading:5.1f} x reading")


if __name__ == "__main__":
    main()
