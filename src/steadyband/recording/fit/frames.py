"""FIT bytes to records and plain tables, by columns or through fitdecode: what each message says, and where damage begins."""

from __future__ import annotations

import math
import struct
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import fitdecode
import numpy as np

from steadyband.ground.units import FIT_EPOCH_UNIX_S
from steadyband.recording.fit.columns import FitFile, read_columns
from steadyband.recording.fit.parts import Records, file_id_of, messages_of, records_of
from steadyband.recording.fit.profile import Emission
from steadyband.recording.limits import (
    OTHERS_MAX,
    PARTS_MAX,
    RECORDS_MAX,
    SLOW_MESSAGES_MAX,
    check_count,
    check_time,
)
from steadyband.recording.model import FloatArray
from steadyband.recording.not_covered import NotCovered

SEMICIRCLES_TO_DEG = 180.0 / 2**31
"""FIT positions in degrees (SOURCES S9)."""

_RAISED = (
    fitdecode.FitError,
    struct.error,
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
)
"""What fitdecode 0.11 raises on damaged bytes: its own errors, and by its source struct.error (a header of odd
length), KeyError and IndexError (undefined base types and components), TypeError and AttributeError (arrays and texts
where numbers belong), ValueError (fields of no length), AssertionError (messages past the end), OverflowError."""

_RECORD_FIELDS = frozenset(
    {
        "timestamp",
        "power",
        "heart_rate",
        "cadence",
        "speed",
        "enhanced_speed",
        "distance",
        "altitude",
        "enhanced_altitude",
        "position_lat",
        "position_long",
        "temperature",
    }
)
_DEVELOPER = {7: ("power", {"w", "watt", "watts"}), 6: ("speed", {"m/s", "mps", "m*s^-1", "meters/second"})}
_DEVELOPER_COLUMNS = tuple(f"developer_{name}" for name, _ in _DEVELOPER.values())
_KEPT = ("session", "lap", "event", "sport", "workout", "device_info")


@dataclass(slots=True)
class Part:
    """One of the FIT files chained in a stream: its records as columns, its other messages as name-to-value tables."""

    file_id: Mapping[str, Any] = field(default_factory=dict)
    records: Records = field(default_factory=Records)
    messages: dict[str, list[Mapping[str, Any]]] = field(default_factory=lambda: {name: [] for name in _KEPT})
    heart_beats: int = 0


@dataclass(slots=True)
class Stream:
    """All parts of a stream and one sentence on each damage; `fallback` says why fitdecode read it, if it did."""

    parts: list[Part] = field(default_factory=list)
    damage: list[str] = field(default_factory=list)
    fallback: str | None = None


def number(value: object) -> float:
    """A finite number as float; NaN for anything else (text, arrays, none)."""
    if not isinstance(value, int | float):
        return math.nan
    return float(value) if math.isfinite(value) else math.nan


def unix(value: object) -> float:
    """FIT date_time (seconds since 1989-12-31T00:00:00Z, SOURCES S9) -> Unix seconds; NaN where it is no uint32."""
    seconds = number(value)
    return seconds + FIT_EPOCH_UNIX_S if 0 <= seconds < 2**32 else math.nan


def unix_column(values: FloatArray) -> FloatArray:
    """FIT date_times [n] -> Unix seconds [n]; NaN where they are no uint32."""
    return np.where((values >= 0) & (values < 2**32), values + FIT_EPOCH_UNIX_S, np.nan)


def read_stream(data: bytes) -> Stream:
    """Every part of a FIT stream up to its end or the first damage.

    Raises RecordingError where it holds more than a recording may (`limits`), and nothing else on any bytes. By columns; what those do not cover is read through fitdecode, with the same result.
    """
    data, unclosed = _closed(data)
    try:
        stream = by_columns(data)
    except NotCovered as reason:
        stream = by_fitdecode(data)
        stream.fallback = str(reason)
    if unclosed:
        stream.damage.insert(0, "the file was never closed by the device (its header says 0 bytes of data)")
    return stream


def by_columns(data: bytes) -> Stream:
    """The same as `by_fitdecode`, many times faster. Raises NotCovered."""
    columns = read_columns(data)
    _check_counts(columns.files)
    stream = Stream([_part(file) for file in columns.files])
    for file in columns.files:
        _check(stream, file.header_fits, file.header_at, "header")
        _check(stream, file.footer_fits, file.footer_at, "file")
    if columns.ending:
        stream.damage.append(_sentence(columns.ending, columns.end, len(data)))
    return stream


def _check_counts(files: Sequence[FitFile]) -> None:
    for name, limit in (("record", RECORDS_MAX), *((name, OTHERS_MAX) for name in _KEPT)):
        check_count(sum(file.counts.get(name, 0) for file in files), limit, f"messages of the kind {name}")


