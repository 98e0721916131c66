"""What fitdecode gives for FIT bytes, and what the columnar reader gives, in one comparable form."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import fitdecode
import numpy as np

from steadyband.recording.fit.columns import Columns, FitFile, read_columns
from steadyband.recording.fit.profile import NEEDED
from steadyband.recording.fit.table import Table

Pairs = list[tuple[str | None, Any]]


@dataclass
class File:
    """One chained file: checksums, and per kind of needed message its (field name, value) pairs, in file order."""

    header_fits: bool | None
    footer: tuple[int, bool] | None = None
    messages: dict[str, list[Pairs]] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)


@dataclass
class Result:
    """All files, where the reading ended, and the error it ended with."""

    files: list[File]
    end: int
    ending: tuple[type, str] | None


def text_of(result: Result) -> str:
    """All of a result as text, the same for the same values to the last bit (NaN included), kinds in order of name."""
    files = [(f.header_fits, f.footer, sorted(f.messages.items()), sorted(f.counts.items())) for f in result.files]
    return repr((files, result.end, result.ending))


def by_fitdecode(data: bytes) -> Result:
    """Reference: fitdecode 0.11 FitReader(data, processor=None, IGNORE, READONLY), frame by frame."""
    result = Result([], 0, None)
    options = {
        "check_crc": fitdecode.CrcCheck.READONLY,
        "error_handling": fitdecode.ErrorHandling.IGNORE,
        "keep_raw_chunks": True,
    }
    with fitdecode.FitReader(data, processor=None, **options) as reader:
        frames = iter(reader)
        while True:
            try:
                frame = next(frames)
            except StopIteration:
                return result
            except Exception as exc:  # noqa: BLE001 (whatever fitdecode raises is the reference)
                result.ending = (type(exc), _said(exc))
                return result
            result.end = frame.chunk.offset + len(frame.chunk.bytes)
            _take(result, frame)


def _said(exc: Exception) -> str:
    """The message of an error, but for byte counts that depend on how much is read at once."""
    return "" if isinstance(exc, fitdecode.FitEOFError | fitdecode.FitHeaderError) else str(exc)


def _take(result: Result, frame: Any) -> None:
    if frame.frame_type == fitdecode.FIT_FRAME_HEADER:
        result.files.append(File(frame.crc_matched))
    elif frame.frame_type == fitdecode.FIT_FRAME_CRC:
        result.files[-1].footer = (frame.chunk.offset, frame.matched)
    elif frame.frame_type == fitdecode.FIT_FRAME_DATA:
        file = result.files[-1]
        file.counts[frame.name] = file.counts.get(frame.name, 0) + 1
        if frame.name in NEEDED:
            pairs = [(item.name, item.value) for item in frame.fields]
            file.messages.setdefault(frame.name, []).append(pairs)


def by_columns(data: bytes) -> Result:
    """The reader under test, taken apart message by message."""
    return _result(read_columns(data))


def _result(columns: Columns) -> Result:
    ending = columns.ending
    files = [_file(file) for file in columns.files]
    return Result(files, columns.end, None if ending is None else (type(ending), _said(ending)))


def _file(file: FitFile) -> File:
    footer = None if file.footer_at is None or file.footer_fits is None else (file.footer_at, file.footer_fits)
    messages = {name: _messages(table) for name, table in file.tables.items()}
    return File(file.header_fits, footer, messages, dict(file.counts))


def _messages(table: Table) -> list[Pairs]:
    whole: list[Pairs] = [[] for _ in range(len(table))]
    for block, rows in zip(table.blocks, table.rows, strict=True):
        for emission in table.emissions(block):
            present = table.present(block, emission)
            there = np.ones(len(block), dtype=bool) if present is None else present
            for row, value, is_there in zip(rows, table.block_values(block, emission), there, strict=True):
                if is_there:
                    whole[row].append((emission.name, value))
    return whole
