"""The terminal side of `enter-test`: asks, saves every entry before it answers, and writes the test at the end."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyband.ground.errors import UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.steptest.dialogue.draft import Draft, Event, effective, last_entry, replay
from steadyband.steptest.dialogue.entering import alone
from steadyband.steptest.dialogue.questions import answer, next_question
from steadyband.steptest.dialogue.remarks import Remark, prompt, remarks, status, table_rows, undone
from steadyband.steptest.dialogue.talk import HELP, Command, parse
from steadyband.steptest.dialogue.typed import append_event, draft_toml, journal_path, read_journal

if TYPE_CHECKING:
    from rich.console import Console

INTRO = (
    "One single-use lancet a prick, never shared; lancets and strips into a sharps box. Chest pain, fainting or unusual "
    "breathlessness end the test."
)


@dataclass(slots=True)
class Talk:
    """One dialogue: where it writes, how it reads the clock, and what has been entered."""

    file: Path
    clock: Callable[[], float]
    today: date
    settings: StepTestSettings
    console: Console
    events: list[Event] = field(default_factory=list)

    @property
    def draft(self) -> Draft:
        """Everything entered so far."""
        return replay(self.events)

    def save(self, event: Event) -> None:
        """Takes one entry to the disk, then into the draft."""
        append_event(journal_path(self.file), event)
        self.events.append(event)

    def say(self, *told: Remark) -> None:
        """Prints remarks."""
        from steadyband.report.test.terminal import remark_view

        for remark in told:
            self.console.print(remark_view(remark))


def talk(room: Talk, preset: Mapping[str, Any]) -> bool:
    """Runs the dialogue until the test is finished (True) or left (False); the draft resumes where it was left.

    `preset` answers questions before they are asked. Raises UsageError where the test file is there already, or is being
    entered elsewhere at this moment.
    """
    with alone(room.file) as locked:
        if room.file.exists():
            raise UsageError(f"expected a new file, found {room.file}.", hint="Name another, or edit that one by hand.")
        if not locked:
            room.say(Remark("warn", "This disk knows no locks: enter the test in one window only."))
        return _talked(room, preset)


def _talked(room: Talk, preset: Mapping[str, Any]) -> bool:
    _open(room, preset)
    while not room.draft.finished:
        line = _ask(room)
        if line is None or not _take(room, line):
            return _left(room)
    _write(room)
    return True


def _open(room: Talk, preset: Mapping[str, Any]) -> None:
    journal = journal_path(room.file)
    if journal.exists():
        room.events = list(read_journal(journal))
        count = len([event for event in effective(room.events) if event.kind != "set"])
        room.say(Remark("good", f"Going on with {journal} ({count} entries)."))
        _show(room)
    else:
        room.say(
            Remark("saved", INTRO),
            Remark("saved", f"Every entry is saved at once in {journal}. Type `help` at any time."),
        )
    known = room.draft.answers
    for key, value in preset.items():
        if key not in known:
            room.save(Event("set", room.clock(), {"key": key, "value": value}))


def _ask(room: Talk) -> str | None:
    question = next_question(room.draft, room.today)
    if question is None:
        words = prompt(room.draft, room.clock())
    else:
        words = f"{question.text} [{question.default}]" if question.default else question.text
    try:
        with Ticking(room, f"{words} > "):
            line = input(f"{words} > ")
    except EOFError:
        room.console.print()
        return None
    if not sys.stdin.isatty():
        room.console.print(line, markup=False, highlight=False)
    return line


@dataclass(slots=True)
class Ticking:
    """Keeps the time in the prompt going while it waits, in a terminal that can move its cursor; elsewhere it stands."""

    room: Talk
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


def _take(room: Talk, line: str) -> bool:
    """Takes one typed line; False where the athlete leaves."""
    try:
        question = next_question(room.draft, room.today)
        if question is None:
            return _entry(room, line)
        if line.strip().casefold() in ("quit", "exit"):
            return False
        if line.strip().casefold() in ("help", "?"):
            room.say(Remark("saved", "Type the answer; Enter alone takes what stands in brackets; `quit` leaves."))
            return True
        room.save(answer(question, line, room.clock()))
    except UsageError as fault:
        room.say(Remark("warn", str(fault)))
    return True


def _entry(room: Talk, line: str) -> bool:
    now = room.clock()
    event = parse(line, room.draft, now, room.settings)
    if isinstance(event, Command):
        return _command(room, event)
    if event.kind == "undo":
        _undo(room, event)
        return True
    room.save(event)
    room.say(*remarks(room.draft, event, now, room.settings))
    return True


def _undo(room: Talk, event: Event) -> None:
    last = last_entry(effective(room.events))
    if last is None:
        raise UsageError("there is nothing to take back.")
    text = undone(room.draft, last)
    room.save(event)
    room.say(Remark("saved", text))


def _command(room: Talk, command: Command) -> bool:
    if command.name == "quit":
        return False
    if command.name == "help":
        from steadyband.report.test.terminal import help_view

        room.console.print(help_view(HELP))
    elif command.name == "show":
        _show(room)
    else:
        room.say(Remark("saved", status(room.draft, room.clock())))
    return True


def _show(room: Talk) -> None:
    from steadyband.report.test.terminal import entered_view

    if room.draft.baseline or room.draft.steps:
        room.console.print(entered_view(table_rows(room.draft, room.settings)))


def _left(room: Talk) -> bool:
    room.say(Remark("saved", f"Saved. The same command goes on: steadyband enter-test {room.file}"))
    return False


def _write(room: Talk) -> None:
    from steadyband.ground.writing import write_text_atomically

    text = draft_toml(room.draft)
    _check(text, room)
    write_text_atomically(room.file, text)
    journal_path(room.file).unlink()
    room.say(Remark("good", f"Wrote {room.file}."))


def _check(text: str, room: Talk) -> None:
    """Reads the finished text as any test is read, before it takes its place; on a fault the finish is taken back."""
    from steadyband.ground.errors import TestFileError
    from steadyband.steptest.file.reading import load_test

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, room.file.name)
        path.write_text(text, encoding="utf-8")
        try:
            load_test(path, room.settings)
        except TestFileError as fault:
            room.save(Event("undo", room.clock()))
            fault.file = room.file.name
            fault.hint = f"{fault.hint} The draft is kept: run the same command again and mend it."
            raise


def line_editing() -> None:
    """Arrow keys and history in the prompt, where the system has them; the ticking prompt needs them too."""
    with contextlib.suppress(ImportError):
        import readline  # noqa: F401
