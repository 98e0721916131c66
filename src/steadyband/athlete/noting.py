"""Notes added from outside a text editor: a row more in sessions.csv or weeks.csv; all that stood there stays byte for byte."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.csv_file import delimiter_of, encoding_of
from steadyband.athlete.files import replace_atomically
from steadyband.athlete.labelling import LABEL_WAIT_S, Answer, append_label, label_of
from steadyband.athlete.model import SessionLabel
from steadyband.athlete.own_words import WEEK_COLUMNS, read_week_notes
from steadyband.ground.cells import defused
from steadyband.ground.errors import AthleteFileError, UsageError
from steadyband.ground.locking import held
from steadyband.ground.plain import shown

NOTE_MAX = 2000
"""Longest note [characters]."""


def note_session(path: Path, item: Condensed, text: str) -> SessionLabel:
    """Add a note on a session to sessions.csv, with its day and time and no intent; the row as added.

    Raises UsageError where there is no text or too much, AthleteFileError as `append_label`.
    """
    row = label_of(item, Answer("intent", "", _checked(text)))
    append_label(path, row)
    return row


def note_week(path: Path, week: str, text: str) -> None:
    """Add a note on a week ("2026-W20") to weeks.csv, made with its header if need be.

    Raises UsageError where there is no text or too much, AthleteFileError where the file is faulty or cannot be written.
    """
    note = _checked(text)
    try:
        with held(path, LABEL_WAIT_S):
            _append(path, week, note)
    except OSError as fault:
        raise AthleteFileError(
            f"cannot be written ({fault.strerror}); what stood in it before is untouched.", file=str(path)
        ) from fault


def _append(path: Path, week: str, note: str) -> None:
    read_week_notes(path)
    before = path.read_bytes() if path.exists() else b""
    end = b"\r\n" if b"\r\n" in before else b"\n"
    if not before.strip():
        before = ",".join(WEEK_COLUMNS).encode() + end
    encoding = encoding_of(before)
    told = before.decode(encoding)
    delimiter = delimiter_of(told)
    columns = [name.strip() for name in next(csv.reader(io.StringIO(told), delimiter=delimiter))]
    text = io.StringIO(newline="")
    cells = {"week": week, "note": defused(note)}
    csv.writer(text, lineterminator="", delimiter=delimiter).writerow([cells.get(name, "") for name in columns])
    joint = b"" if before.endswith((b"\n", b"\r")) else end
    try:
        added = text.getvalue().encode("utf-8" if encoding == "utf-8-sig" else encoding)
    except UnicodeEncodeError as fault:
        raise AthleteFileError(
            f"is no UTF-8 text, and {shown(note)} cannot be written in its letters.",
            file=str(path),
            hint="Save it as UTF-8.",
        ) from fault
    replace_atomically(path, before + joint + added + end)


def _checked(text: str) -> str:
    note = text.replace("\r\n", "\n").strip()
    if not note:
        raise UsageError("expected a note, found nothing.")
    if len(note) > NOTE_MAX:
        raise UsageError(f"expected a note of at most {NOTE_MAX:,} characters, found {len(note):,}.")
    return note
