"""The labelling dialogue: sessions nobody said a word about, a guess shown, and answers added to sessions.csv.

Nothing is stored that was not answered; rows and notes already in the file are kept byte for byte.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.csv_file import column_names, delimiter_of, encoding_of
from steadyband.athlete.files import replace_atomically
from steadyband.athlete.labels import COLUMNS, read_labels
from steadyband.athlete.model import SessionLabel
from steadyband.audit.model import INTENTS
from steadyband.ground.cells import defused
from steadyband.ground.errors import AthleteFileError
from steadyband.ground.locking import held
from steadyband.ground.plain import shown
from steadyband.ground.said import Said
from steadyband.ground.units import day_words, duration_text, time_of_day
from steadyband.told.reasons import looks_text

Done = TypeVar("Done")
SKIP, QUIT = ("s", "skip"), ("q", "quit")
LABEL_WAIT_S = 5.0
"""Longest wait for another process that adds a row at the same moment: each takes milliseconds (design choice)."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was answered: an intent with a note, or to skip, stop, or ask again with a word on what is expected."""

    kind: Literal["intent", "skip", "quit", "again"]
    intent: str = ""
    note: str = ""
    text: str = ""


def unlabelled(sessions: Iterable[Condensed]) -> tuple[Condensed, ...]:
    """The sessions whose intent was assumed, newest week first, in each week those that look hard first, then by time."""
    found = [item for item in sessions if not item.audit.info.is_labelled]
    found.sort(key=lambda item: (not item.is_asked, item.audit.info.start))
    return tuple(sorted(found, key=lambda item: item.day.isocalendar()[:2], reverse=True))


def question(item: Condensed, number: int, total: int) -> str:
    """What is shown of a session before its answer."""
    info = item.audit.info
    name = f' "{info.name}"' if info.name else ""
    lead = (
        f"{number} of {total}: {day_words(item.day)} {info.local_start:%Y}, {time_of_day(info.local_start)}, {info.sport.replace('_', ' ')}{name}, "
        f"{duration_text(item.audit.seconds.active)} active ({info.file})"
    )
    looks = looks_text(Said(item.guess.looks, item.guess.numbers))
    guess = f"looks like {item.guess.intent}: {looks} (Enter)" if item.guess.intent else f"no guess: {looks}"
    return f"{lead}\n  {guess}"


HOW = (
    f"Type what each was for: {', '.join(INTENTS)}. A first letter or more will do, and a note may follow it; "
    "Enter takes the guess, s skips a session, q stops."
)
PROMPT = "  what was it for? "


def read_answer(typed: str, guess: str | None = None) -> Answer:
    """An answer as typed: "hard", "e legs heavy", "s", "q"; empty takes the guess that was shown, and asks again without one."""
    if not typed.strip() and guess:
        return Answer("intent", guess)
    word, _, note = typed.strip().partition(" ")
    folded = word.casefold()
    if folded in SKIP:
        return Answer("skip")
    if folded in QUIT:
        return Answer("quit")
    fitting = [intent for intent in INTENTS if folded and intent.startswith(folded)]
    exact = [intent for intent in fitting if intent == folded]
    chosen = exact or fitting
    if len(chosen) == 1:
        return Answer("intent", chosen[0], note.strip())
    if chosen:
        return Answer("again", text=f"{typed.strip()!r} fits {' and '.join(chosen)}: type one letter more.")
    found = f"found {typed.strip()!r}" if typed.strip() else "found nothing"
    return Answer("again", text=f"expected one of {', '.join(INTENTS)}, s or q; {found}.")


@dataclass(frozen=True, slots=True)
class Tally:
    """How the dialogue ended."""

    stored: int
    skipped: int
    left: int


def dialogue(
    sessions: Sequence[Condensed],
    ask: Callable[[str], str],
    say: Callable[[str], None],
    store: Callable[[SessionLabel], None],
) -> Tally:
    """Goes through the sessions: `say` shows one, `ask` takes the answer, `store` keeps it at once.

    `ask` raising EOFError ends it like "q". What was stored before stays stored.
    """
    stored = skipped = 0
    say(HOW)
    for number, item in enumerate(sessions, 1):
        say(question(item, number, len(sessions)))
        answer = _answered(ask, say, item.guess.intent)
        if answer.kind == "quit":
            break
        if answer.kind == "skip":
            skipped += 1
            continue
        store(label_of(item, answer))
        stored += 1
    return Tally(stored, skipped, len(sessions) - stored - skipped)


