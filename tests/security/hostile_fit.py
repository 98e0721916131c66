"""FIT files that lie about sizes, kinds, times and numbers."""

from __future__ import annotations

import math
import random
import struct

from hostile_base import FILE_ID, RECORD, T0, Hostile, definition, ended, fit, recording, records, ride


def case(name: str, data: bytes, said: str, status: int = 1) -> Hostile:
    return recording(f"fit-{name}", data, said, status)


_FLOATS = definition(1, 20, (253, 4, 0x86), (7, 4, 0x88), (3, 1, 2))
_PLACED = definition(1, 20, (253, 4, 0x86), (7, 2, 0x84), (0, 4, 0x85), (1, 4, 0x85))
_LAPS = definition(3, 19, (253, 4, 0x86), (2, 4, 0x86))
_DEV_ID = definition(4, 207, (3, 1, 2)) + b"\x04\x00"
_DEV_FIELD = definition(5, 206, (0, 1, 2), (1, 1, 2), (2, 1, 2), (3, 16, 7))
_AUDITED = r'"file": "bad\.fit"'


def _odd_power() -> bytes:
    values = [math.nan, math.inf, -math.inf, 1e38, -1e38, 1e-45, 0.0, 200.0] * 20
    return b"".join(b"\x01" + struct.pack("<IfB", T0 + i, value, 120) for i, value in enumerate(values))


def _places() -> bytes:
    corners = [(2**31 - 1, 2**31 - 1), (-(2**31), -(2**31)), (2**30, 2**31 - 2), (0, 0)] * 20
    return b"".join(b"\x01" + struct.pack("<IHii", T0 + i, 150, lat, lon) for i, (lat, lon) in enumerate(corners))


def _small_ride(number: int) -> bytes:
    start = T0 + number * 86_400
    return fit(FILE_ID, RECORD, records(3, start), ended(start, 2))


def _noise() -> bytes:
    rng = random.Random(5)
    return fit(FILE_ID, RECORD, records(100), rng.randbytes(60_000))


def _many_sessions(count: int) -> bytes:
    shape = definition(2, 18, (253, 4, 0x86), (2, 4, 0x86))
    spans = b"".join(b"\x02" + struct.pack("<II", T0 + i, T0 + i) for i in range(count))
    return fit(FILE_ID, RECORD, records(count), shape, spans)


