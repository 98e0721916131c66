"""Step tests while they are entered in the browser: the same room, the same draft on the disk as `steadyband enter-test`.

A line is saved before it is answered, so neither a closed page nor a killed server costs an entry.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from steadyband.ground.errors import SteadybandError
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.writing import make_private_folder
from steadyband.open.growing import drawing
from steadyband.open.missing import MissingError
from steadyband.steptest.dialogue.draft import Draft, effective
from steadyband.steptest.dialogue.entering import alone, running_clock
from steadyband.steptest.dialogue.live import standing
from steadyband.steptest.dialogue.remarks import Remark, edges_told, prompt, remarks, table_rows
from steadyband.steptest.dialogue.room import Room, Taken
from steadyband.steptest.dialogue.talk import due_minutes, planned_load
from steadyband.steptest.dialogue.typed import SUFFIX, journal_path

LINE_MAX = 500
"""Longest line that is taken [characters]."""
NAMES = {"cycling": "bike", "running": "run"}
State = dict[str, Any]


@dataclass(slots=True)
class Held:
    """One test that this run has open: nobody else can meanwhile. `said` is what was told last, `drawn` its curve and edges after so many events."""

    room: Room
    kept: contextlib.ExitStack
    said: tuple[Remark, ...] = ()
    drawn: tuple[int, str, tuple[str, ...]] = (-1, "", ())


@dataclass(slots=True)
class Taking:
    """The tests of one athlete that are being entered, by the name of their file."""

    folder: Path
    settings: StepTestSettings
    clock: Callable[[], float] = field(default_factory=running_clock)
    _held: dict[str, Held] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def drafts(self) -> tuple[str, ...]:
        """The files of tests that are not finished."""
        return tuple(sorted(place.name.removesuffix(SUFFIX) for place in self.folder.glob(f"*.toml{SUFFIX}")))

    def begin(self, today: date, sport: str, preset: Mapping[str, Any]) -> str:
        """Begins a test under a name nobody has; its name."""
        with self._lock:
            make_private_folder(self.folder)
            number, stem = 1, f"{today.isoformat()}-{NAMES.get(sport, 'test')}"
            while (place := self.folder / f"{stem}{f'-{number}' if number > 1 else ''}.toml").exists() or journal_path(
                place
            ).exists():
                number += 1
            self._open(place, preset, today)
            return place.name

    def mend(self, name: str) -> str:
        """Opens a finished test again. Raises MissingError where there is none of that name, TestFileError, UsageError."""
        with self._lock:
            known = {place.name: place for place in self.folder.glob("*.toml")}
            if name not in known:
                raise MissingError(name)
            if name not in self._held:
                self._open(known[name], {}, date.today())
            return name

    def _open(self, place: Path, preset: Mapping[str, Any], today: date) -> Held:
        with contextlib.ExitStack() as kept:
            locked = kept.enter_context(alone(place))
            room = Room(place, self.clock, today, self.settings)
            said = room.open(preset)
            if not locked:
                said = (Remark("warn", "This disk knows no locks: enter the test in one window only."), *said)
            found = self._held[place.name] = Held(room, kept.pop_all(), said)
        return found

    def _of(self, name: str) -> Held:
        if name in self._held:
            return self._held[name]
        if name not in self.drafts():
            raise MissingError(name)
        held = self._open(self.folder / name, {}, date.today())
        held.said = _last_said(held.room)
        return held

    def state(self, name: str) -> State:
        """Where a test stands. Raises MissingError, UsageError where it is entered elsewhere."""
        with self._lock:
            return _state(self._of(name), Taken())

    def take(self, name: str, line: str) -> State:
        """What a line leads to; it is on the disk before this returns. `finish` writes the test and closes it."""
        with self._lock:
            held = self._of(name)
            taken = held.room.take(line[:LINE_MAX])
            held.said = taken.remarks or ((Remark("saved", "Taken."),) if not taken.show else ())
            if taken.left:
                held.said = (held.room.leave(),)
            elif held.room.draft.finished:
                held.said = (*taken.remarks, _written(held.room))
            state = _state(held, taken)
            if taken.left or state["finished"]:
                self._close(name)
            return state

    def _close(self, name: str) -> None:
        self._held.pop(name).kept.close()

    def close(self) -> None:
        """Lets go of everything; the drafts stay."""
        with self._lock:
            for name in list(self._held):
                self._close(name)


def _written(room: Room) -> Remark:
    """Writes the finished test; where that fails the finish is taken back, so that nothing is entered into a closed test."""
    try:
        return room.write()
    except (SteadybandError, OSError):
        if room.draft.finished:
            room.take("undo")
        raise


def _last_said(room: Room) -> tuple[Remark, ...]:
    """What was told of the last entry, for whoever comes back."""
    told = (Remark("good", "Going on: everything entered is here."),)
    entries = [event for event in effective(room.events) if event.kind not in ("set", "reopen")]
    if not entries or room.question is not None:
        return told
    return (*told, *remarks(room.draft, entries[-1], room.clock(), room.settings))


def _state(held: Held, taken: Taken) -> State:
    room = held.room
    draft, question = room.draft, room.question
    begun = question is None
    state: State = {
        "now_s": room.clock(),
        "question": {"text": question.text, "default": question.default} if question else None,
        "live": begun and draft.live,
        "finished": draft.finished,
        "left": taken.left,
        "remarks": [{"tone": remark.tone, "text": remark.text} for remark in held.said],
        "count": len(room.events),
        "rows": table_rows(draft, room.settings) if begun else [],
    }
    _, state["curve"], state["edges"] = _drawn(held, draft) if begun else (0, "", ())
    return state | (_clocked(draft, room.clock()) if begun else {"title": "Before the test", "began_s": None})


def _clocked(draft: Draft, now_s: float) -> State:
    number = len(draft.steps)
    due = due_minutes(draft, number) if number else []
    return {
        "title": draft.step_name(number) if number else "Baseline",
        "began_s": draft.steps[-1].started_s if number else None,
        "minutes": draft.step_minutes,
        "due": due,
        "prompt": prompt(draft, now_s),
        "next": draft.load_text(planned_load(draft)),
        "baseline": bool(draft.baseline),
    }


def _drawn(held: Held, draft: Draft) -> tuple[int, str, tuple[str, ...]]:
    """(events, the curve, where the edges stand): worked out once for all that look."""
    count = len(held.room.events)
    if held.drawn[0] != count:
        now = standing(draft, held.room.settings)
        if now is None:
            held.drawn = (count, "", ())
        else:
            told = tuple(remark.text for remark in edges_told(draft, now))
            held.drawn = (count, drawing(draft, now) if len(now.numbers) > 1 else "", told)
    return held.drawn