def _answered(ask: Callable[[str], str], say: Callable[[str], None], guess: str | None) -> Answer:
    while True:
        try:
            answer = read_answer(ask(PROMPT), guess)
        except EOFError:
            return Answer("quit")
        if answer.kind != "again":
            return answer
        say(f"  {answer.text}")


def label_of(item: Condensed, answer: Answer) -> SessionLabel:
    """The row that names this session by its local date and minute."""
    info = item.audit.info
    sport = info.sport if info.sport != "unknown" else None
    return SessionLabel(item.day, f"{info.local_start:%H:%M}", answer.intent, sport, answer.note)


def append_label(path: Path, label: SessionLabel) -> None:
    """Add one row to sessions.csv, made with its header if need be; all that stood in it stays byte for byte.

    The row follows the columns and the line ends of the file. Raises AthleteFileError where the file is faulty, has no
    column for the time (two sessions of a day could not be told apart), cannot be written, or is held by another process.
    """
    _written_alone(path, label, _append)


def remove_label(path: Path, label: SessionLabel) -> bool:
    """Take the last row that `append_label` added for this label out of sessions.csv again; all else stays byte for byte.

    False where no such row stands in it. Raises AthleteFileError as `append_label`.
    """
    return _written_alone(path, label, _remove)


def _written_alone(path: Path, label: SessionLabel, change: Callable[[Path, SessionLabel], Done]) -> Done:
    try:
        with held(path, LABEL_WAIT_S):
            return change(path, label)
    except OSError as fault:
        raise AthleteFileError(
            f"cannot be written ({fault.strerror}); what stood in it before is untouched.",
            file=str(path),
            hint="Choose a folder that you may write to, or end the other `steadyband label`.",
        ) from fault


def _remove(path: Path, label: SessionLabel) -> bool:
    before = path.read_bytes() if path.exists() else b""
    if not before.strip():
        return False
    row = re.escape(_encoded(label, before, path))
    found = [match for match in re.finditer(rb"(?<=\n)" + row + rb"(?:\r?\n|$)", before) if match.start()]
    if not found:
        return False
    replace_atomically(path, before[: found[-1].start()] + before[found[-1].end() :])
    return True


def _append(path: Path, label: SessionLabel) -> None:
    read_labels(path)
    before = path.read_bytes() if path.exists() else b""
    end = b"\r\n" if b"\r\n" in before else b"\n"
    if not before.strip():
        before = ",".join(COLUMNS).encode() + end
    joint = b"" if before.endswith((b"\n", b"\r")) else end
    replace_atomically(path, before + joint + _encoded(label, before, path) + end)


def _encoded(label: SessionLabel, before: bytes, path: Path) -> bytes:
    """The row as bytes, by the columns and in the letters of what stands in the file."""
    encoding = encoding_of(before)
    text = before.decode(encoding).replace("\r\n", "\n").replace("\r", "\n")
    columns = column_names(text)
    missing = [name for name in ("time", "intent") if name not in columns]
    if missing:
        why = "so that two sessions of one day can be told apart" if missing[0] == "time" else "for what it was for"
        raise AthleteFileError(
            f"expected a column {missing[0]}, {why}; found none.",
            file=str(path),
            hint="Add it to the first line, and an empty cell to each row.",
        )
    row = _row(label, columns, delimiter_of(text))
    try:
        return row.encode("utf-8" if encoding == "utf-8-sig" else encoding)
    except UnicodeEncodeError as fault:
        raise AthleteFileError(
            f"is no UTF-8 text, and {shown(row)} cannot be written in its letters.",
            file=str(path),
            hint="Save it as UTF-8.",
        ) from fault


def _row(label: SessionLabel, columns: Sequence[str], delimiter: str) -> str:
    cells = {
        "date": label.date.isoformat(),
        "time": label.time or "",
        "intent": label.intent,
        "sport": label.sport or "",
        "note": label.note,
    }
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="", delimiter=delimiter).writerow(
        [defused(cells.get(name, "")) for name in columns]
    )
    return text.getvalue()
