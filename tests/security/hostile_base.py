"""What a hostile input is, and the harmless athlete folder that it is put into."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from steadyband.recording.fit.crc import crc16

FIT_EPOCH = 631_065_600
T0 = 1_778_400_000 - FIT_EPOCH
"""2026-05-10T08:00:00Z in FIT seconds (by hand: Unix 1 778 400 000)."""

GOOD_TEST = """date = 2026-04-20
sport = "cycling"
load_unit = "W"
mass_kg = 74.0
step_minutes = 10
baseline = [1.1]
""" + "".join(
    f"\n[[step]]\nload = {load}\nhr_max = {heart}\nsamples = [{{minute = 5, lactate = {early}}}, {{minute = 10, lactate = {late}}}]\n"
    for load, heart, early, late in [
        (120, 104, 1.0, 1.0),
        (140, 110, 1.0, 1.1),
        (160, 114, 1.1, 1.0),
        (180, 118, 1.1, 1.2),
        (200, 124, 1.5, 1.6),
        (220, 132, 2.3, 2.5),
    ]
)
GOOD_ATHLETE = 'name = "A. Rider"\ntime_zone = "Europe/Lisbon"\n'


@dataclass(frozen=True, slots=True)
class Hostile:
    """One input: `make(home)` puts it into a harmless athlete folder; `command` is run there and must end as told.

    `said` is a pattern for what is printed on both streams together. `needs` says on which systems it can be made.
    """

    name: str
    make: Callable[[Path], object]
    command: tuple[str, ...]
    said: str
    status: int
    needs: Callable[[], bool] = lambda: True

    def possible(self) -> bool:
        """Whether this system can hold it at all (pipes, devices, odd names)."""
        return self.needs()

    def write(self, home: Path) -> None:
        """The harmless folder with the hostile input in it."""
        write_home(home)
        self.make(home)


def write_home(home: Path) -> None:
    """An athlete folder with one test and one ride of ten minutes."""
    for name in ("tests", "activities", "reports"):
        (home / name).mkdir(parents=True)
    (home / "athlete.toml").write_text(GOOD_ATHLETE, encoding="utf-8")
    (home / "tests" / "good.toml").write_text(GOOD_TEST, encoding="utf-8")
    (home / "activities" / "good.fit").write_bytes(ride())


def recording(
    name: str, data: bytes | Callable[[], bytes], said: str, status: int = 1, file: str = "bad.fit"
) -> Hostile:
    """A recording, or what makes it, in the activities folder; the good ride beside it must still be audited."""
    command = ("audit", "activities", "--tests", "tests", "--format", "json")

    def make(home: Path) -> None:
        (home / "activities" / file).write_bytes(data() if callable(data) else data)

    return Hostile(name, make, command, said, status)


def step_test(name: str, data: bytes | str, said: str, status: int = 2, file: str = "bad.toml") -> Hostile:
    """A step test in the tests folder."""
    raw = data.encode() if isinstance(data, str) else data
    return Hostile(
        name, lambda home: (home / "tests" / file).write_bytes(raw), ("zones", f"tests/{file}"), said, status
    )


def home_file(name: str, file: str, data: bytes | str, said: str, status: int = 2) -> Hostile:
    """A file of the athlete folder itself, read by the week's review."""
    raw = data.encode() if isinstance(data, str) else data
    return Hostile(name, lambda home: (home / file).write_bytes(raw), ("week", "."), said, status)


def definition(
    local: int, num: int, *fields: tuple[int, int, int], developer: tuple[tuple[int, int, int], ...] = ()
) -> bytes:
    """A FIT definition message; fields are (number, size, base type), developer fields (number, size, index)."""
    head = struct.pack("<BBBHB", 0x40 | (0x20 if developer else 0) | local, 0, 0, num, len(fields))
    body = head + b"".join(bytes(field) for field in fields)
    return body + bytes([len(developer)]) + b"".join(bytes(field) for field in developer) if developer else body


def fit(*messages: bytes, size: int | None = None, header: int = 14, checksum: int | None = None) -> bytes:
    """A FIT file: 14-byte header, messages, checksum; size and checksum may lie."""
    body = b"".join(messages)
    head = struct.pack("<BBHI4s", header, 0x20, 2132, len(body) if size is None else size, b".FIT") + b"\0\0"
    whole = head + body
    return whole + struct.pack("<H", crc16(whole) if checksum is None else checksum)


FILE_ID = definition(0, 0, (0, 1, 0), (1, 2, 0x84)) + b"\0\x04\xff\x00"
RECORD = definition(1, 20, (253, 4, 0x86), (7, 2, 0x84), (3, 1, 2))


def records(count: int, start: int = T0, power: int = 170, heart: int = 115) -> bytes:
    """Records of local type 1, one a second."""
    return b"".join(b"\x01" + struct.pack("<IHB", start + i, power, heart) for i in range(count))


def ended(start: int, seconds: int, sport: int = 2) -> bytes:
    """A session message of local type 2."""
    shape = definition(2, 18, (253, 4, 0x86), (2, 4, 0x86), (7, 4, 0x86), (5, 1, 0))
    return shape + b"\x02" + struct.pack("<IIIB", start + seconds, start, seconds * 1000, sport)


def ride(seconds: int = 600, start: int = T0) -> bytes:
    """A harmless ride at 170 W."""
    return fit(FILE_ID, RECORD, records(seconds, start), ended(start, seconds - 1))