def _part(file: FitFile) -> Part:
    check_time()
    return Part(
        file_id=file_id_of(file),
        records=records_of(file, _RECORD_FIELDS, _declared, _DEVELOPER_COLUMNS),
        messages={name: messages_of(file, name) for name in _KEPT},
        heart_beats=file.counts.get("hr", 0),
    )


def _declared(emission: Emission) -> str | None:
    return _developer_name(emission.field, emission.units)


def by_fitdecode(data: bytes) -> Stream:
    """Every part of a FIT stream through fitdecode, the reference."""
    stream = Stream()
    rows: list[list[dict[str, float]]] = []
    lists: list[Counter[str]] = []
    for number, frame in enumerate(_frames(data, stream)):
        check_time()
        check_count(number, SLOW_MESSAGES_MAX, "messages of a kind that only the slower library reads")
        if frame.frame_type == fitdecode.FIT_FRAME_HEADER:
            check_count(len(stream.parts), PARTS_MAX, "files, one after the other,")
            stream.parts.append(Part())
            rows.append([])
            lists.append(Counter())
            _check(stream, frame.crc_matched, frame.chunk.offset, "header")
        elif frame.frame_type == fitdecode.FIT_FRAME_CRC:
            _check(stream, frame.matched, frame.chunk.offset, "file")
        elif frame.frame_type == fitdecode.FIT_FRAME_DATA and frame.name == "record":
            rows[-1].append(_record(frame))
            lists[-1].update(_lists(frame))
        elif frame.frame_type == fitdecode.FIT_FRAME_DATA:
            _take(stream.parts[-1], frame)
    for part, records, counted in zip(stream.parts, rows, lists, strict=True):
        part.records = Records.of_rows(records, counted)
    return stream


def _closed(data: bytes) -> tuple[bytes, bool]:
    """Fill in the data size of a header that says 0 though data follows (a device that lost its power)."""
    header = data[0]
    body = len(data) - header
    if data[4:8] != bytes(4) or body <= 2 or data[header + 10 : header + 14] == b".FIT":
        return data, False
    return data[:4] + struct.pack("<I", body) + data[8:], True


def _frames(data: bytes, stream: Stream) -> Iterator[Any]:
    end = 0
    options = {"check_crc": fitdecode.CrcCheck.READONLY, "error_handling": fitdecode.ErrorHandling.IGNORE}
    with fitdecode.FitReader(data, processor=None, keep_raw_chunks=True, **options) as reader:  # type: ignore[no-untyped-call]
        frames = iter(reader)
        while True:
            try:
                frame = next(frames)
            except StopIteration:
                return
            except _RAISED as exc:
                stream.damage.append(_sentence(exc, end, len(data)))
                return
            end = frame.chunk.offset + len(frame.chunk.bytes)
            yield frame


def _sentence(exc: Exception, end: int, size: int) -> str:
    if isinstance(exc, fitdecode.FitEOFError):
        return f"the file is cut short: its data end at byte {size}, inside what begins at byte {end}"
    if isinstance(exc, fitdecode.FitHeaderError):
        return f"from byte {end} on, {size - end} bytes are no FIT data"
    return f"the data from byte {end} on cannot be decoded ({type(exc).__name__}: {exc})"


def _check(stream: Stream, matched: bool | None, at: int | None, what: str) -> None:
    if matched is False:
        stream.damage.append(f"the {what} checksum at byte {at} does not fit: some values may be wrong")


def _take(part: Part, message: Any) -> None:
    name = message.name
    if name == "file_id":
        part.file_id = part.file_id or _table(message)
    elif name == "hr":
        part.heart_beats += 1
    elif name in part.messages:
        part.messages[name].append(_table(message))


def _table(message: Any) -> dict[str, Any]:
    return {item.name: item.value for item in message.fields if item.value is not None}


def _record(message: Any) -> dict[str, float]:
    """Numbers of one record by field name; a field of the file wins over the one expanded from another."""
    found: dict[str, float] = {}
    for item in message.fields:
        definition = item.field_def
        if definition is not None and definition.is_dev:
            name = _developer_name(item.field, item.units)
        else:
            name = item.field.name if item.field else None
            if name not in _RECORD_FIELDS or (definition is None and name in found):
                continue
        value = number(item.value)
        if name and value == value:
            found[name] = value
    return found


def _lists(message: Any) -> list[str]:
    """Names of the fields of one record that hold lists of numbers."""
    own = [item for item in message.fields if item.field_def is not None and not item.field_def.is_dev and item.field]
    return [item.field.name for item in own if item.field.name in _RECORD_FIELDS and isinstance(item.value, tuple)]


def _developer_name(declared: Any, unit: object) -> str | None:
    """`developer_power` or `developer_speed` where the field declares it by native number, or by name and unit."""
    label = declared.name.strip().lower() if isinstance(declared.name, str) else ""
    units = unit.strip().lower() if isinstance(unit, str) else ""
    for num, (name, known) in _DEVELOPER.items():
        native = declared.native_field_num == num and (not units or units in known)
        if native or (label == name and units in known):
            return f"developer_{name}"
    return None
