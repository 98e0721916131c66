"""A generated season: first run, second run, memory, and whether time grows with the number of recordings.

    python benchmarks/bench_season.py [--sizes 100 400 1600] [--block 4000] [--again 400] [--keep FOLDER]

One invented ride is simulated and cut, scaled and written as FIT by a small encoder here, about 1.5 h a recording. Every
measured run is a process of its own that does what `steadyband week` does: open the folder, take what the store knows,
read and audit the rest on every core, review the latest week, make its page. The second run is compared with a process
that only imports polars and plotly, measured side by side. `--block` measures the block and the season from the store,
`--again` what the store saves when a setting that judges is changed: sessions judged again from their measured rows
against every recording read anew, in turn.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import statistics
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from steadyband.recording.fit.crc import crc16

FIT_EPOCH_UNIX = 631_065_600
LAST_DAY = 1_777_000_000 - FIT_EPOCH_UNIX
DAY, HOUR = 86_400, 3600
TESTS = Path(__file__).resolve().parent.parent / "demo_activities" / "tests"

RECORD = np.dtype(
    {
        "names": ["head", "time", "lat", "lon", "distance", "altitude", "speed", "power", "heart", "cadence"],
        "formats": ["u1", "<u4", "<i4", "<i4", "<u4", "<u2", "<u2", "<u2", "u1", "u1"],
    }
)
FIELDS = (
    (253, 4, 0x86),
    (0, 4, 0x85),
    (1, 4, 0x85),
    (5, 4, 0x86),
    (2, 2, 0x84),
    (6, 2, 0x84),
    (7, 2, 0x84),
    (3, 1, 2),
    (4, 1, 2),
)
"""Field number, size and base type of each column after the head (SOURCES S9)."""


def simulated(hours: float, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """One long made-up ride in hills, a value a second: slow swings, surges, rests and noise."""
    count = int(hours * HOUR)
    clock = np.arange(count)
    climb = np.sin(clock / 410) + 0.6 * np.sin(clock / 97)
    power = 185 + 28 * climb + np.convolve(rng.normal(0, 60, count), np.ones(6) / 6, "same") + rng.normal(0, 12, count)
    for at in rng.integers(0, count - 40, count // 150):
        power[at : at + rng.integers(5, 35)] += rng.uniform(60, 220)
    for at in rng.integers(0, count - 40, count // 120):
        power[at : at + rng.integers(3, 25)] = 0
    power = np.clip(np.round(power), 0, 900)
    slow = np.convolve(power, np.exp(-np.arange(150) / 40) / 40, "full")[:count]
    speed = np.clip(8.2 - 2.2 * climb + rng.normal(0, 0.2, count), 1.5, 16)
    return {
        "power": power,
        "heart": np.clip(np.round(70 + 0.35 * slow + 3 * np.sin(clock / 900) + rng.normal(0, 0.8, count)), 60, 190),
        "cadence": np.where(power > 0, np.round(86 + rng.normal(0, 3, count)), 0),
        "speed": speed,
        "altitude": 400 + np.cumsum(speed * 0.02 * climb),
        "north": np.cumsum(speed * np.cos(clock / 1700)),
        "east": np.cumsum(speed * np.sin(clock / 1700)),
    }


def varied(base: dict[str, np.ndarray], start: int, rng: np.random.Generator) -> tuple[np.ndarray, int]:
    """A piece of the ride, 1.1 to 1.9 h long, as records; a few percent harder or easier."""
    count = int(rng.uniform(1.1, 1.9) * HOUR)
    at = int(rng.integers(0, len(base["power"]) - count))
    part = {name: values[at : at + count] for name, values in base.items()}
    made = np.zeros(count, RECORD)
    made["time"] = start + np.arange(count)
    made["lat"] = (46.5 + (part["north"] - part["north"][0]) / 111_195) * 2**31 / 180
    made["lon"] = (7.5 + (part["east"] - part["east"][0]) / 76_600) * 2**31 / 180
    made["distance"] = 100 * np.cumsum(part["speed"])
    made["altitude"] = 5 * (part["altitude"] + 500)
    made["speed"] = 1000 * part["speed"]
    made["power"] = np.round(part["power"] * rng.uniform(0.85, 1.1))
    made["heart"], made["cadence"] = part["heart"], part["cadence"]
    return made, count


def message(number: int, *fields: tuple[int, int, str, int]) -> bytes:
    """A definition of local type 1 and one message of it: (field, base type, struct code, value)."""
    head = struct.pack("<BBBHB", 0x41, 0, 0, number, len(fields))
    head += b"".join(struct.pack("<BBB", field, struct.calcsize(code), base) for field, base, code, _ in fields)
    return head + b"\x01" + b"".join(struct.pack("<" + code, value) for _, _, code, value in fields)


def fit_bytes(records: np.ndarray, start: int, running: bool) -> bytes:
    """A FIT activity: file_id, records, session."""
    definition = struct.pack("<BBBHB", 0x40, 0, 0, 20, len(FIELDS)) + b"".join(struct.pack("<BBB", *f) for f in FIELDS)
    body = message(0, (0, 0, "B", 4), (1, 0x84, "H", 255), (4, 0x86, "I", start)) + definition + records.tobytes()
    end = start + len(records) - 1
    lasted = 1000 * (len(records) - 1)
    body += message(
        18, (253, 0x86, "I", end), (2, 0x86, "I", start), (7, 0x86, "I", lasted), (5, 0, "B", 1 if running else 2)
    )
    header = struct.pack("<BBHI4s", 14, 0x20, 2132, len(body), b".FIT")
    whole = header + struct.pack("<H", crc16(header)) + body
    return whole + struct.pack("<H", crc16(whole))


def generate(home: Path, count: int) -> float:
    """An athlete folder of `count` recordings, five a week up to the last day; returns its hours."""
    rng = np.random.default_rng(20260524)
    base = simulated(8, rng)
    (home / "activities").mkdir(parents=True)
    shutil.copytree(TESTS, home / "tests")
    (home / "athlete.toml").write_text('name = "Invented"\ntime_zone = "UTC"\n', encoding="utf-8")
    seconds, long_ago = 0, time.time() - DAY
    for number in range(count):
        start = LAST_DAY - int(number * 7 / 5 * DAY)
        records, lasted = varied(base, start, rng)
        path = home / "activities" / f"{count - number:05d}.fit"
        path.write_bytes(fit_bytes(records, start, running=False))
        os.utime(path, (long_ago, long_ago))
        seconds += lasted
    return seconds / HOUR


def child(home: Path, what: str) -> dict[str, Any]:
    """One measured run, in a process of its own."""
    from datetime import timedelta

    from steadyband.athlete.folder import open_folder, recordings_in
    from steadyband.athlete.season import load_season
    from steadyband.athlete.store import open_store

    started = time.perf_counter()
    folder = open_folder(home)
    season = load_season(recordings_in(folder.athlete.activities), folder, open_store(folder))
    loaded = time.perf_counter()
    if what == "week":
        from steadyband.report.week.page import week_page
        from steadyband.review import review_week

        last = max(item.day for item in season.sessions)
        monday = last - timedelta(days=last.isoweekday() - 1)
        audits = season.audits(monday, monday + timedelta(days=6))
        page = week_page(review_week(folder, audits, season.failures, last, season.sessions))
    elif what == "block":
        from steadyband.report.block.page import block_page
        from steadyband.report.season.page import history_page
        from steadyband.review.block import review_block
        from steadyband.review.history import history

        page = block_page(review_block(folder, season.sessions)) + history_page(history(folder, season.sessions))
    else:
        page = ""
    own, helpers = (
        resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return {
        "sessions": len(season.sessions),
        "load_s": loaded - started,
        "cpu_s": sum(sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)),
        "show_s": time.perf_counter() - loaded,
        "page": len(page),
        "own_mb": own,
        "largest_helper_mb": helpers,
    }


def measured(command: list[str]) -> tuple[float, str]:
    """(wall seconds, standard output) of a process."""
    started = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return time.perf_counter() - started, done.stdout


def run(home: Path, what: str = "week") -> dict[str, Any]:
    """A measured run with its wall time."""
    wall, out = measured([sys.executable, __file__, "--child", str(home), "--what", what])
    found: dict[str, Any] = json.loads(out.splitlines()[-1])
    return found | {"wall_s": wall}


def imports() -> float:
    """Seconds of a process that only imports polars and plotly."""
    return measured([sys.executable, "-c", "import polars, plotly.graph_objects"])[0]


def size_of(folder: Path) -> float:
    """Bytes below a folder in MB."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file()) / 1e6


