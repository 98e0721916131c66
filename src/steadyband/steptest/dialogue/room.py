"""A step test while it is entered, as any face sees it: a line in, remarks out, every entry on the disk before its answer.

The face shows questions and remarks and reads lines; it knows no rule of the dialogue. `entering.alone` keeps two faces apart.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from steadyband.ground.errors import TestFileError, UsageError
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.writing import replace_whole, write_text_atomically
from steadyband.steptest.dialogue.draft import Draft, Event, effective, last_answer, last_entry, replay
from steadyband.steptest.dialogue.questions import CHANGES, Question, answer, day_in_name, next_question
from steadyband.steptest.dialogue.remarks import Remark, remarks, status, undone
from steadyband.steptest.dialogue.reopening import before_place, reopening
from steadyband.steptest.dialogue.talk import Command, parse
from steadyband.steptest.dialogue.typed import append_event, draft_toml, journal_path, read_journal
from steadyband.steptest.file.reading import load_test

INTRO = (
    "One single-use lancet a prick, never shared; lancets and strips into a sharps box. Chest pain, fainting or unusual "
    "breathlessness end the test."
)
HOW_TO_ANSWER = (
    "Type the answer; Enter alone takes what stands in brackets; `back` takes back the answer before, `show` lists all; "
    "`quit` leaves."
)


@dataclass(frozen=True, slots=True)
class Taken:
    """What a line led to: remarks, and whether the face shows the table or the help, or the athlete leaves."""

    remarks: tuple[Remark, ...] = ()
    show: bool = False
    help: bool = False
    left: bool = False


@dataclass(slots=True)
class Room:
    """One test being entered into `file`; `clock` tells Unix seconds, `today` the local day."""

    file: Path
    clock: Callable[[], float]
    today: date
    settings: StepTestSettings
    events: list[Event] = field(default_factory=list)

    @property
    def draft(self) -> Draft:
        """Everything entered so far."""
        return replay(self.events)

    @property
    def question(self) -> Question | None:
        """What is to be answered before the test begins; None when all is known. The date in the file's name is proposed."""
        return next_question(self.draft, day_in_name(self.file.name) or self.today)

    def open(self, preset: Mapping[str, Any]) -> tuple[Remark, ...]:
        """Begins, goes on with a draft, or opens a finished test again; `preset` answers questions before they are asked.

        Raises TestFileError where a finished test is faulty.
        """
        journal = journal_path(self.file)
        if journal.exists():
            self.events = list(read_journal(journal))
            count = len([event for event in effective(self.events) if event.kind not in ("set", "reopen")])
            told = [Remark("good", f"Going on with {journal} ({count} entries).")]
        elif self.file.exists():
            self._save(reopening(self.file, self.clock(), self.settings))
            told = [
                Remark("good", f"Opened again: {self.file}, a finished test. `show` tells what is in it."),
                Remark("saved", "Mend what is wrong, then `finish` writes it; `quit` leaves the file as it is."),
            ]
        else:
            saved = (
                f"Every entry is saved at once in {journal}. Type `help` at any time, `back` to take an answer back."
            )
            told = [Remark("saved", INTRO), Remark("saved", saved)]
        return (*told, *self._preset(preset))

    def _preset(self, preset: Mapping[str, Any]) -> list[Remark]:
        told: list[Remark] = []
        for key, value in preset.items():
            known = self.draft.answers
            if key not in known or (key == "live" and known[key] and not value):
                self._save(Event("set", self.clock(), {"key": key, "value": value}))
            elif key in (*CHANGES.values(), "sport", "load_unit") and known[key] != value and key != "date":
                word = next((word for word, one in CHANGES.items() if one == key), "")
                how = f"`change {word} {value}` changes it" if word else "begin another file for another test"
                kept = f"{key.replace('_', ' ')} is {known[key]} here, and {value} from the command line was not taken"
                told.append(Remark("warn", f"{kept}: {how}."))
        return told

    def take(self, line: str) -> Taken:
        """What a typed line leads to; a line that cannot be right is a remark, and nothing of it is taken."""
        try:
            question = self.question
            return self._entry(line) if question is None else self._answer(question, line)
        except UsageError as fault:
            return Taken((Remark("warn", str(fault)),))

    def _answer(self, question: Question, line: str) -> Taken:
        word = line.strip().casefold()
        if word in ("quit", "exit"):
            return Taken(left=True)
        if word in ("help", "?"):
            return Taken((Remark("saved", HOW_TO_ANSWER),))
        if word == "show":
            return Taken(self._answers(), show=True)
        if word in ("back", "undo"):
            return Taken((self._back(),))
        self._save(answer(question, line, self.clock()))
        return Taken()

    def _answers(self) -> tuple[Remark, ...]:
        given = self.draft.answers
        told = [
            f"{key.replace('_', ' ')}: {value}"
            for key, value in given.items()
            if key != "live" and value not in (None, "", [])
        ]
        return (Remark("saved", "; ".join(told) + "."),)

    def _back(self) -> Remark:
        last = last_answer(effective(self.events))
        if last is None:
            raise UsageError("there is no answer to take back.", hint="Options of the command line are changed there.")
        self._save(Event("back", self.clock()))
        return Remark("saved", f"Taken back: {str(last.data['key']).replace('_', ' ')} {last.data['value']}.")

    def _entry(self, line: str) -> Taken:
        now = self.clock()
        found = parse(line, self.draft, now, self.settings)
        if isinstance(found, Command):
            return self._command(found)
        if found[0].kind == "undo":
            return Taken((self._undo(found[0]),))
        before = len(self.events)
        self._save(*found)
        told: list[Remark] = []
        for number, event in enumerate(found, before + 1):
            said = remarks(replay(self.events[:number]), event, now, self.settings)
            later_sample = any(other.kind == "sample" for other in found[number - before :])
            told += [remark for remark in said if not later_sample or remark.tone in ("saved", "warn")]
        return Taken(tuple(told))

    def _undo(self, event: Event) -> Remark:
        last = last_entry(effective(self.events))
        if last is None and last_answer(effective(self.events)) is not None:
            return self._back()
        if last is None:
            raise UsageError("there is nothing to take back.")
        text = undone(self.draft, last)
        self._save(event)
        return Remark("saved", text)

    def _command(self, command: Command) -> Taken:
        if command.name == "quit":
            return Taken(left=True)
        if command.name == "help":
            return Taken(help=True)
        if command.name == "show":
            return Taken(self._answers(), show=True)
        return Taken((Remark("saved", status(self.draft, self.clock())),))

    def leave(self) -> Remark:
        """What is said to an athlete who leaves; a finished test that was only looked at is closed again."""
        journal = journal_path(self.file)
        if self.file.exists() and {event.kind for event in effective(self.events)} <= {"reopen"} and journal.exists():
            journal.unlink()
            return Remark("saved", f"Nothing was changed: {self.file} is as it was.")
        kept = f" Until `finish`, {self.file} stays as it was." if self.file.exists() else ""
        return Remark("saved", f"Saved.{kept} The same command goes on: steadyband enter-test {self.file}")

    def write(self) -> Remark:
        """Writes the finished test and takes its draft away; what stood in a mended file before is kept beside it.

        Raises TestFileError where the test cannot be read back; the finish is then taken back and the draft kept.
        """
        text = draft_toml(self.draft)
        self._check(text)
        kept = ""
        if self.file.exists():
            place = before_place(self.file)
            replace_whole(place, self.file.read_bytes())
            kept = f" What stood in it before is {place}."
            replace_whole(self.file, text.encode())
        else:
            write_text_atomically(self.file, text)
        journal_path(self.file).unlink()
        return Remark("good", f"Wrote {self.file}.{kept}")

    def _check(self, text: str) -> None:
        """Reads the finished text as any test is read, before it takes its place; on a fault the finish is taken back."""
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder, self.file.name)
            path.write_text(text, encoding="utf-8")
            try:
                load_test(path, self.settings)
            except TestFileError as fault:
                self._save(Event("undo", self.clock()))
                fault.file = self.file.name
                fault.hint = f"{fault.hint} The draft is kept: run the same command again and mend it."
                raise

    def _save(self, *events: Event) -> None:
        """Takes the entries of a line to the disk, then into the draft."""
        append_event(journal_path(self.file), *events)
        self.events += events
