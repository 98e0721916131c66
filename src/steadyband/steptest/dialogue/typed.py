"""What was typed, on disk: a journal of entries that survives being cut off, and the test's TOML file at the end."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyband.ground.errors import SteadybandError, TestFileError
from steadyband.ground.units import pace_text
from steadyband.ground.writing import make_private_folder
from steadyband.steptest.dialogue.draft import Draft, DraftStep, Event

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import Array, InlineTable, Table

SUFFIX = ".draft"


def journal_path(test_file: Path) -> Path:
    """Where the entries of a test that is not finished are kept: beside its file, with `.draft` behind the name.

    Readers of test folders go by suffix and pass it over.
    """
    return test_file.with_name(test_file.name + SUFFIX)


def append_event(path: Path, *events: Event) -> None:
    """Adds the entries of one line to the journal, all in one go, and returns once they are on the disk.

    Raises SteadybandError where it cannot be written.
    """
    lines = "".join(
        json.dumps({"kind": event.kind, "at_s": event.at_s, "data": dict(event.data)}, ensure_ascii=False) + "\n"
        for event in events
    )
    try:
        make_private_folder(path.parent)
        handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        with os.fdopen(handle, "ab") as file:
            file.write(lines.encode())
            file.flush()
            os.fsync(file.fileno())
    except OSError as fault:
        raise SteadybandError(
            f"expected to save the entry, but the system said: {fault.strerror or fault}.",
            file=str(path),
            hint="Write it on paper; make room or choose another folder, then start the same command again.",
        ) from fault


def read_journal(path: Path) -> tuple[Event, ...]:
    """All whole entries of a journal; a last line that was cut off while being written is taken off the file.

    Raises TestFileError where a line inside it is not an entry.
    """
    data = path.read_bytes()
    whole = data[: data.rfind(b"\n") + 1]
    if len(whole) < len(data):
        os.truncate(path, len(whole))
    return tuple(_event(line, path, number) for number, line in enumerate(whole.decode().splitlines(), 1))


def _event(line: str, path: Path, number: int) -> Event:
    try:
        entry = json.loads(line)
        return Event(str(entry["kind"]), float(entry["at_s"]), dict(entry["data"]))
    except (ValueError, KeyError, TypeError) as fault:
        raise TestFileError(
            f"expected an entry of `enter-test`, found {line[:60]!r}.",
            file=str(path),
            place=f"line {number}",
            hint="Take that line out, or move the draft away and begin again.",
        ) from fault


def draft_toml(draft: Draft) -> str:
    """The finished test as the text of its TOML file, ready for `load_test`; a last step without a sample is left out."""
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment("A step test, written by `steadyband enter-test`. It may be edited by hand."))
    _head(document, draft)
    steps = tomlkit.aot()
    for step in _sampled(draft.steps):
        steps.append(_step_table(step, draft))
    document.add("step", steps)
    return tomlkit.dumps(document)


def _sampled(steps: Iterable[DraftStep]) -> list[DraftStep]:
    return [step for step in steps if step.samples]


def _head(document: TOMLDocument, draft: Draft) -> None:
    answers = draft.answers
    document.add("date", date.fromisoformat(answers["date"]))
    values: dict[str, Any] = {
        "sport": draft.sport,
        "load_unit": draft.unit,
        "state": answers["state"],
        "mass_kg": answers.get("mass_kg"),
        "step_minutes": _short(draft.step_minutes),
        "baseline": [round(value, 3) for value in draft.baseline],
        "analyser": answers.get("analyser"),
        "meter": answers.get("meter"),
        "position": answers.get("position"),
        "note": answers.get("note"),
        "override": draft.override,
        "recording": answers.get("recording"),
    }
    for key, value in values.items():
        if value not in (None, ""):
            document.add(key, value)
    if answers.get("analyser_sd"):
        document.add("analyser_sd", _scatter(answers["analyser_sd"]))


def _scatter(own: Mapping[str, float]) -> InlineTable:
    import tomlkit

    table = tomlkit.inline_table()
    table.update({"floor": own["floor"], "fraction": own["fraction"]})
    return table


def _step_table(step: DraftStep, draft: Draft) -> Table:
    import tomlkit

    table = tomlkit.table()
    table.add("load", pace_text(step.load) if draft.unit.startswith("min/") else _short(step.load))
    if step.hr_max is not None:
        table.add("hr_max", _short(step.hr_max))
    if draft.sport != "cycling" and step.gait == "walk":
        table.add("gait", "walk")
    if step.incline:
        table.add("incline", _short(step.incline))
    if step.note:
        table.add("note", step.note)
    if step.start_s is not None:
        table.add("start", _short(step.start_s))
    table.add("samples", _samples(step))
    return table


def _samples(step: DraftStep) -> Array:
    import tomlkit

    array = tomlkit.array()
    for item in step.samples:
        entry = tomlkit.inline_table()
        minute = {} if item.minute is None else {"minute": _short(item.minute)}
        entry.update({**minute, "lactate": round(item.lactate, 3)})
        array.append(entry)
    return array


def _short(value: float) -> float | int:
    """The number as a person would type it: 10 instead of 10.0, 9.45 instead of 9.450000000000001."""
    rounded = round(float(value), 4)
    return int(rounded) if rounded == int(rounded) else rounded
