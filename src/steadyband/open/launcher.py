"""A file to double-click: starts `steadyband open` on a folder without a terminal having to be typed into."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence
from pathlib import Path

from steadyband.ground.errors import SteadybandError, UsageError
from steadyband.ground.writing import make_private_folder, replace_whole

NAMES = {"win32": "steadyband.bat", "darwin": "steadyband.command"}
"""By the system's name in Python; every other system has the desktop entry of freedesktop.org."""
ENTRY = "steadyband.desktop"
PRIVATE_PROGRAM = 0o700


def write_launcher(folder: Path, into: Path, platform: str = sys.platform) -> Path:
    """Writes the launcher for this system into the folder `into`, and returns it; nothing that is there is replaced.

    Raises UsageError where one is there already or a path cannot stand in it, SteadybandError where it cannot be written.
    """
    place = into / NAMES.get(platform, ENTRY)
    if place.exists():
        raise UsageError(f"expected no launcher yet, found {place}.", hint="Delete that one first.")
    words = [sys.executable, "-m", "steadyband", "open", str(folder.absolute())]
    if any(not sign.isprintable() for word in words for sign in word):
        raise UsageError(f"expected a path of letters that can be shown, found {words[-1]!r}.")
    try:
        make_private_folder(into)
        replace_whole(place, _text(words, platform).encode(), PRIVATE_PROGRAM)
    except OSError as fault:
        raise SteadybandError(f"cannot be written ({fault.strerror}).", file=str(place)) from fault
    return place


def _text(words: Sequence[str], platform: str) -> str:
    if platform == "win32":
        return "@echo off\r\nchcp 65001 > nul\r\n" + " ".join(map(_for_batch, words)) + "\r\nif errorlevel 1 pause\r\n"
    if platform == "darwin":
        return f"#!/bin/sh\nexec {shlex.join(words)}\n"
    return (
        "[Desktop Entry]\nType=Application\nName=steadyband\nComment=Your training in the browser, on this computer only\n"
        f"Exec={' '.join(map(_for_desktop, words))}\nTerminal=true\nCategories=Sports;\n"
    )


def _for_batch(word: str) -> str:
    """In quotes; a per cent sign stands twice, or it would name a variable. A path on Windows holds no quotes."""
    return '"' + word.replace("%", "%%") + '"'


def _for_desktop(word: str) -> str:
    """In quotes, as the Desktop Entry Specification has it for `Exec`: quoted first, then a backslash for each backslash."""
    quoted = "".join(f"\\{sign}" if sign in '"`$\\' else sign for sign in word)
    return '"' + quoted.replace("\\", "\\\\").replace("%", "%%") + '"'
