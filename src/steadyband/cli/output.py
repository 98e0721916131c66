"""What every command says and how: text for people in the terminal's own letters, UTF-8 for programs, errors in a line."""

from __future__ import annotations

import codecs
import contextlib
import json
import sys
import unicodedata
from collections.abc import Iterator
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import typer

from steadyband.ground.plain import json_text, plain_lines

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

BAR = 24
"""Signs of a progress bar."""

PLAIN = {
    **dict.fromkeys("–—−─╌", "-"),
    **dict.fromkeys("‘’′", "'"),
    **dict.fromkeys("“”", '"'),
    **dict.fromkeys("·•", "*"),
    "°": " deg ",
    "±": "+/-",
    "×": "x",
    "…": "...",
    "≥": ">=",
    "≤": "<=",
    "◆": "*",
    "╷": "|",
    "→": "->",
}
"""Letters of ASCII for signs that a screen without UTF-8 cannot show."""


class TextFormat(StrEnum):
    """Formats of commands that speak to people or to programs."""

    text = "text"
    json = "json"


def console(*, stderr: bool = False) -> Console:
    """The terminal: as wide as it is, 80 columns where nobody looks; colours only where it has them."""
    from rich.console import Console

    return Console(stderr=stderr, highlight=False)


def printable(text: str) -> str:
    """The text with everything a terminal would act on written out, line by line."""
    return plain_lines(text)


@contextlib.contextmanager
def file_bar() -> Iterator[FileBar]:
    """Long work on standard error: a bar of files without colours of its own where somebody looks, otherwise nothing."""
    if not sys.stderr.isatty():
        yield FileBar()
        return
    from rich.progress import Progress, TextColumn

    bar = TextColumn("{task.description}  {task.fields[bar]}  {task.completed}/{task.total} files{task.fields[left]}")
    with Progress(bar, console=console(stderr=True), transient=True) as progress:
        yield ShownBar(progress)


class FileBar:
    """How far the reading of files is; nobody looks."""

    def judging(self, files: int) -> None:
        """So many files known as measured are judged again."""

    def begin(self, to_read: int, known: int) -> None:
        """So many files must be read; the known ones cost nothing."""

    def advance(self, files: int = 1) -> None:
        """So many more files are done."""


class ShownBar(FileBar):
    """One line of a progress bar, moved by files: "reading recordings  ########----  12/21 files, 3 s left"."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._task = progress.add_task("reading recordings", total=0, visible=False, bar="-" * BAR, left="")

    def judging(self, files: int) -> None:
        """Shows the line for sessions that are judged again without their recordings."""
        self._show("judging sessions again", files)

    def begin(self, to_read: int, known: int) -> None:
        """Shows the line where a file must be read."""
        self._show("reading recordings", to_read)

    def _show(self, what: str, files: int) -> None:
        self._progress.reset(self._task, total=files, visible=files > 0, description=what, bar="-" * BAR, left="")

    def advance(self, files: int = 1) -> None:
        """Moves the line on, with the time left where that is known."""
        task = self._progress.tasks[self._task]
        done = min((task.completed + files) / (task.total or 1), 1.0)
        filled = round(BAR * done)
        left = task.time_remaining
        words = f", {left:.0f} s left" if left and left >= 1 else ""
        self._progress.update(self._task, advance=files, bar="#" * filled + "-" * (BAR - filled), left=words)


def say(text: str) -> None:
    """Prose for people, wrapped to the screen; nothing in it is taken for a style or an order to the terminal."""
    console().print(plain_lines(text), markup=False)


def err(text: str) -> None:
    """One message on standard error, without anything a terminal would act on."""
    typer.echo(plain_lines(text), err=True)


def print_json(value: object, indent: int | None = None) -> None:
    """One JSON value and a line end on standard output, in UTF-8 whatever the terminal's letters are (RFC 8259)."""
    print_bytes(json_text(json.dumps(value, allow_nan=False, ensure_ascii=False, indent=indent)).encode() + b"\n")


def print_bytes(content: bytes) -> None:
    """A table or document for programs, byte by byte."""
    typer.echo(content, nl=False)


def speak_plainly() -> None:
    """Output that the terminal has no letters for is written with others instead of failing."""
    codecs.register_error("steadyband.ground.plain", _plain)
    for stream in (sys.stdout, sys.stderr):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="steadyband.ground.plain")


def _plain(fault: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    found = fault.object[fault.start : fault.end]
    return "".join(_letters(char) for char in found), fault.end


def _letters(char: str) -> str:
    if char in PLAIN:
        return PLAIN[char]
    bare = unicodedata.normalize("NFKD", char).encode("ascii", "ignore").decode()
    return bare or "?"
