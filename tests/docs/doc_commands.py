"""What the papers show as commands, and a home folder in which they can be run as shown."""

from __future__ import annotations

import os
import re
import shlex
import stat
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import console
from conftest import ROOT
from demo_home import copy_or_link, copy_read

PAPERS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCE = re.compile(r"^(?P<indent> *)```(?P<kind>\w*)\n(?P<body>.*?)^ *```", re.MULTILINE | re.DOTALL)
INLINE = re.compile(r"(?<!`)`(?P<code>(?:steadyband|python3?|pipx?) [^`\n]+)`(?!`)")
STATUS = re.compile(r"\s+# exit status (?P<status>\d+)$")
OF_THE_SHELL = re.compile(r"[|&;<>()$`\\*?\[\]~{}!]")
"""What a shell does more with than hand it over as a word."""
PLACEHOLDER = re.compile(r"\b[A-Z][A-Z_]+\b|\.\.\.")
NEW_FOLDER = {"init": "", "demo": "steadyband-demo"}
"""Commands that make a folder, and the one they make where none is named."""

HILLY_RIDE = "activities/2026-W20/2026-05-16-moor-tracks.fit"
BY_TRAINER = "activities/2026-W18/2026-04-28-trainer-hour.fit"
BY_PEDALS = "activities/2026-W18/2026-04-28-trainer-hour-pedals.fit"
GPX_RIDE = "activities/2026-W18/2026-05-03-phone-ride.gpx"
STAND_INS = {
    "ride.fit": HILLY_RIDE,
    "my-training/activities/ride.fit": HILLY_RIDE,
    "activities/2026-05-16-hills.fit": HILLY_RIDE,
    "trainer.fit": BY_TRAINER,
    "pedals.fit": BY_PEDALS,
    "sunday.gpx": GPX_RIDE,
}
"""Files that the papers name, and the recording of the demo that stands in for each."""

ATHLETES = ("my-training", "demo_activities", "steadyband-demo", "my-athletes/wren", "my-athletes/sam")
"""Folders that the papers name: each is a copy of the demo."""


@dataclass(frozen=True)
class Shown:
    """A command line as shown, the status it should end with, and the lines shown as its output."""

    line: str
    status: int = 0
    output: tuple[str, ...] = ()

    @property
    def bare(self) -> Shown:
        """The same without a remark behind the command."""
        return replace(self, line=" ".join(self.line.split(" # ")[0].split()))

    @property
    def typed(self) -> str:
        """What the reader is shown to type after a prompt, line by line."""
        found = (re.match(r".* > (\S.*)$", line) for line in self.output)
        return "".join(f"{one[1]}\n" for one in found if one)


def shown_in(page: str) -> list[Shown]:
    """Every command of a page that can be run as it stands, in order: fenced blocks, then those within sentences and tables."""
    fenced = [one for found in FENCE.finditer(page) for one in _of_block(found["kind"], found["body"])]
    inline = [Shown(code) for code in inline_in(page) if code.startswith("steadyband") and not is_form(code)]
    known = {one.line for one in fenced}
    return [
        *fenced,
        *dict.fromkeys(
            one for one in inline if one.line not in known and len(shlex.split(one.line, comments=True)) > 2
        ),
    ]


def inline_in(page: str) -> list[str]:
    """Every command within a sentence or a table."""
    return [found["code"].replace("\\|", "|") for found in INLINE.finditer(FENCE.sub("", page))]


def is_form(code: str) -> bool:
    """True for a command with a placeholder, such as FOLDER, in it."""
    return PLACEHOLDER.search(code) is not None


def _of_block(kind: str, body: str) -> Iterator[Shown]:
    if kind in ("sh", "bash", "shell"):
        for line in body.replace("\\\n", " ").splitlines():
            if line.strip() and not line.lstrip().startswith("#"):
                yield _shown(line.strip())
    elif kind == "console":
        for part in re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]:
            first, *rest = part.splitlines()
            yield _shown(first, tuple(line for line in rest if line.strip()))


def _shown(line: str, output: tuple[str, ...] = ()) -> Shown:
    found = STATUS.search(line)
    return Shown(STATUS.sub("", line), int(found["status"]) if found else 0, output)


def furnish(home: Path, read: Path, line: str) -> None:
    """Lays out a home folder for a command: itself an athlete folder, and all in it that the command names.

    `read` is the demo with its recordings read; a page's athletes are copies of it.
    """
    copy_read(read, home)
    for name in ATHLETES:
        if name.split("/")[0] in line:
            copy_read(read, home / name)
    for name, source in STAND_INS.items():
        if name in line:
            (home / name).parent.mkdir(parents=True, exist_ok=True)
            copy_or_link(str(read / source), str(home / name))


def write_program(folder: Path) -> Path:
    """A `steadyband` that runs the code under test, to be put before all others on the PATH."""
    folder.mkdir(parents=True, exist_ok=True)
    program = folder / "steadyband"
    code = "import sys; from steadyband.cli.main import main; sys.argv[0] = 'steadyband'; main()"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{code}" "$@"\n', encoding="utf-8")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    return folder


def run(shown: Shown, home: Path, programs: Path) -> subprocess.CompletedProcess[str]:
    """The command in `home`: in this process, or by bash where the line asks for more than one command with its words."""
    words = shlex.split(shown.line, comments=True)
    if words[0] == "steadyband" and not OF_THE_SHELL.search(shown.line.split(" # ")[0]):
        return console.run(*words[1:], cwd=home, typed=shown.typed)
    path = f"{programs}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["bash", "-euc", shown.line],
        input=shown.typed,
        capture_output=True,
        text=True,
        cwd=home,
        env=os.environ | console.PLAIN | {"PATH": path},
        check=False,
    )


def makes(line: str) -> str | None:
    """The name of the folder that a command makes new, if it does."""
    words = shlex.split(line, comments=True)
    if len(words) < 2 or words[1] not in NEW_FOLDER:
        return None
    return words[2] if len(words) > 2 else NEW_FOLDER[words[1]]


def missing_from(output: str, shown: tuple[str, ...]) -> list[str]:
    """The lines shown that are not in the output, in that order; `...` stands for anything, runs of spaces are one."""
    text, at, missing = " ".join(output.split()), 0, []
    for line in shown:
        parts = [re.escape(" ".join(part.split())) for part in line.split("...")]
        found = re.compile(" ?.*? ?".join(parts)).search(text, at)
        if found:
            at = found.end()
        else:
            missing.append(line)
    return missing
