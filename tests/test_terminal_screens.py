"""Every command on screens of three widths, dark and light, with and without colours, letters and a terminal."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from rich.cells import cell_len
from typer.testing import CliRunner

import console
from demo_home import copy_read
from steadyband.cli.main import app

WIDTHS = (60, 80, 200)
RIDE = "activities/2026-W20/2026-05-16-moor-tracks.fit"
SCREENS = {
    "week": ("week", "."),
    "block": ("block", "."),
    "history": ("history", "."),
    "audit": ("audit", RIDE),
    "zones-bike": ("zones", "tests/2026-04-20-bike.toml"),
    "zones-foot": ("zones", "tests/2026-04-22-run.toml"),
    "tests": ("tests", "."),
    "plan-bike": ("plan-test", "--sport", "bike", "--mass", "58", "--steady", "145"),
    "plan-foot": ("plan-test", "--sport", "foot", "--steady", "10.5"),
    "climbs": ("climbs", "."),
    "route": ("route", RIDE),
    "settings": ("settings", "."),
}
DRAWN = re.compile(r"[░▒▓█╌·╷─▔]|^[ .=#%:|~-]+$")
PAGE = re.compile(r"^(Page|Card|Sheet to print): ")


@pytest.fixture(scope="module")
def home(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_read(read_demo, tmp_path_factory.mktemp("screens") / "me")


@pytest.fixture
def inside(home: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(home)
    return home


def screen(words: tuple[str, ...], width: int, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    monkeypatch.setenv("COLUMNS", str(width))
    done = CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return [line for line in done.stdout.splitlines() if not PAGE.match(line)]


@pytest.mark.parametrize("name", SCREENS)
def test_nothing_is_wider_than_the_screen_and_no_word_is_cut(
    name: str, inside: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A word cut in two on a narrow screen would be a word that the wide screen does not have."""
    screens = {width: screen(SCREENS[name], width, monkeypatch) for width in WIDTHS}
    whole = {word for line in screens[200] for word in line.split()}
    for width, lines in screens.items():
        assert [line for line in lines if cell_len(line.rstrip()) > width] == []
        assert not any("…" in line for line in lines)
        words = {word for line in lines if not DRAWN.search(line) for word in line.split()}
        bare = {word.strip("(),.;:") for word in whole}
        assert {word for word in words - whole if word.strip("(),.;:") not in bare} == set(), width


def in_terminal(words: tuple[str, ...], folder: Path, **environment: str) -> str:
    """What a terminal of 80 columns shows of a command, escape sequences and all."""
    master, slave = pty.openpty()
    known = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    process = subprocess.Popen(
        [sys.executable, "-m", "steadyband", *words],
        cwd=folder,
        env=known | {"COLUMNS": "80", "TERM": "xterm-256color", "PYTHONIOENCODING": "utf-8"} | environment,
        stdin=slave,
        stdout=slave,
        stderr=slave,
    )
    os.close(slave)
    found = b"".join(read_until_closed(master, time.monotonic() + 60))
    os.close(master)
    assert process.wait(timeout=60) == 0, found.decode(errors="replace")
    return found.decode()


def read_until_closed(handle: int, until: float) -> list[bytes]:
    parts = []
    while time.monotonic() < until:
        if not select.select([handle], [], [], 1.0)[0]:
            continue
        with contextlib.suppress(OSError):  # EIO: the other end is closed
            if part := os.read(handle, 65536):
                parts.append(part)
                continue
        break
    return parts


SGR = re.compile(r"\x1b\[([0-9;]*)m")


def foregrounds(codes: str) -> tuple[bool, bool]:
    """(sets a colour of the letters, sets one of the ground) of one SGR sequence (ECMA-48, from memory)."""
    numbers = [int(code or 0) for code in codes.split(";")]
    plain, letters, ground, at = [], False, False, 0
    while at < len(numbers):
        if numbers[at] in (38, 48):
            letters, ground = letters or numbers[at] == 38, ground or numbers[at] == 48
            at += 3 if numbers[at + 1 : at + 2] == [5] else 5
            continue
        plain.append(numbers[at])
        at += 1
    return letters or any(30 <= code <= 37 or 90 <= code <= 97 for code in plain), ground


@pytest.mark.parametrize("name", ["week", "audit", "tests", "settings", "block"])
def test_letters_are_readable_on_dark_and_on_light(name: str, home: Path) -> None:
    """A colour of letters without its own ground would vanish on one of the two; bold and dim follow the screen."""
    if name == "week":
        shown = in_terminal(SCREENS[name], home, COLORTERM="truecolor")
    else:  # what the terminal is by itself, FORCE_COLOR says to rich here
        looks = {"NO_COLOR": "", "FORCE_COLOR": "1", "TERM": "xterm-256color", "COLORTERM": "truecolor"}
        shown = console.run(*SCREENS[name], cwd=home, env=looks).stdout
    found = [foregrounds(codes) for codes in SGR.findall(shown)]
    assert found, "a terminal shows bold text at least"
    assert [pair for pair in found if pair == (True, False)] == []
    if name in ("week", "audit"):
        assert (True, True) in found