def _tiny_messages(count: int) -> bytes:
    """Alternating messages of two bytes and of one: each must be looked at alone."""
    shapes = definition(2, 20, (3, 1, 2)) + definition(3, 21)
    return fit(FILE_ID, RECORD, records(5), shapes, b"\x02\x64\x03" * (count // 2), checksum=0)


def _long_text() -> bytes:
    shape = definition(3, 26, (8, 255, 7))
    return fit(FILE_ID, shape, b"\x03" + b"A" * 255, RECORD, records(60), ended(T0, 59))


FITS = (
    case("header-says-0", fit(FILE_ID, RECORD, records(300), ended(T0, 299), size=0), r"never closed by the device", 0),
    case("header-says-4-gib", fit(FILE_ID, RECORD, records(300), size=2**32 - 1), r"cut short", 0),
    case("header-says-less", fit(FILE_ID, RECORD, records(300), size=400), r"the data from byte 413 on cannot be decoded", 0),
    case("header-of-255-bytes", fit(FILE_ID, RECORD, records(300), header=255), r"bad\.fit: .+"),
    case("header-of-13-bytes", fit(FILE_ID, RECORD, records(300), header=13), r"bad\.fit: damaged before the first usable record"),
    case("header-alone", fit()[:14], r"bad\.fit: .*(no records|damaged)"),
    case("checksum-wrong", fit(FILE_ID, RECORD, records(300), ended(T0, 299), checksum=1), r"checksum at byte \d+ does not fit", 0),
    case("endless-definitions", fit(FILE_ID, RECORD, records(10), RECORD * 5_000, checksum=0), _AUDITED, 0),
    case("kinds-without-end", fit(FILE_ID, RECORD, records(10), b"".join(definition(3, 20 + i % 7, (i % 250, 1, 2), (i // 250, 1, 2)) for i in range(6_000)), checksum=0), _AUDITED, 0),
    case("255-fields", fit(FILE_ID, definition(1, 20, (253, 4, 0x86), *[(7, 2, 0x84)] * 254), b"".join(b"\x01" + struct.pack("<I", T0 + i) + b"\xaa\x00" * 254 for i in range(200)), checksum=0), _AUDITED, 0),
    case("fields-of-no-length", fit(FILE_ID, definition(1, 20, (253, 4, 0x86), (7, 0, 0x84)), b"\x01" + struct.pack("<I", T0)), r"bad\.fit: damaged before the first usable record"),
    case("timestamp-as-text", fit(FILE_ID, definition(1, 20, (253, 4, 7), (7, 2, 0x84)), b"\x01abcd\xaa\x00" * 50), r"bad\.fit: expected timed records"),
    case("timestamp-as-array", fit(FILE_ID, definition(1, 20, (253, 8, 0x86), (7, 2, 0x84)), (b"\x01" + struct.pack("<II", T0, T0) + b"\xaa\x00") * 50), r"bad\.fit: expected timed records"),
    case("unknown-base-types", fit(FILE_ID, definition(1, 20, (253, 4, 0x86), (7, 2, 0x5F), (3, 1, 0xFE)), b"".join(b"\x01" + struct.pack("<IHB", T0 + i, 170, 120) for i in range(60))), _AUDITED, 0),
    case("giant-developer-fields", fit(FILE_ID, _DEV_ID, _DEV_FIELD, b"\x05\x00\x00\x02" + b"power".ljust(16, b"\0"), definition(1, 20, (253, 4, 0x86), (7, 2, 0x84), developer=tuple((i, 255, 0) for i in range(60))), b"".join(b"\x01" + struct.pack("<IH", T0 + i, 170) + bytes(255 * 60) for i in range(120)), checksum=0), _AUDITED, 0),
    case("developer-undeclared", fit(FILE_ID, _DEV_FIELD, b"\x05\x09\x00\x02" + b"power".ljust(16, b"\0"), RECORD, records(60)), r"bad\.fit: .+"),
    case("developer-base-type-unknown", fit(FILE_ID, _DEV_ID, _DEV_FIELD, b"\x05\x00\x00\x6e" + b"power".ljust(16, b"\0"), RECORD, records(60), checksum=0), r"bad\.fit", 1),
    case("local-type-undefined", fit(FILE_ID, RECORD, records(60), b"\x0f\x00\x00"), r"cannot be decoded", 0),
    case("compressed-header-first", fit(FILE_ID, b"\xe5\x00\x00"), r"bad\.fit: damaged before the first usable record"),
    case("noise-after-the-start", _noise(), r"bad\.fit", 0),
    case("chained-other-days", b"".join(_small_ride(i) for i in range(20)), _AUDITED, 0),
    case("chained-without-end", b"".join(fit(FILE_ID) for _ in range(1_500)), r"bad\.fit: expected at most 1,000 files, one after the other, in one recording, found 1,001"),
    case("chained-sessions", b"".join(_small_ride(i) for i in range(210)), r"bad\.fit: expected at most 200 sessions in one recording, found 201"),
    case("sessions-without-end", _many_sessions(5_000), r"bad\.fit: expected at most 200 sessions in one recording, found 5,000"),
    case("laps-without-end", fit(FILE_ID, RECORD, records(60), _LAPS, (b"\x03" + struct.pack("<II", T0, T0)) * 100_001, checksum=0), r"bad\.fit: expected at most 100,000 messages of the kind lap in one recording, found 100,001"),
    case("tiny-messages", _tiny_messages(4_200_000), r"bad\.fit: expected at most 4,000,000 messages in one recording, found 4,"),
    case("records-without-end", fit(FILE_ID, RECORD, (b"\x01" + struct.pack("<IHB", T0, 170, 115)) * 2_000_001, checksum=0), r"bad\.fit: expected at most 2,000,000 messages of the kind record in one recording, found 2,000,001"),
    case("year-2106", fit(FILE_ID, RECORD, records(60, 2**32 - 100)), _AUDITED, 0),
    case("backwards", fit(FILE_ID, RECORD, b"".join(b"\x01" + struct.pack("<IHB", T0 + 600 - i, 170, 120) for i in range(600)), checksum=0), r"stood before an earlier one", 0),
    case("records-years-apart", fit(FILE_ID, RECORD, records(60), records(60, T0 + 10**9), ended(T0, 10**6)), _AUDITED, 0),
    case("one-instant", fit(FILE_ID, RECORD, (b"\x01" + struct.pack("<IHB", T0, 170, 115)) * 50_000, checksum=0), _AUDITED, 0),
    case("clock-never-set", fit(FILE_ID, RECORD, records(60, 5)), r"clock was not set", 0),
    case("power-nan-inf", fit(FILE_ID, _FLOATS, _odd_power()), _AUDITED, 0),
    case("positions-off-earth", fit(FILE_ID, _PLACED, _places()), _AUDITED, 0),
    case("power-65534", fit(FILE_ID, RECORD, records(120, power=65_534, heart=254)), _AUDITED, 0),
    case("text-without-an-end", _long_text(), _AUDITED, 0),
    case("a-workout", fit(definition(0, 0, (0, 1, 0)), b"\x00\x05", RECORD, records(10)), r"holds a planned workout"),
    case("empty", b"", r"bad\.fit: the file is empty"),
    case("renamed-program", b"MZ" + bytes(range(256)) * 40, r"without a FIT header"),
    case("ride-twice-in-a-row", ride() + ride(), _AUDITED, 0),
)  # fmt: skip
