"""No command writes to a recording or a test, or opens a socket: all is made immutable, openings and sockets are listened to.

All commands run once, under the most open umask there is, so that the permissions of all they make can be looked at too.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import typer

from conftest import DEMO
from steadyband.cli.main import app

HERE = Path(__file__).resolve().parent
RUNNER = """
import contextlib, io, json, sys
from steadyband.cli.main import main
for name, (arguments, typed) in json.load(open(sys.argv[1])).items():
    sys.argv = ["steadyband", *arguments]
    sys.stdin = io.StringIO(typed)
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
    code = 0
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            main()
    except SystemExit as end:
        code = end.code or 0
    print(json.dumps([name, code, out.buffer.getvalue().decode()]))
"""
SESSIONS_MODE = 0o644
HILLS = "activities/2026-W20/2026-05-16-moor-tracks.fit"
VALLEY = "activities/2026-W20/2026-05-12-shore-gravel.fit"


def commands(home: Path, out: Path) -> dict[str, tuple[list[str], str]]:
    """Every command but `watch`: its arguments, and what is typed into it."""
    bike = f"{home}/tests/2026-04-20-bike.toml"
    plain = {
        "audit": ["audit", f"{home}/activities", "--format", "csv", "--out", f"{out}/audits.csv"],
        "block": ["block", f"{home}"],
        "card": ["card", f"{home}", "--on", "2026-05-17", "--workout", "60"],
        "climbs": ["climbs", f"{home}"],
        "compare-meters": ["compare-meters", f"{home}/{HILLS}", f"{home}/{HILLS}", "--out", f"{out}/meters.html"],
        "demo": ["demo", f"{out}/demo"],
        "enter-test": ["enter-test", f"{out}/2026-06-01-bike.toml", "--from-test", bike],
        "export": ["export", f"{home}", "--format", "parquet", "--out", f"{out}/sessions.parquet"],
        "history": ["history", f"{home}"],
        "init": ["init", f"{out}/new"],
        "label": ["label", f"{home}"],
        "plan-test": ["plan-test", "--from-test", bike, "--out", f"{out}/plan.html"],
        "route": ["route", f"{home}/{HILLS}"],
        "schema": ["schema"],
        "session": ["session", f"{home}/{HILLS}"],
        "settings": ["settings", f"{home}"],
        "share": ["share", "2026-W20", f"{home}"],
        "test-page": ["test-page", bike],
        "tests": ["tests", f"{home}"],
        "week": ["week", f"{home}"],
        "zones": ["zones", bike],
        **MORE(home, out),
    }
    typed = {"enter-test": "quit\n", "label": "easy legs tired\nq\n"}
    return {name: (arguments, typed.get(name, "")) for name, arguments in plain.items()}


def MORE(home: Path, out: Path) -> dict[str, list[str]]:
    """Commands that are there in some states of the package."""
    rosters = {"roster": ["roster", f"{home.parent}", "--out", f"{out}/roster.html"]}
    return {name: arguments for name, arguments in rosters.items() if name in names()}


def names() -> set[str]:
    return set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


@dataclass(frozen=True)
class Ran:
    """What came of running everything."""

    home: Path
    ends: dict[str, tuple[int, str]]
    before: dict[str, tuple[object, ...]]
    after: dict[str, tuple[object, ...]]
    log: list[str]
    made: dict[str, int]


def state(*folders: Path) -> dict[str, tuple[object, ...]]:
    """Of each file and folder: content, permissions, identity, size, times of change of content and of the entry."""
    found = {}
    for path in sorted(item for folder in folders for item in (folder, *folder.rglob("*"))):
        told = path.stat()
        content = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
        found[str(path)] = (content, told.st_mode, told.st_ino, told.st_size, told.st_mtime_ns, told.st_ctime_ns)
    return found


def frozen(folders: list[Path]) -> bool:
    """Takes the right to write away; where the system lets us, makes everything immutable, which binds root too."""
    for path in [item for folder in folders for item in (*folder.rglob("*"), folder)]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    return attribute("+i", folders)


def attribute(change: str, folders: list[Path]) -> bool:
    if shutil.which("chattr") is None:
        return False
    return subprocess.run(["chattr", "-R", change, *map(str, folders)], capture_output=True).returncode == 0


def thaw(folders: list[Path]) -> None:
    attribute("-i", folders)
    for path in [item for folder in folders for item in (folder, *folder.rglob("*"))]:
        path.chmod(0o755 if path.is_dir() else 0o644)


def environment(folders: list[Path], log: Path, tmp: Path) -> dict[str, str]:
    site = tmp / "site"
    site.mkdir(exist_ok=True)
    shutil.copy(HERE / "open_watch.py", site / "sitecustomize.py")
    watched = os.pathsep.join(map(str, folders))
    return {**os.environ, "PYTHONPATH": str(site), "WATCHED_FOLDERS": watched, "WATCH_LOG": str(log), "COLUMNS": "100"}


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ran]:
    tmp = tmp_path_factory.mktemp("frozen").resolve()
    home, out = tmp / "athletes" / "one", tmp / "out"
    shutil.copytree(DEMO, home, ignore=shutil.ignore_patterns(".steadyband", "__pycache__", "simulation"))
    text = (home / "athlete.toml").read_text(encoding="utf-8")
    (home / "athlete.toml").write_text(text.replace('"../reports"', '"reports"'), encoding="utf-8")
    out.mkdir()
    (home / "sessions.csv").chmod(SESSIONS_MODE)
    (home / "reports").mkdir(0o755)
    (home / "reports").chmod(0o755)
    there = {*home.rglob("*"), out}
    folders = [home / "activities", home / "tests"]
    frozen(folders)
    try:
        before, log = state(*folders), tmp / "log"
        work = environment(folders, log, tmp)
        ends = run_all(home, out, tmp, work) | {"watch": watched(home, work)}
        lines = log.read_text(encoding="utf-8").splitlines()
        made = {str(path): path.stat().st_mode for path in (*home.rglob("*"), *out.rglob("*")) if path not in there}
        yield Ran(home, ends, before, state(*folders), lines, made)
    finally:
        thaw(folders)


def run_all(home: Path, out: Path, tmp: Path, work: dict[str, str]) -> dict[str, tuple[int, str]]:
    script, plan = tmp / "run.py", tmp / "plan.json"
    script.write_text(RUNNER, encoding="utf-8")
    plan.write_text(json.dumps(commands(home, out)), encoding="utf-8")
    command = [sys.executable, str(script), str(plan)]
    done = subprocess.run(command, capture_output=True, text=True, env=work, cwd=tmp, umask=0)
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in io.StringIO(done.stdout) if line.startswith("[")]
    return {name: (code, text) for name, code, text in told}


def watched(home: Path, work: dict[str, str]) -> tuple[int, str]:
    """`watch`, ended by Ctrl-C once it says that it watches."""
    command = [sys.executable, "-c", "from steadyband.cli.main import main; main()", "watch", str(home)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=work) as process:
        assert process.stderr is not None
        line = process.stderr.readline()
        time.sleep(0.5)
        process.send_signal(signal.SIGINT)
        rest = process.stderr.read()
        return process.wait(60), line + rest


def test_every_command_is_run(ran: Ran) -> None:
    assert set(ran.ends) == names() - {"open"}  # serves until it is closed: tests/open


def test_every_command_does_its_work_without_the_right_to_write_there(ran: Ran) -> None:
    assert {name: text for name, (code, text) in ran.ends.items() if code != 0} == {}
    assert (ran.home / "reports" / "week-2026-W20.html").is_file()


def test_nothing_about_recordings_and_tests_changed(ran: Ran) -> None:
    """Content, permissions, inode, size, both times of change, and the list of names."""
    assert ran.after == ran.before


def test_nothing_there_was_opened_for_writing(ran: Ran) -> None:
    reads = {line.removeprefix("read ") for line in ran.log if line.startswith("read ")}
    assert [line for line in ran.log if line.startswith(("WRITE ", "CHANGE "))] == []
    recordings = {str(path) for path in (ran.home / "activities").rglob("*") if path.is_file()}
    assert recordings <= reads


def test_no_socket_is_opened(ran: Ran) -> None:
    """A helper process is listened to as well: each tells that it began."""
    assert [line for line in ran.log if line.startswith("SOCKET ")] == []
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    begun = [line for line in ran.log if line.startswith("begun ")]
    assert len(begun) == len(set(begun)) >= (2 if cores == 1 else 4)  # all commands, `watch`, and its helpers


def test_everything_made_is_for_its_owner_alone_whatever_the_umask(ran: Ran) -> None:
    """Under umask 0, a plain `open` would make 0666 and a plain `mkdir` 0777 (POSIX)."""
    assert len(ran.made) > 30
    wanted = {path: 0o700 if stat.S_ISDIR(mode) else 0o600 for path, mode in ran.made.items()}
    assert {path: oct(mode) for path, mode in ran.made.items() if stat.S_IMODE(mode) != wanted[path]} == {}


def test_a_folder_that_was_there_keeps_its_permissions(ran: Ran) -> None:
    assert stat.S_IMODE((ran.home / "reports").stat().st_mode) == 0o755
    assert stat.S_IMODE((ran.home / "sessions.csv").stat().st_mode) == SESSIONS_MODE


def test_the_listener_would_have_told(tmp_path: Path) -> None:
    """The check can fail: a process that appends, renames and cuts below a watched folder is told of, its reads
    too, and one that calls a network is stopped."""
    folder, log = tmp_path / "activities", tmp_path / "log"
    folder.mkdir()
    (folder / "a.fit").write_bytes(b"x")
    code = (
        "import os; from pathlib import Path; p = Path('activities')\n"
        "(p / 'a.fit').open('ab').close(); os.rename(p / 'a.fit', p / 'b.fit'); os.truncate(p / 'b.fit', 0)\n"
        "(p / 'b.fit').read_bytes(); os.close(os.open(p / 'c', os.O_CREAT | os.O_WRONLY))\n"
        "import socket\ntry: socket.create_connection(('127.0.0.1', 9))\nexcept OSError as no: assert 'no network here' in str(no)"
    )
    work = environment([folder], log, tmp_path)
    subprocess.run([sys.executable, "-c", code], check=True, env=work, cwd=tmp_path)
    told = [line.split(" ")[0] for line in log.read_text(encoding="utf-8").splitlines()]
    assert told.count("WRITE") == 2
    assert told.count("CHANGE") >= 2
    assert told.count("read") == 1
    assert told.count("SOCKET") == 1
