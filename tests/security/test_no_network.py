"""No command opens a socket to a network: every one is run on the demo with a hook in each of its Python processes."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
import typer

from conftest import DEMO
from steadyband.cli.main import app

HOOK = """
import os, socket, sys

def _watch(event, args):
    if event == "socket.__new__":
        allowed = args[1] == getattr(socket, "AF_UNIX", None)
    elif event in ("socket.connect", "socket.bind", "socket.sendto"):
        allowed = args[0].family == getattr(socket, "AF_UNIX", None)
    elif event.startswith(("socket.getaddrinfo", "socket.gethostby", "urllib.Request", "http.client", "ftplib", "smtplib")):
        allowed = False
    else:
        return
    if not allowed:
        _note(f"FORBIDDEN {event} {args!r}")
        raise OSError(f"no network here: {event}")

def _note(line):
    with open(os.environ["NO_NETWORK_LOG"], "a") as log:
        log.write(line + "\\n")

_note("watched")
sys.addaudithook(_watch)
"""
"""Python tells these audit events (PEP 578) before the call is made; sockets between processes of one machine are allowed."""

RIDE = "activities/2026-W20/2026-05-16-ride.fit"
TEST = "tests/2026-04-20-bike.toml"
COMMANDS: dict[str, list[str]] = {
    "init": ["../made"],
    "demo": ["../demo"],
    "zones": [TEST],
    "audit": ["activities", "--format", "csv"],
    "week": ["."],
    "block": ["."],
    "history": ["."],
    "export": ["."],
    "label": ["."],
    "schema": [],
    "settings": ["."],
    "plan-test": ["--sport", "bike", "--mass", "58", "--steady", "145"],
    "enter-test": ["../new.toml", "--sport", "bike"],
    "card": [".", "--on", "2026-05-17", "--workout", "60"],
    "compare-meters": ["RIDE", "RIDE"],
    "tests": ["."],
    "test-page": [TEST],
    "session": ["RIDE"],
    "climbs": ["."],
    "route": ["RIDE", "--athlete", "."],
    "share": ["PAGE"],
    "roster": [".."],
}
RUNNER = """
import contextlib, io, json, os, sys
from pathlib import Path
from steadyband.cli.main import main
for name, words in json.load(open(sys.argv[1])).items():
    pages = sorted(Path("..").rglob("week-*.html"))
    sys.argv = ["steadyband", *(str(pages[0]) if word == "PAGE" else word for word in words)]
    sys.stdin = io.StringIO("q\\n")
    out, err, code = io.TextIOWrapper(io.BytesIO()), io.StringIO(), 0
    with open(os.environ["NO_NETWORK_LOG"], "a") as log:
        log.write(f"COMMAND {name}\\n")
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as end:
        code = end.code or 0
    print(json.dumps([name, code, err.getvalue()]))
"""
"""Every command in one process, which the hook watches; the log says which of them is running."""
NOT_RUN = {"watch": "runs until it is stopped; its reading and writing are those of `week`"}


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("quiet")
    shutil.copytree(
        DEMO, folder / "athlete", ignore=shutil.ignore_patterns(".steadyband", "simulation", "*.py", "__pycache__")
    )
    (folder / "hook").mkdir()
    (folder / "hook" / "sitecustomize.py").write_text(HOOK, encoding="utf-8")
    return folder


def _run(
    place: Path, arguments: list[str], before: list[str] | None = None
) -> tuple[subprocess.CompletedProcess[str], list[str]]:
    return _python(place, ["-m", "steadyband", *arguments], before)


def _python(
    place: Path, arguments: list[str], before: list[str] | None = None
) -> tuple[subprocess.CompletedProcess[str], list[str]]:
    """Python with the hook in it, and what the hook noted."""
    log = place / "log"
    log.write_text("", encoding="utf-8")
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        [*(before or []), sys.executable, *arguments],
        cwd=place / "athlete", env=kept | {"PYTHONPATH": str(place / "hook"), "NO_NETWORK_LOG": str(log)},
        input="q\n", capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    return done, log.read_text(encoding="utf-8").splitlines()


def _arguments(place: Path, name: str) -> list[str]:
    rides = sorted((place / "athlete" / "activities").rglob("*.fit"))
    known = {"RIDE": str(next(path for path in rides if "test" not in path.name))}
    return [name, *(known.get(word, word) for word in COMMANDS[name])]


@dataclass(frozen=True)
class Ran:
    """How a command ended, and what the hook noted meanwhile."""

    status: int
    err: str
    told: list[str]


@pytest.fixture(scope="module")
def ran(place: Path) -> dict[str, Ran]:
    script, plan = place / "run.py", place / "plan.json"
    script.write_text(RUNNER, encoding="utf-8")
    plan.write_text(json.dumps({name: _arguments(place, name) for name in COMMANDS}), encoding="utf-8")
    done, lines = _python(place, [str(script), str(plan)])
    assert done.returncode == 0, done.stderr
    assert lines[0] == "watched"
    parts = {head: rest for head, *rest in (part.splitlines() for part in "\n".join(lines).split("COMMAND ")[1:])}
    ends = (json.loads(line) for line in done.stdout.splitlines() if line.startswith("["))
    return {name: Ran(code, err, parts[name]) for name, code, err in ends}


def test_every_command_is_tried() -> None:
    """A new command must say here how it is run without a network."""
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    assert set(commands) <= set(COMMANDS) | set(NOT_RUN)


@pytest.mark.parametrize("name", COMMANDS)
def test_no_socket_is_opened(ran: dict[str, Ran], name: str) -> None:
    done = ran[name]
    assert [line for line in done.told if line.startswith("FORBIDDEN")] == []
    assert "Traceback" not in done.err, done.err[-2000:]
    assert done.status in (0, 1, 130), done.err


def test_helper_processes_are_watched_too(place: Path) -> None:
    """The hook counts its processes: several for a whole folder, or the check above would see the first one alone."""
    if (len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1) < 2:
        pytest.skip("one core: there are no helper processes")
    _, told = _run(place, _arguments(place, "audit"))
    assert told.count("watched") >= 2


def test_the_hook_does_forbid(place: Path) -> None:
    code = "import socket; socket.create_connection(('127.0.0.1', 9))"
    kept = os.environ | {"PYTHONPATH": str(place / "hook"), "NO_NETWORK_LOG": str(place / "log")}
    done = subprocess.run([sys.executable, "-c", code], env=kept, capture_output=True, text=True, check=False)
    assert "no network here" in done.stderr


def test_the_week_comes_without_any_network_device(place: Path) -> None:
    """In a network namespace of its own there is nothing to connect to, not even for libraries that are not Python."""
    cut_off = ["unshare", "-rn"]
    if (
        shutil.which("unshare") is None
        or subprocess.run([*cut_off, "true"], check=False, capture_output=True).returncode
    ):
        pytest.skip("this system or user may not make network namespaces (unshare -rn)")
    done, _ = _run(place, ["week", "."], cut_off)
    assert done.returncode == 0, done.stderr
