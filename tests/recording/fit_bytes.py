"""Small FIT files built byte by byte after the published protocol (SOURCES S9), so that no decoder had a hand in them."""

from __future__ import annotations

import struct
from collections.abc import Sequence

from garmin_fit_sdk import CrcCalculator

T0 = 1_000_000_000
"""A date_time in FIT seconds: 2021-09-08T01:46:40Z is 1 631 065 600 in Unix seconds (by hand: + 631 065 600)."""
UNIX0 = 1_631_065_600

ENUM, SINT8, UINT8, UINT16, SINT32, UINT32, STRING = 0x00, 0x01, 0x02, 0x84, 0x85, 0x86, 0x07
_CODES = {ENUM: "B", SINT8: "b", UINT8: "B", UINT16: "H", SINT32: "i", UINT32: "I"}

FILE_ID, SESSION, LAP, RECORD, EVENT, WORKOUT, DEVELOPER_ID, DESCRIPTION = 0, 18, 19, 20, 21, 26, 207, 206
ACTIVITY, SETTINGS, COURSE = 4, 2, 6
RUNNING, CYCLING = 1, 2
TIMER, START, STOP = 0, 0, 1

Field = tuple[int, int, int | str | None]
"""Field number, base type, value (None writes the invalid value)."""

_INVALID = {ENUM: 0xFF, SINT8: 0x7F, UINT8: 0xFF, UINT16: 0xFFFF, SINT32: 0x7FFFFFFF, UINT32: 0xFFFFFFFF}


def _packed(base: int, value: int | str | None) -> bytes:
    if base == STRING:
        return str(value).encode() + b"\x00"
    return struct.pack("<" + _CODES[base], _INVALID[base] if value is None else value)


def message(number: int, *fields: Field, developer: Sequence[tuple[int, int, bytes]] = ()) -> bytes:
    """A definition and one data message of local type 0; `developer` fields are (number, index, bytes)."""
    bodies = [_packed(base, value) for _, base, value in fields]
    head = struct.pack("<BBBHB", 0x40 | (0x20 if developer else 0), 0, 0, number, len(fields))
    for (field, base, _), body in zip(fields, bodies, strict=True):
        head += struct.pack("<BBB", field, len(body), base)
    if developer:
        head += bytes([len(developer)]) + b"".join(bytes([n, len(b), index]) for n, index, b in developer)
    return head + b"\x00" + b"".join(bodies) + b"".join(body for _, _, body in developer)


def fit_file(*messages: bytes, size: int | None = None) -> bytes:
    """A whole file: 14-byte header, messages, checksum (by garmin-fit-sdk)."""
    body = b"".join(messages)
    header = struct.pack("<BBHI4s", 14, 0x20, 2132, len(body) if size is None else size, b".FIT") + b"\x00\x00"
    whole = header + body
    return whole + struct.pack("<H", CrcCalculator.calculate_crc(whole, 0, len(whole)))


def file_id(kind: int = ACTIVITY, created: int | None = T0) -> bytes:
    return message(FILE_ID, (0, ENUM, kind), (1, UINT16, 255), (4, UINT32, created))


def record(at: int | None, power: int | None = None, heart_rate: int | None = None, *more: Field) -> bytes:
    return message(RECORD, (253, UINT32, at), (7, UINT16, power), (3, UINT8, heart_rate), *more)


def session(start: int, elapsed_s: int, sport: int, end: int | None = None) -> bytes:
    written = start + elapsed_s if end is None else end
    times = ((253, UINT32, written), (2, UINT32, start), (7, UINT32, elapsed_s * 1000))
    return message(SESSION, *times, (5, ENUM, sport))


def timer(at: int, what: int) -> bytes:
    return message(EVENT, (253, UINT32, at), (0, ENUM, TIMER), (1, ENUM, what))


def ride(seconds: int = 30) -> bytes:
    """A plain ride: one record a second with 200 W and heart rate 130, and its session."""
    records = [record(T0 + i, 200, 130) for i in range(seconds)]
    return fit_file(file_id(), *records, session(T0, seconds - 1, CYCLING))
