"""Runs the real command line in this process, and looks at what it prints and writes."""

from __future__ import annotations

import hashlib
import os
import re
from collections import Counter
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import console

CANARY = "CANARY-7f3a"
"""Stands in every file beside the athlete folder; it must never come out."""


@dataclass(frozen=True, slots=True)
class Done:
    """How a command ended."""

    status: int
    out: str
    err: str

    @property
    def told(self) -> str:
        """Both streams."""
        return f"{self.out}\n{self.err}"


def run(home: Path, *arguments: str) -> Done:
    """One command, run inside a folder, with its streams kept as a terminal in UTF-8 would get them."""
    done = console.run(*arguments, cwd=home)
    return Done(done.returncode, done.stdout, done.stderr)


def with_canary(outside: Path) -> None:
    """Files beside the athlete folder that nothing may read or change."""
    hidden = outside / "CANARY"
    hidden.mkdir()
    for name in ("secret.fit", "secret.toml", "secret.csv", "secret.gpx"):
        (hidden / name).write_text(CANARY, encoding="utf-8")


def contents_of(folder: Path, but: Path) -> dict[str, str]:
    """Every file below a folder and its digest, but for those below `but`."""
    found = {}
    for parent, folders, files in os.walk(folder):
        folders[:] = [name for name in folders if Path(parent, name) != but]
        for name in files:
            path = Path(parent, name)
            found[str(path)] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def control_characters(text: str) -> list[str]:
    """What a terminal may act on: all that is not printable, but for line ends."""
    return sorted({repr(sign) for sign in text if not sign.isprintable() and sign != "\n"})


class Page(HTMLParser):
    """The elements of a page with the names of their attributes, its scripts, and every address it names."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: Counter[tuple[str, tuple[str, ...]]] = Counter()
        self.addresses: list[str] = []
        self.handlers: list[str] = []
        self.code = ""
        self._in_script = False
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._in_script = tag == "script"
        self.tags[(tag, tuple(sorted(name for name, _ in attrs)))] += 1
        self.handlers += [name for name, _ in attrs if name.startswith("on")]
        self.addresses += [
            value or "" for name, value in attrs if name in ("href", "src", "action", "xlink:href", "data")
        ]

    def handle_endtag(self, tag: str) -> None:
        self._in_script = self._in_script and tag != "script"

    def handle_data(self, data: str) -> None:
        if self._in_script:
            self.code += data

    @property
    def injected(self) -> list[str]:
        """What no page of ours may have: handlers, images of nowhere, addresses that run, our planted call as code."""
        running = [
            address for address in self.addresses if re.match(r"\s*(javascript|vbscript|data:text)", address, re.I)
        ]
        images = [str(tag) for tag in self.tags if tag[0] == "img"]
        called = ["alert(1) in a script"] if "alert(1)" in self.code else []
        return [*self.handlers, *running, *images, *called]

    @property
    def scripts(self) -> int:
        return sum(count for (tag, _), count in self.tags.items() if tag == "script")
