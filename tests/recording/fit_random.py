"""Random but valid FIT streams, for comparing readers. A writer for tests only, from the protocol (SOURCES S9).

Everything is drawn from a `random.Random`, so hypothesis can drive and shrink it and a long run can be seeded.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from random import Random

from fitdecode import profile
from fitdecode.types import BASE_TYPES
from fitdecode.utils import compute_crc

NEEDED_NUMS = (20, 20, 20, 20, 19, 18, 21, 0, 12, 26, 23, 34)
OTHER_NUMS = (22, 49, 101, 104, 141, 216, 65280)
_SIZES = {num: base.size for num, base in BASE_TYPES.items()}
_ADDING = frozenset({8, 18, 28})
"""Record fields whose values add up over the messages: twice in one message is an odd choice."""
_PLAIN_BASES = tuple(num for num in BASE_TYPES if num not in (0x07, 0x0D))


@dataclass
class Defined:
    """A definition in force: the fields' (number, size, base type, developer index or None)."""

    num: int
    big: bool
    fields: list[tuple[int, int, int, int | None]]


@dataclass
class Writer:
    """The body of one FIT file while it grows; `odd` is the chance of each unusual choice."""

    rng: Random
    odd: float
    body: bytearray = field(default_factory=bytearray)
    local: dict[int, Defined] = field(default_factory=dict)
    described: dict[tuple[int, int], int] = field(default_factory=dict)
    clock: int = 900_000_000

    def oddly(self) -> bool:
        return self.rng.random() < self.odd

    def definition(self) -> None:
        rng = self.rng
        num = rng.choice(NEEDED_NUMS if rng.random() < 0.8 else OTHER_NUMS)
        fields: list[tuple[int, int, int, int | None]] = [self._field(num) for _ in range(rng.randint(0, 7))]
        if not self.oddly():
            fields = list(
                {
                    number if number in _ADDING else i: (number, *rest)
                    for i, (number, *rest) in enumerate(fields, 1000)
                }.values()
            )
        if rng.random() < 0.8:
            fields.insert(rng.randint(0, len(fields)), (253, 4, 0x86, None))
        developer = self._developer_fields() if rng.random() < 0.3 else []
        self.define(rng.randint(0, 15) if rng.random() < 0.3 else rng.randint(0, 3), num, fields, developer)

    def define(
        self,
        local: int,
        num: int,
        fields: list[tuple[int, int, int, int | None]],
        developer: list[tuple[int, int, int, int | None]],
    ) -> None:
        big = self.rng.random() < 0.3
        self.local[local] = Defined(num, big, [*fields, *developer])
        self.body += bytes([0x40 | (0x20 if developer else 0) | local, 0, int(big)])
        self.body += struct.pack(">HB" if big else "<HB", num, len(fields))
        for number, size, base, _ in fields:
            self.body += bytes([number, size, base])
        if developer:
            self.body.append(len(developer))
            for number, size, _, index in developer:
                self.body += bytes([number, size, index or 0])

    def _field(self, num: int) -> tuple[int, int, int, None]:
        rng = self.rng
        message = profile.MESSAGE_TYPES.get(num)
        known = [f for f in message.fields.values() if f.def_num != 253] if message else []
        if known and not self.oddly():
            chosen = rng.choice(known)
            base = chosen.base_type.identifier
            many = rng.random() < 0.1 and not (chosen.components or chosen.subfields)
            return chosen.def_num, self._size(base, many or base == 0x0D), base, None
        base = rng.choice((*_PLAIN_BASES, 0x07, 0x0D, 0x42))
        size = self._size(base, rng.random() < 0.3)
        if self.oddly():
            size = rng.randint(0, 9)
        return rng.randint(0, 252) if self.oddly() or not known else rng.choice(known).def_num, size, base, None

    def _size(self, base: int, many: bool) -> int:
        if base == 0x07:
            return self.rng.randint(1, 12)
        return _SIZES.get(base, 1) * (self.rng.randint(1, 4) if many else 1)

    def _developer_fields(self) -> list[tuple[int, int, int, int | None]]:
        fields: list[tuple[int, int, int, int | None]] = []
        for _ in range(self.rng.randint(1, 3)):
            if self.described and not self.oddly():
                index, number = self.rng.choice(sorted(self.described))
                base = self.described[index, number]
            else:
                index, number, base = self.rng.randint(0, 3), self.rng.randint(0, 5), 0x0D
            size = self._size(base, self.rng.random() < 0.2)
            fields.append((number, self.rng.randint(0, 9) if self.oddly() else size, base, index))
        return fields

    def description(self) -> None:
        rng = self.rng
        index, number = rng.randint(0, 2), rng.randint(0, 5)
        base = rng.choice(_PLAIN_BASES if rng.random() < 0.8 else (0x07, 0x0D))
        local = rng.randint(0, 15)
        self.define(local, 207, [(1, 16, 0x0D, None), (3, 1, 0x02, None)], [])
        if rng.random() < 0.7:
            self.body += bytes([local]) + bytes(16) + bytes([index])
            self.described = {key: value for key, value in self.described.items() if key[0] != index}
        self.define(
            local,
            206,
            [(0, 1, 2, None), (1, 1, 2, None), (2, 1, 2, None), (3, 8, 7, None), (8, 4, 7, None), (15, 1, 2, None)],
            [],
        )
        if rng.random() < 0.95 and (
            self.oddly() or any(key[0] == index for key in self.described) or rng.random() < 0.9
        ):
            name = rng.choice((b"Power", b"speed", b"a b", b""))
            unit = rng.choice((b"w", b"m/s", b""))
            native = rng.choice((7, 6, 255))
            self.body += struct.pack("<4B8s4sB", local, index, number, base, name, unit, native)
            self.described[index, number] = base
        del self.local[local]

    def data(self) -> None:
        rng = self.rng
        if not self.local:
            return
        local = rng.choice(sorted(self.local))
        run = rng.randint(1, 40) if rng.random() < 0.2 else 1
        compressed = local < 4 and rng.random() < 0.3
        for _ in range(run):
            if compressed:
                head = 0x80 | local << 5 | rng.randint(0, 31)
            else:
                head = local | (rng.choice((0x10, 0x20, 0x30)) if rng.random() < 0.03 else 0)
            self.body.append(head)
            self.body += self._values(self.local[local])

    def _values(self, defined: Defined) -> bytes:
        return b"".join(self._value(entry, defined) for entry in defined.fields)

    def _value(self, entry: tuple[int, int, int, int | None], defined: Defined) -> bytes:
        number, size, base, index = entry
        rng = self.rng
        if index is not None:
            size = size // _SIZES[base] * _SIZES[base]
        elif number == 253 and size == 4 and rng.random() < 0.95:
            self.clock += rng.choice((0, 1, 1, 1, 2, 40, -3))
            return self.clock.to_bytes(4, "big" if defined.big else "little")
        kind = rng.random()
        if kind < 0.15:
            return b"\xff" * size
        if kind < 0.25:
            return bytes(size)
        if kind < 0.3 and size:
            return (b"\x7f" + b"\xff" * (size - 1)) if defined.big else (b"\xff" * (size - 1) + b"\x7f")
        if kind < 0.6 and size:
            small = rng.randint(0, 60)
            return small.to_bytes(size, "big" if defined.big else "little")
        if base == 0x07:
            return rng.choice((b"abc", "é".encode(), b"\xff\xfe", b"")).ljust(size, b"\0")[:size]
        return rng.randbytes(size)