def bench_week(place: Path, count: int, rounds: int) -> dict[str, float]:
    """First and second run over `count` recordings, printed."""
    home = place / f"season-{count}"
    hours = generate(home, count)
    first = run(home)
    pairs = [(imports(), run(home)) for _ in range(rounds)]
    bare = statistics.median(pair[0] for pair in pairs)
    second = statistics.median(pair[1]["wall_s"] for pair in pairs)
    print(
        f"{count:5d} recordings, {hours:6.0f} h, {size_of(home / 'activities'):5.0f} MB | first {first['wall_s']:6.1f} s "
        f"({1000 * first['wall_s'] / count:5.1f} ms each), memory {first['own_mb']:4.0f} MB + {first['largest_helper_mb']:4.0f} MB "
        f"a helper | second {second:5.2f} s = {second / bare:4.2f} x bare imports ({bare:4.2f} s), of it loading "
        f"{pairs[-1][1]['load_s']:5.2f} s, {pairs[-1][1]['own_mb']:4.0f} MB | store {size_of(home / '.steadyband'):5.1f} MB",
        flush=True,
    )
    return {"count": count, "first": first["wall_s"], "second": second, "own_mb": first["own_mb"]}


def bench_block(place: Path, count: int) -> None:
    """Block and season from the store over many recordings."""
    home = place / f"season-{count}"
    if not home.exists():
        generate(home, count)
        run(home)
    found = run(home, "block")
    print(
        f"{count:5d} recordings from the store: block and season {found['wall_s']:5.2f} s "
        f"(loading {found['load_s']:5.2f} s, working out {found['show_s']:5.2f} s), {found['own_mb']:4.0f} MB"
    )


