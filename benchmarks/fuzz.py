"""Throws made-up and spoilt input at everything that reads a file, and counts what is neither a result nor a sentence.

    python benchmarks/fuzz.py [--tries 5000] [--seed 1] [--only fit ...]
    python benchmarks/fuzz.py --atheris 120 [--only fit ...]

The first way spoils sound files at random (the same inputs for the same seed): bytes changed, cut out, doubled, put in
from elsewhere, words that such files are made of put in. The second lets atheris (libFuzzer) look for inputs that reach
new lines of ours, for so many seconds a kind. The kinds of fuzz_shapes.py are whole in their parts and odd as a whole;
what is read in them is compared with fitdecode and gpxpy. Each kind runs in a process of its own, whose peak memory is told. A fault
is an exception that is no SteadybandError, or a warning: its input is kept in the folder named by --keep.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import gzip
import hashlib
import json
import random
import re
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "benchmarks"), str(ROOT / "tests" / "security"), str(ROOT / "tests" / "recording")]

Read = Callable[[bytes, Path], object]
MARK = "figures: "


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of input: sound ones to spoil, words to put in, and how it is read; or `make` makes each one whole."""

    seeds: Sequence[bytes]
    words: Sequence[bytes]
    read: Read
    make: Callable[[random.Random], bytes] | None = None

    def one(self, rng: random.Random, repack: bool) -> bytes:
        """One input."""
        if self.make is not None:
            return self.make(rng)
        sound = rng.choice(self.seeds)
        return (repacked if repack else spoilt)(sound, rng, self.words)


@dataclass(slots=True)
class Figures:
    """What became of the inputs of one kind."""

    kind: str
    tried: int = 0
    results: int = 0
    refused: int = 0
    faults: int = 0
    seconds: float = 0.0
    slowest_s: float = 0.0
    peak_mb: int = 0


def recording(data: bytes, folder: Path) -> object:
    """A recording as far as the one-second rows."""
    from steadyband.ground.settings import Settings
    from steadyband.recording import read
    from steadyband.recording.cleaning import prepared_rows

    return [prepared_rows(session, Settings()) for session in read(data, "x").sessions]


def archive(data: bytes, folder: Path) -> object:
    """Every member of an archive, as recordings are taken from it."""
    from steadyband.ground.errors import RecordingError
    from steadyband.recording.archives import contents, list_sources

    path = folder / "x.zip"
    path.write_bytes(data)
    listing = list_sources(path)
    found = [data for _, data in contents(listing.sources)]
    failed = [fault for _, fault in listing.refused] + [item for item in found if isinstance(item, RecordingError)]
    if failed:
        raise failed[0]
    return found


def step_test(data: bytes, folder: Path, suffix: str) -> object:
    """A step test as far as its zones."""
    from steadyband.steptest import load_tests, make_zones

    path = folder / f"x{suffix}"
    path.write_bytes(data)
    return [make_zones(test) for test in load_tests(path)]


def own_file(data: bytes, folder: Path, name: str) -> object:
    """One of the athlete's own files."""
    from steadyband.athlete.athlete import read_athlete
    from steadyband.athlete.labels import read_labels
    from steadyband.athlete.training_plan import read_plan

    path = folder / name
    path.write_bytes(data)
    return {"athlete.toml": read_athlete, "sessions.csv": read_labels, "plan.csv": read_plan}[name](path)


def route(data: bytes, folder: Path) -> object:
    """A planned way."""
    from steadyband.recording.planned import read_planned

    return read_planned(data, "x")


def either(data: bytes, folder: Path) -> object:
    """A recording, or the members of an archive, by what the bytes are."""
    return archive(data, folder) if data.startswith(b"PK") else recording(data, folder)


def shape_kind(name: str, make: Callable[[random.Random], bytes]) -> Kind:
    """Input that is odd as a whole: recordings are compared with the reference libraries value by value."""
    from fuzz_shapes import same_as_reference

    return Kind([make(random.Random(1))], [], either if name == "many members" else same_as_reference, make)