def random_file(rng: Random, odd: float, steps: int) -> bytes:
    """One FIT file: header, up to `steps` definitions, descriptions and (runs of) data messages, checksum."""
    writer = Writer(rng, odd)
    for _ in range(rng.randint(1, steps)):
        kind = rng.random()
        if kind < 0.2 or not writer.local:
            writer.definition()
        elif kind < 0.26:
            writer.description()
        else:
            writer.data()
    return framed(bytes(writer.body), rng)


def framed(body: bytes, rng: Random) -> bytes:
    """A body with header and checksum; headers of 12 bytes, or of 14 with their own checksum or none."""
    head = struct.pack("<2BHI4s", rng.choice((12, 14)), 0x20, 2100, len(body), b".FIT")
    if head[0] == 14:
        head += struct.pack("<H", compute_crc(head) if rng.random() < 0.7 else 0)
    whole = head + body
    return whole + struct.pack("<H", compute_crc(whole))


def random_stream(rng: Random, odd: float = 0.05, steps: int = 25) -> bytes:
    """One to three chained FIT files."""
    return b"".join(random_file(rng, odd, steps) for _ in range(rng.choice((1, 1, 1, 2, 3))))


def mutated(rng: Random, data: bytes) -> bytes:
    """The bytes with a few of them changed, cut out, put in twice, or the end cut off."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(out)) if out else 0
        kind = rng.random()
        if kind < 0.55 and out:
            out[at] = rng.choice((rng.randrange(256), out[at] ^ (1 << rng.randrange(8)), 0, 255, 0x40, 0x80))
        elif kind < 0.7:
            del out[at : at + rng.randint(1, 8)]
        elif kind < 0.85:
            out[at:at] = out[at : at + rng.randint(1, 30)]
        elif kind < 0.95:
            out[at:at] = rng.randbytes(rng.randint(1, 5))
        else:
            del out[at:]
    return bytes(out)