def bench_again(place: Path, count: int, rounds: int) -> None:
    """A setting that only judges is changed: judged again from the store, and with the store deleted, in turn."""
    home = place / f"season-{count}"
    if not home.exists():
        generate(home, count)
    plain = (home / "athlete.toml").read_text(encoding="utf-8")
    found: dict[str, list[float]] = {"judged again": [], "read anew": []}
    for number in range(rounds):
        run(home, "load")
        for how in found:
            if how == "read anew":
                shutil.rmtree(home / ".steadyband")
            (home / "athlete.toml").write_text(
                f"{plain}[settings.bands]\nwindow_s = {33 + 2 * number}\n", encoding="utf-8"
            )
            found[how].append(run(home, "load")["cpu_s"])
        (home / "athlete.toml").write_text(plain, encoding="utf-8")
    again, anew = (statistics.median(times) for times in found.values())
    size = 1000 * size_of(home / ".steadyband") / count
    print(
        f"{count:5d} recordings after a change of a judging setting, processor time: judged again {again:5.1f} s, all read anew "
        f"{anew:5.1f} s: {again / anew:4.2f} of it; store {size:5.1f} kB a recording"
    )


def main() -> None:
    """Prints one line per size, then the growth from the smallest to the largest."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", type=int, nargs="*", default=[100, 400, 1600])
    parser.add_argument("--block", type=int, nargs="*", default=[])
    parser.add_argument("--again", type=int, nargs="*", default=[])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--keep", type=Path, help="Use this folder and leave it.")
    parser.add_argument("--child", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--what", default="week", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.child:
        print(json.dumps(child(args.child, args.what)))
        return
    place = args.keep or Path(tempfile.mkdtemp(prefix="season-"))
    try:
        found = [bench_week(place, count, args.rounds) for count in args.sizes]
        if len(found) > 1:
            small, large = found[0], found[-1]
            grown = (large["first"] / large["count"]) / (small["first"] / small["count"])
            print(f"time a recording, {large['count']:.0f} against {small['count']:.0f}: {grown:4.2f} x")
        for count in args.block:
            bench_block(place, count)
        for count in args.again:
            bench_again(place, count, args.rounds)
    finally:
        if not args.keep:
            shutil.rmtree(place)


if __name__ == "__main__":
    main()