def kinds() -> dict[str, Kind]:
    """Every kind with its seeds, made here: nothing of a person, nothing from a device."""
    import hostile_athletes
    import hostile_gpx
    import hostile_packed
    import hostile_tests
    from fit_random import random_stream
    from fuzz_shapes import SHAPES
    from hostile_base import GOOD_ATHLETE, GOOD_TEST, ride
    from hostile_fit import _small_ride
    from hostile_texts import _named_ride, _named_track

    random_fits = [random_stream(random.Random(number)) for number in range(40)]
    tracks = [
        _named_track("x").encode(),
        hostile_gpx.gpx(hostile_gpx.POINTS).encode(),
        hostile_gpx.gpx(hostile_gpx.POINTS).encode("utf-16"),
    ]
    rides = [ride(40), _named_ride("Easy"), _small_ride(1) + _small_ride(2), *random_fits]
    zips = [
        hostile_packed.packed(
            ("a.fit", ride(30)), ("b/c.gpx", tracks[1]), ("d.zip", hostile_packed.packed(("e.fit", ride(9))))
        )
    ]
    labels = b'date,time,intent,sport,note\n2026-05-10,09:00,hard,cycling,"a, b"\n2026-05-11,,easy,,\n'
    plan = b"week,sport,band,hours\n2026-W20,cycling,easy,6\n,running,total,3\n"
    athlete = (ROOT / "demo_activities" / "athlete.toml").read_bytes()
    xml = [
        b"<",
        b">",
        b"&",
        b"<!DOCTYPE x>",
        b"</trkseg>",
        b"<trk>",
        b'lat="nan"',
        b"<time>9999-12-31T23:59:59Z</time>",
        b"<![CDATA[",
        b"\xff\xfe",
        b"hole-0.0.0",
        b'encoding="utf-7"',
        b"<extensions><power>1e999</power></extensions>",
    ]
    fit_words = [
        b"\xff" * 4,
        b"\x00" * 4,
        b"\x40\x00\x00\x14\x00",
        b".FIT",
        b"\x0e\x20",
        b"\xfd\x04\x86",
        b"\x80",
        b"\x60\x00\x00\x14\x00\x01",
        b"\x7f\xff\xff\xff",
    ]
    toml = [
        b"[[step]]",
        b"[",
        b"]",
        b"{",
        b"nan",
        b"inf",
        b"1e999",
        b"0xffffffffffffffffffffffff",
        b"=",
        b'"',
        b"\\u0000",
        b"1979-05-27T07:32:00Z",
        b"true",
        b"'''",
        b"[settings.grid]",
        b"samples = [",
        b"a.b.c =",
    ]
    cells = [
        b",",
        b'"',
        b"\n",
        b"\r",
        b"=1+1",
        b"2026-02-30",
        b"\0",
        b"24:61",
        b"nan",
        b"\xef\xbb\xbf",
        b";",
        b"\t",
        b"-1e999",
    ]
    table = hostile_tests._CSV.encode()
    book = [b'<c r="A1"/>', b'<row r="99999999">', b"PK\x05\x06", b"\xff\xff\xff\xff"]
    ods = hostile_tests.ods(hostile_tests.ODS_ROWS)
    assert hostile_athletes.ATHLETES
    return {
        "fit": Kind(rides, fit_words, recording),
        "gpx": Kind(tracks, xml, recording),
        "gzip": Kind([gzip.compress(ride(40), mtime=0), gzip.compress(tracks[1], mtime=0)], [b"\x1f\x8b"], recording),
        "zip": Kind(zips, [b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06", b"../", *book], archive),
        "route": Kind(tracks, xml, route),
        "test.toml": Kind([GOOD_TEST.encode()], toml, partial(step_test, suffix=".toml")),
        "test.csv": Kind([table, table.replace(b",", b";")], cells, partial(step_test, suffix=".csv")),
        "test.xlsx": Kind([hostile_tests.xlsx()], book, partial(step_test, suffix=".xlsx")),
        "test.ods": Kind([ods], book, partial(step_test, suffix=".ods")),
        "athlete.toml": Kind([athlete, GOOD_ATHLETE.encode()], toml, partial(own_file, name="athlete.toml")),
        "sessions.csv": Kind([labels], cells, partial(own_file, name="sessions.csv")),
        "plan.csv": Kind([plan], cells, partial(own_file, name="plan.csv")),
        **{name: shape_kind(name, make) for name, make in SHAPES.items()},
    }  # fmt: skip


def repacked(data: bytes, rng: random.Random, words: Sequence[bytes]) -> bytes:
    """A workbook whose parts are spoilt inside the zip, where its checksums would catch a spoilt byte outside."""
    import io
    import zipfile

    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        chosen = rng.choice(names)
        for name in names:
            content = old.read(name)
            new.writestr(zipfile.ZipInfo(name), spoilt(content, rng, words) if name == chosen else content)
    return made.getvalue()


def spoilt(data: bytes, rng: random.Random, words: Sequence[bytes]) -> bytes:
    """A sound file with one to eight faults in it."""
    found = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 3, 5, 8))):
        at = rng.randrange(len(found) + 1)
        end = min(len(found), at + rng.choice((1, 2, 4, 16, 200)))
        what = rng.randrange(7)
        if what == 0 and at < len(found):
            found[at] = rng.randrange(256)
        elif what == 1:
            del found[at:end]
        elif what == 2:
            found[at:at] = found[at:end] * rng.choice((1, 2, 40))
        elif what == 3:
            found[at:at] = rng.choice(words)
        elif what == 4:
            found[at:end] = rng.choice(words)
        elif what == 5:
            number = re.search(rb"\d+", bytes(found[at : at + 400]))
            if number:
                found[at + number.start() : at + number.end()] = rng.choice(
                    (b"0", b"-1", b"99999999999999999999", b"1e400", b"9" * 5000)
                )
        elif len(found) > 1 and rng.random() < 0.2:
            del found[rng.randrange(1, len(found)) :]
    return bytes(found)


