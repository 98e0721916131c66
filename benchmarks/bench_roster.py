"""A coach's roster: first run and re-run with one process and with two, how well the second one is used, and memory.

    python benchmarks/bench_roster.py [--athletes 50] [--recordings 100] [--processes 2] [--rounds 1] [--keep FOLDER]

Athletes are invented folders of `bench_season.py`, each with rides of its own. Every measured run is `steadyband roster` in a
process of its own. Efficiency is T1 / (n Tn): the wall time with one process over that with n, shared by n. "First" has no
store and no pages; "again" has both. Memory is the largest resident size of the command itself and of its largest worker.
By processor time alone, it is what a quiet machine could reach: the command's own time and an equal part of its processes'.
`--figures` prints what docs/scale.md is worked out from: bytes kept a session and processor seconds of each part of the work.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import json
import pickle
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from bench_season import DAY, LAST_DAY, TESTS, fit_bytes, simulated, size_of, varied


def generate(place: Path, athletes: int, recordings: int) -> float:
    """Athlete folders with rides of their own, five a week; returns the hours ridden by all."""
    rng = np.random.default_rng(20260524)
    base = simulated(8, rng)
    seconds = 0
    for number in range(athletes):
        home = place / f"athlete-{number:03d}"
        (home / "activities").mkdir(parents=True)
        shutil.copytree(TESTS, home / "tests")
        (home / "athlete.toml").write_text(f'name = "Invented {number}"\ntime_zone = "UTC"\n', encoding="utf-8")
        for ride in range(recordings):
            start = LAST_DAY - int(ride * 7 / 5 * DAY)
            records, lasted = varied(base, start, rng)
            path = home / "activities" / f"{recordings - ride:05d}.fit"
            path.write_bytes(fit_bytes(records, start, running=False))
            seconds += lasted
    time.sleep(2.5)  # the store only trusts files that have been left alone for two seconds
    return seconds / 3600


def child(arguments: list[str]) -> None:
    """One measured run; what it took goes to standard error."""
    from steadyband.cli import main as cli

    sys.argv = ["steadyband", *arguments]
    try:
        cli.main()
    except SystemExit as done:
        if done.code:
            raise
    own, helpers = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    taken = {
        "own_cpu_s": own.ru_utime + own.ru_stime,
        "helpers_cpu_s": helpers.ru_utime + helpers.ru_stime,
        "own_mb": own.ru_maxrss / 1024,
        "helper_mb": helpers.ru_maxrss / 1024,
    }
    print(json.dumps(taken), file=sys.stderr)


def run(place: Path, processes: int) -> dict[str, Any]:
    """`steadyband roster` with so many processes: wall time, memory, and what it printed."""
    command = [
        sys.executable,
        __file__,
        "--child",
        "roster",
        str(place),
        "--format",
        "json",
        "--processes",
        str(processes),
    ]
    started = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wall = time.perf_counter() - started
    if done.returncode:
        raise SystemExit(done.stderr)
    found: dict[str, Any] = json.loads(done.stderr.splitlines()[-1])
    return found | {"wall_s": wall, "printed": done.stdout}


def forget(place: Path) -> None:
    """Take away every store and every page."""
    for path in [*place.rglob(".steadyband"), *place.rglob("reports")]:
        shutil.rmtree(path)


def measured(place: Path, processes: int, rounds: int) -> dict[str, Any]:
    """The medians of some first runs, each followed by one that finds everything done."""
    first, again = [], []
    for _ in range(rounds):
        forget(place)
        first.append(run(place, processes))
        again.append(run(place, processes))
    return {
        "first_s": statistics.median(item["wall_s"] for item in first),
        "again_s": statistics.median(item["wall_s"] for item in again),
        "own_mb": max(item["own_mb"] for item in first),
        "helper_mb": max(item["helper_mb"] for item in first),
        "own_cpu_s": statistics.median(item["own_cpu_s"] for item in first),
        "helpers_cpu_s": statistics.median(item["helpers_cpu_s"] for item in first),
        "printed": first[0]["printed"],
    }


def bench(place: Path, args: argparse.Namespace) -> None:
    """Prints one line a number of processes, then the efficiency."""
    hours = generate(place, args.athletes, args.recordings)
    total = args.athletes * args.recordings
    megabytes = sum(size_of(home / "activities") for home in place.iterdir())
    print(
        f"{args.athletes} athletes x {args.recordings} recordings = {total}, {hours:.0f} h, {megabytes:.0f} MB",
        flush=True,
    )
    found = {}
    for count in (1, args.processes):
        made = found[count] = measured(place, count, args.rounds)
        print(
            f"{count} process(es): first {made['first_s']:6.1f} s ({1000 * made['first_s'] / total:5.1f} ms a recording), again "
            f"{made['again_s']:5.1f} s; memory {made['own_mb']:4.0f} MB + {made['helper_mb']:4.0f} MB a worker; the command's own "
            f"processor time {made['own_cpu_s']:4.1f} s, its processes' {made['helpers_cpu_s']:5.1f} s",
            flush=True,
        )
    one, many = found[1], found[args.processes]
    for what in ("first_s", "again_s"):
        share = one[what] / (args.processes * many[what])
        print(f"efficiency, {what.removesuffix('_s'):>5}: {100 * share:3.0f} %")
    spent = many["own_cpu_s"] + many["helpers_cpu_s"] / args.processes
    share = (one["own_cpu_s"] + one["helpers_cpu_s"]) / (args.processes * spent)
    print(f"efficiency, first, by processor time alone (holds on a busy machine): {100 * share:3.0f} %")
    print(f"same result: {one['printed'] == many['printed']}")
    kept = sum(size_of(home / ".steadyband") for home in place.iterdir() if home.is_dir())
    pages = sum(size_of(home / "reports") for home in place.iterdir() if home.is_dir())
    print(f"store {1000 * kept / total:.1f} kB a recording; pages {pages / args.athletes:.1f} MB an athlete and week")


def figures(place: Path, recordings: int) -> None:
    """Processor seconds of each part for one athlete, and what is kept on disk by kind."""
    from steadyband.athlete.executor import inputs_only
    from steadyband.athlete.folder import open_folder, recordings_in
    from steadyband.athlete.season import load_season
    from steadyband.athlete.store import open_store
    from steadyband.athlete.work import audit_bytes, products_of, work_on
    from steadyband.recording.archives import Source
    from steadyband.report.week.files import write_week
    from steadyband.review.repeat_climbs import repeat_climbs
    from steadyband.review.week import review_season

    generate(place, 2, recordings)
    warm, home = sorted(place.iterdir())
    for at in (warm, home):
        laps = [("", time.process_time())]
        folder = open_folder(at)
        laps.append(("open the folder, zones from its tests", time.process_time()))
        paths = recordings_in(folder.athlete.activities)
        done = work_on([Source(path) for path in paths], folder, None, products_of)
        laps.append(("read, audit and pack its recordings", time.process_time()))
        open_store(folder).put(done, {})
        laps.append(("keep them in the store", time.process_time()))
        season = load_season(paths, folder, open_store(folder))
        laps.append(("load the season from the store", time.process_time()))
        review = review_season(folder, season)
        laps.append(("review the week", time.process_time()))
        write_week(review, repeat_climbs(item.audit for item in season.sessions))
        laps.append((f"write the week's page and {len(review.audits)} sessions' pages", time.process_time()))
        write_week(review, repeat_climbs(item.audit for item in season.sessions))
        laps.append(("write them again, nothing new", time.process_time()))
    for (_, before), (name, after) in pairwise(laps):
        print(f"{name:60s} {after - before:7.3f} s = {1000 * (after - before) / recordings:6.2f} ms a recording")
    for kind in ("sessions", "detail", "index"):
        size = sum(path.stat().st_size for path in (home / ".steadyband").glob(f"{kind}*"))
        print(f"store, {kind:10s} {size / recordings / 1000:7.2f} kB a recording")
    sent = pickle.dumps(partial(audit_bytes, folder=inputs_only(folder), sport=None))
    back = sum(len(pickle.dumps(item.products)) for item in done) / recordings
    print(f"to a cluster, besides the recording {len(sent) / 1000:6.1f} kB, back {back / 1000:6.1f} kB a recording")
    print(f"recordings        {1000 * size_of(home / 'activities') / recordings:7.2f} kB a recording")


def main() -> None:
    """Prints what was measured."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--athletes", type=int, default=50)
    parser.add_argument("--recordings", type=int, default=100)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--figures", action="store_true", help="Only the figures of docs/scale.md.")
    parser.add_argument("--keep", type=Path, help="Use this new folder and leave it.")
    parser.add_argument("--child", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.child:
        child(args.child)
        return
    place = args.keep or Path(tempfile.mkdtemp(prefix="roster-"))
    try:
        figures(place, args.recordings) if args.figures else bench(place, args)
    finally:
        if not args.keep:
            shutil.rmtree(place)


if __name__ == "__main__":
    main()