def test_without_colours(home: Path) -> None:
    """NO_COLOR (no-color.org, from memory): no colour is set, the ribbon is told by shades of blocks."""
    shown = in_terminal(SCREENS["audit"], home, COLORTERM="truecolor", NO_COLOR="1")
    assert [codes for codes in SGR.findall(shown) if any(foregrounds(codes))] == []
    assert "▒▒▒" in shown


def test_on_a_dumb_terminal(home: Path) -> None:
    shown = in_terminal(SCREENS["audit"], home, TERM="dumb", COLORTERM="")
    assert "\x1b" not in shown
    assert "===" in shown
    assert "░" not in shown


def test_without_a_terminal(home: Path) -> None:
    """Into a file: no escape sequence, no progress, 80 columns."""
    done = subprocess.run(
        [sys.executable, "-m", "steadyband", *SCREENS["week"]],
        cwd=home,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={"PATH": os.environ["PATH"], "TERM": "xterm-256color", "PYTHONIOENCODING": "utf-8"},
        check=True,
    )
    assert "\x1b" not in done.stdout
    assert done.stderr == ""
    assert max(cell_len(line) for line in done.stdout.splitlines() if not PAGE.match(line)) <= 80


@pytest.mark.parametrize("name", ["week", "block", "audit", "zones-foot", "settings", "history", "tests", "plan-bike"])
def test_without_utf_8(name: str, home: Path) -> None:
    """Letters of ASCII alone: nothing fails, nothing turns into a question mark. For `week` the whole process has no others."""
    if name == "week":
        text, whole = (written_in(letters, SCREENS[name], home) for letters in ("ascii", "utf-8"))
    else:
        text, whole = (console.run(*SCREENS[name], cwd=home, letters=it).stdout for it in ("ascii", "utf-8"))
    assert text.isascii()
    assert not whole.isascii()
    assert text.count("?") == whole.count("?")
    if name == "audit":
        assert re.search(r"={5}", text)


def written_in(letters: str, words: tuple[str, ...], folder: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "steadyband", *words],
        cwd=folder,
        capture_output=True,
        env={"PATH": os.environ["PATH"], "PYTHONIOENCODING": letters, "LC_ALL": "C", "PYTHONUTF8": "0"},
        check=True,
    )
    assert done.stderr == b""
    return done.stdout.decode(letters)


def test_json_is_utf_8_whatever_the_screen(home: Path) -> None:
    """RFC 8259, section 8.1: JSON between systems is UTF-8."""
    done = subprocess.run(
        [sys.executable, "-m", "steadyband", "audit", RIDE, "--format", "json"],
        cwd=home,
        capture_output=True,
        env={"PATH": os.environ["PATH"], "PYTHONIOENCODING": "ascii", "LC_ALL": "C", "PYTHONUTF8": "0"},
        check=True,
    )
    assert done.stdout.decode("utf-8").startswith("{")


def test_whoever_stops_reading_ends_it_well(home: Path) -> None:
    done = subprocess.run(
        f"set -o pipefail; {sys.executable} -m steadyband settings | head -1",
        cwd=home,
        shell=True,
        executable="/bin/bash",
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_progress_only_where_somebody_looks(home: Path) -> None:
    shutil.rmtree(home / ".steadyband", ignore_errors=True)
    shown = in_terminal(SCREENS["history"], home)
    assert "reading recordings" in shown


def test_the_clock_of_the_prompt_goes_on_by_itself(tmp_path: Path) -> None:
    """Common practice: who takes samples looks at the time in the step, and has no hand free to ask for it."""
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "steadyband",
            "enter-test",
            "t.toml",
            "--sport",
            "bike",
            "--mass",
            "74",
            "--steady",
            "200",
        ],
        cwd=tmp_path,
        env={"PATH": os.environ["PATH"], "COLUMNS": "80", "TERM": "xterm-256color", "HOME": str(tmp_path)},
        stdin=slave,
        stdout=slave,
        stderr=slave,
    )
    os.close(slave)
    for typed in ("", "", "", "1.1", "next now"):
        shown_until(master, " > ")
        os.write(master, f"{typed}\n".encode())
    seen = shown_until(master, "0:03 gone")
    os.write(master, b"quit\n")
    shown_until(master, "Saved.")
    assert process.wait(timeout=30) == 0
    os.close(master)
    assert "0:02 gone" in seen
    assert "\x1b7\r" in seen  # the cursor is kept where the typing goes on


def shown_until(handle: int, words: str, seconds: float = 30) -> str:
    """What a terminal shows until `words` stand in it."""
    found, until = "", time.monotonic() + seconds
    while words not in found:
        assert time.monotonic() < until, found
        if select.select([handle], [], [], 0.2)[0]:
            found += os.read(handle, 4096).decode(errors="replace")
    return found