def try_one(kind: Kind, data: bytes, folder: Path, figures: Figures) -> str:
    """Reads one input; returns the traceback of a fault, or nothing."""
    from steadyband.ground.errors import SteadybandError

    begun, fault = time.perf_counter(), ""
    try:
        with warnings.catch_warnings(record=True) as raised:
            warnings.simplefilter("always")
            kind.read(data, folder)
        fault = "; ".join(f"{item.filename}, {item.lineno}: {item.message}" for item in raised)
        figures.results += 1
    except SteadybandError as refused:
        figures.refused += 1
        text = str(refused)
        if not text.isprintable() or len(text) > 2000:
            fault = f"a message that is not fit to print: {text[:300]!r}"
    except Exception:  # noqa: BLE001 (whatever it is, it is what is looked for)
        fault = traceback.format_exc()
    figures.tried += 1
    figures.faults += bool(fault)
    figures.slowest_s = max(figures.slowest_s, time.perf_counter() - begun)
    return fault


def child(name: str, tries: int, seed: int, keep: Path) -> None:
    """All inputs of one kind; prints its figures as the last line."""
    kind, figures, rng = kinds()[name], Figures(name), random.Random(f"{seed} {name}")
    begun = time.perf_counter()
    books = name in ("test.xlsx", "test.ods", "zip")
    with tempfile.TemporaryDirectory() as folder:
        for number in range(tries):
            data = kind.one(rng, bool(books and number % 2))
            fault = try_one(kind, data, Path(folder), figures)
            if fault:
                keep_fault(keep, name, data, fault)
    finish(figures, begun)


def keep_fault(keep: Path, name: str, data: bytes, fault: str) -> None:
    """The input and what came of it, for whoever mends it."""
    keep.mkdir(parents=True, exist_ok=True)
    place = keep / f"{name}-{hashlib.sha256(data).hexdigest()[:12]}"
    place.write_bytes(data)
    place.with_suffix(".txt").write_text(fault, encoding="utf-8", errors="replace")


def finish(figures: Figures, begun: float) -> None:
    """Prints the figures of a kind for the parent."""
    import resource

    figures.seconds = time.perf_counter() - begun
    figures.peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(MARK + json.dumps(asdict(figures)), flush=True)


def atheris_child(name: str, seconds: int, seed: int, keep: Path) -> None:
    """The same, led by the lines that are reached (atheris with libFuzzer)."""
    import atheris

    with atheris.instrument_imports(include=["steadyband"]):
        import steadyband.recording.cleaning
        import steadyband.recording.fit.activity
        import steadyband.recording.gpx.activity
        import steadyband.recording.planned
        import steadyband.review
        import steadyband.steptest  # noqa: F401
    kind, figures, begun = kinds()[name], Figures(name), time.perf_counter()
    folder = Path(tempfile.mkdtemp())
    corpus = folder / "corpus"
    corpus.mkdir()
    for number, data in enumerate(kind.seeds):
        (corpus / str(number)).write_bytes(data)

    def once(data: bytes) -> None:
        fault = try_one(kind, data, folder, figures)
        if fault:
            keep_fault(keep, name, data, fault)
        if time.perf_counter() - begun > seconds:
            finish(figures, begun)
            import os

            os._exit(0)

    atheris.Setup(
        [sys.argv[0], str(corpus), f"-seed={seed}", "-max_len=20000", "-rss_limit_mb=4096", "-verbosity=0"], once
    )
    atheris.Fuzz()


def main() -> None:
    """Every kind in turn, and a table of the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tries", type=int, default=5000)
    parser.add_argument("--atheris", type=int, default=0, metavar="SECONDS")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--keep", type=Path, default=Path("fuzz-faults"))
    parser.add_argument("--child", default="")
    given = parser.parse_args()
    if given.child and given.atheris:
        atheris_child(given.child, given.atheris, given.seed, given.keep)
        return
    if given.child:
        child(given.child, given.tries, given.seed, given.keep)
        return
    print(
        f"{'kind':14} {'tried':>7} {'results':>8} {'refused':>8} {'faults':>7} {'inputs/s':>9} {'slowest s':>10} {'peak MB':>8}"
    )
    total = Figures("all")
    for name in given.only or kinds():
        done = subprocess.run(
            [sys.executable, __file__, *sys.argv[1:], "--child", name], capture_output=True, text=True, check=False
        )
        told = [line for line in done.stdout.splitlines() if line.startswith(MARK)]
        if not told:
            print(f"{name:14} ended without figures, exit status {done.returncode}: {done.stderr[-300:]}")
            continue
        found = Figures(**json.loads(told[-1].removeprefix(MARK)))
        show(found)
        total = Figures("all", total.tried + found.tried, total.results + found.results, total.refused + found.refused,
                        total.faults + found.faults, total.seconds + found.seconds,
                        max(total.slowest_s, found.slowest_s), max(total.peak_mb, found.peak_mb))  # fmt: skip
    show(total)
    if total.faults:
        print(f"the inputs of the faults are in {given.keep}")


def show(found: Figures) -> None:
    """One line of the table."""
    print(
        f"{found.kind:14} {found.tried:7,} {found.results:8,} {found.refused:8,} {found.faults:7,} "
        f"{found.tried / max(found.seconds, 1e-9):9.0f} {found.slowest_s:10.2f} {found.peak_mb:8}",
        flush=True,
    )


if __name__ == "__main__":
    main()
