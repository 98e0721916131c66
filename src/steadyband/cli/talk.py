"""The terminal side of `enter-test`: reads a line, hands it to the room, prints what the room says."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from steadyband.steptest.dialogue.entering import alone
from steadyband.steptest.dialogue.remarks import Remark, prompt, table_rows
from steadyband.steptest.dialogue.room import Room, Taken
from steadyband.steptest.dialogue.talk import HELP

if TYPE_CHECKING:
    from rich.console import Console


def talk(room: Room, preset: Mapping[str, Any], console: Console) -> bool:
    """Runs the dialogue until the test is finished (True) or left (False); the draft resumes where it was left.

    `preset` answers questions before they are asked. Raises UsageError where the test is being entered elsewhere at this
    moment, TestFileError where a finished test that is opened again is faulty.
    """
    with alone(room.file) as locked:
        if not locked:
            _say(console, Remark("warn", "This disk knows no locks: enter the test in one window only."))
        _say(console, *room.open(preset))
        _show(room, console)
        while not room.draft.finished:
            line = _ask(room, console)
            taken = Taken(left=True) if line is None else room.take(line)
            _tell(room, taken, console)
            if taken.left:
                _say(console, room.leave())
                return False
        _say(console, room.write())
        return True


def _tell(room: Room, taken: Taken, console: Console) -> None:
    if taken.help:
        from steadyband.report.test.terminal import help_view

        console.print(help_view(HELP))
    _say(console, *taken.remarks)
    if taken.show:
        _show(room, console)


def _say(console: Console, *told: Remark) -> None:
    from steadyband.report.test.terminal import remark_view

    for remark in told:
        console.print(remark_view(remark))


def _show(room: Room, console: Console) -> None:
    from steadyband.report.test.terminal import entered_view

    if room.draft.baseline or room.draft.steps:
        console.print(entered_view(table_rows(room.draft, room.settings)))


def _ask(room: Room, console: Console) -> str | None:
    question = room.question
    if question is None:
        words = prompt(room.draft, room.clock())
    else:
        words = f"{question.text} [{question.default}]" if question.default else question.text
    try:
        with Ticking(room, f"{words} > "):
            line = input(f"{words} > ")
    except EOFError:
        console.print()
        return None
    if not sys.stdin.isatty():
        console.print(line, markup=False, highlight=False)
    return line


@dataclass(slots=True)
class Ticking:
    """Keeps the time in the prompt going while it waits, in a terminal that can move its cursor; elsewhere it stands."""

    room: Room
    shown: str

    def __enter__(self) -> None:
        if self._can():
            signal.signal(signal.SIGALRM, self._tick)
            signal.setitimer(signal.ITIMER_REAL, 1.0, 1.0)

    def __exit__(self, *_: object) -> None:
        if self._can():
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGALRM, signal.SIG_DFL)

    def _can(self) -> bool:
        live = self.room.draft.live and bool(self.room.draft.steps)
        screen = sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "dumb") != "dumb"
        return live and screen and hasattr(signal, "SIGALRM") and "readline" in sys.modules

    def _tick(self, *_: object) -> None:
        """Writes the prompt over itself and puts the cursor back; left alone where that would shift what is typed."""
        import readline

        words = f"{prompt(self.room.draft, self.room.clock())} > "
        typed = readline.get_line_buffer()
        if len(words) == len(self.shown) and len(words) + len(typed) < shutil.get_terminal_size().columns:
            sys.stdout.write(f"\x1b7\r{words}\x1b8")
            sys.stdout.flush()


def line_editing() -> None:
    """Arrow keys and history in the prompt, where the system has them; the ticking prompt needs them too."""
    with contextlib.suppress(ImportError):
        import readline  # noqa: F401
