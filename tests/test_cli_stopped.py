"""Ctrl-C while the program still starts: one line and the exit status of the contract, in a real process."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from conftest import DEMO

pytestmark = pytest.mark.skipif(os.name != "posix", reason="sends SIGINT as a terminal on Linux and macOS does")

IMPORTED = (
    "typer.models",
    "typer",
    "steadyband.cli.errors",
    "steadyband.cli",
    "pydantic_core",
    "numpy._core._multiarray_umath",
    "numpy",
    "steadyband.audit.model",
    "steadyband.review",
    "rich.console",
)
"""Modules after whose import the signal is sent; Python tells of each on standard error (-X importtime)."""
WAYS = {
    "module": ("-m", "steadyband"),
    "script": ("-c", "import sys; sys.argv[0] = 'steadyband'; from steadyband.__main__ import main; main()"),
}


def _started(way: str, *arguments: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-X", "importtime", *WAYS[way], *arguments]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)


def _told(process: subprocess.Popen[str]) -> list[str]:
    """What it says on standard error besides its imports."""
    assert process.stderr is not None
    with process.stderr as lines:
        return [line for line in lines if not line.startswith("import time:")]


def _wait_for(process: subprocess.Popen[str], module: str) -> None:
    assert process.stderr is not None
    for line in process.stderr:
        if line.startswith("import time:") and line.rpartition("|")[2].strip() == module:
            return
    pytest.fail(f"ended before it imported {module}")


@pytest.mark.parametrize("module", IMPORTED)
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.kill
def test_ctrl_c_while_it_imports(way: str, module: str, tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    process = _started(way, "demo", str(folder))
    _wait_for(process, module)
    process.send_signal(signal.SIGINT)
    assert (_told(process), process.wait(timeout=60)) == (["Stopped.\n"], 130)


@pytest.mark.parametrize("delay", [0.0, 0.01, 0.03, 0.06, 0.1, 0.2])
@pytest.mark.kill
def test_ctrl_c_a_moment_after_the_start(delay: float) -> None:
    process = _started("module", "audit", str(DEMO / "activities"), "--format", "json")
    _wait_for(process, "typer.models")
    time.sleep(delay)
    process.send_signal(signal.SIGINT)
    told = _told(process)
    assert process.wait(timeout=60) == 130
    assert told == ["Stopped.\n"]


def test_a_caller_who_ignores_ctrl_c_is_heeded(tmp_path: Path) -> None:
    """As `nohup` or a shell's `&` starts it."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        process = _started("module", "init", str(tmp_path / "home"))
    finally:
        signal.signal(signal.SIGINT, before)
    _wait_for(process, "typer")
    process.send_signal(signal.SIGINT)
    assert _told(process) == []
    assert process.wait(timeout=60) == 0
