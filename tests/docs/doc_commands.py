"""What the papers show as commands, and a home folder in which they can be run as shown."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import stat
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from conftest import DEMO, ROOT

PAPERS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCE = re.compile(r"^(?P<indent> *)```(?P<kind>\w*)\n(?P<body>.*?)^ *```", re.MULTILINE | re.DOTALL)
INLINE = re.compile(r"(?<!`)`(?P<code>(?:steadyband|python3?|pipx?) [^`\n]+)`(?!`)")
STATUS = re.compile(r"\s+# exit status (?P<status>\d+)$")
PLACEHOLDER = re.compile(r"\b[A-Z][A-Z_]+\b|\.\.\.")
NEW_FOLDER = {"init": "", "demo": "steadyband-demo"}
"""Commands that make a folder, and the one they make where none is named."""

HILLY_RIDE = "activities/2026-W20/2026-05-16-two-hills.fit"
INDOOR_RIDE = "activities/2026-W18/2026-04-28-indoor-ride.fit"
GPX_RIDE = "activities/2026-W18/2026-05-03-lake-ride.gpx"
STAND_INS = {
    "ride.fit": HILLY_RIDE,
    "my-training/activities/ride.fit": HILLY_RIDE,
    "activities/2026-05-16-hills.fit": HILLY_RIDE,
    "trainer.fit": INDOOR_RIDE,
    "pedals.fit": INDOOR_RIDE,
    "sunday.gpx": GPX_RIDE,
}
"""Files that the papers name, and the recording of the demo that stands in for each."""

ATHLETES = ("my-training", "demo_activities", "steadyband-demo", "my-athletes/robin", "my-athletes/sam")
"""Folders that the papers name: each is a copy of the demo."""


@dataclass(frozen=True)
class Shown:
    """A command line as shown, the status it should end with, and the lines shown as its output."""

    line: str
    status: int = 0
    output: tuple[str, ...] = ()

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


def furnish(home: Path) -> None:
    """Lays out a home folder: itself an athlete folder, with everything in it that the papers name."""
    _copy_demo(home)
    for name in ATHLETES:
        _copy_demo(home / name)
    for name, source in STAND_INS.items():
        shutil.copy2(DEMO / source, home / name)


def _copy_demo(to: Path) -> None:
    to.mkdir(parents=True, exist_ok=True)
    for part in ("tests", "activities"):
        shutil.copytree(DEMO / part, to / part, dirs_exist_ok=True)
    for name in ("sessions.csv", "athlete.toml"):
        shutil.copy2(DEMO / name, to / name)
    file = to / "athlete.toml"
    kept = [line for line in file.read_text(encoding="utf-8").splitlines() if not line.startswith("reports")]
    file.write_text("\n".join(kept) + "\n", encoding="utf-8")


def copy_or_link(source: str, target: str) -> str:
    """Copies a file; a recording, which nothing ever writes to, is linked."""
    if Path(source).suffix in (".fit", ".gpx"):
        os.link(source, target)
        return target
    return shutil.copy2(source, target)


def write_program(folder: Path) -> Path:
    """A `steadyband` that runs the code under test, to be put before all others on the PATH."""
    folder.mkdir(parents=True, exist_ok=True)
    program = folder / "steadyband"
    code = "import sys; from steadyband.cli.main import main; sys.argv[0] = 'steadyband'; main()"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{code}" "$@"\n', encoding="utf-8")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    return folder


def run(shown: Shown, home: Path, programs: Path) -> subprocess.CompletedProcess[str]:
    """The command by bash, in `home`; a folder it is to make new is set aside meanwhile and put back."""
    path = f"{programs}{os.pathsep}{os.environ['PATH']}"
    environment = os.environ | {"PATH": path, "NO_COLOR": "1", "COLUMNS": "80", "PYTHONIOENCODING": "utf-8"}
    aside = _set_aside(shown.line, home)
    try:
        return subprocess.run(
            ["bash", "-euc", shown.line],
            input=shown.typed,
            capture_output=True,
            text=True,
            cwd=home,
            env=environment,
            check=False,
        )
    finally:
        if aside:
            shutil.rmtree(aside[0], ignore_errors=True)
            aside[1].rename(aside[0])


def _set_aside(line: str, home: Path) -> tuple[Path, Path] | None:
    words = shlex.split(line, comments=True)
    if len(words) < 2 or words[1] not in NEW_FOLDER:
        return None
    name = words[2] if len(words) > 2 else NEW_FOLDER[words[1]]
    folder, place = home / name, home / f".aside-{name.replace('/', '-')}"
    if not folder.exists():
        return None
    folder.rename(place)
    return folder, place


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
