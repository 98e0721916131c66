"""Gzip and zip traps: bombs, lies about sizes, names that want out, locked members."""

from __future__ import annotations

import gzip
import io
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

from hostile_base import Hostile, recording, ride

_STAMP = (1980, 1, 1, 0, 0, 0)
_LINK = 0o120777 << 16
AUDIT = ("audit", "activities", "--tests", "tests", "--format", "json")


def packed(*members: tuple[str, bytes], method: int = zipfile.ZIP_DEFLATED, mode: int = 0o600 << 16) -> bytes:
    """A zip archive, the same bytes every time; a name may stand in it twice."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", method) as archive:
        for name, data in members:
            info = zipfile.ZipInfo(name, _STAMP)
            info.compress_type, info.external_attr = method, mode
            archive.writestr(info, data)
    return made.getvalue()


def case(name: str, data: bytes | Callable[[], bytes], said: str, status: int = 1, file: str = "bad.zip") -> Hostile:
    return recording(f"packed-{name}", data, said, status, file)


def squeezed(data: bytes) -> bytes:
    return gzip.compress(data, mtime=0)


def _zeros(mebibytes: int) -> bytes:
    """Gzip of so many MiB of zeros, made piece by piece."""
    made = zlib.compressobj(wbits=31)
    return b"".join(made.compress(bytes(2**20)) for _ in range(mebibytes)) + made.flush()


def _lying(said: int) -> bytes:
    """A member of 30 MiB that says it is smaller."""
    whole = packed(("a.fit", bytes(30 * 2**20)))
    return whole.replace(struct.pack("<I", 30 * 2**20), struct.pack("<I", said))


def _overlapping(times: int) -> bytes:
    """One member that the list at the end names many times, each under a name of its own."""
    one = packed(("a00000.fit", ride()))
    at = one.index(b"PK\x01\x02")
    end = one.index(b"PK\x05\x06")
    entries = b"".join(one[at:end].replace(b"a00000", f"a{i:05d}".encode()) for i in range(times))
    said = struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, times % 65536, times % 65536, len(entries), at, 0)
    return one[:at] + entries + said


def _locked() -> bytes:
    data = bytearray(packed(("a.fit", ride())))
    data[data.index(b"PK\x03\x04") + 6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    return bytes(data)


def _long_list() -> bytes:
    """An end record that says the list of members takes 3 GiB."""
    return packed(("a.fit", ride()))[:-22] + struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, 9, 9, 3 * 2**30, 0, 0)


def _nameless() -> bytes:
    """A member whose name is empty (found by fuzzing: Python 3.11 fails on it with an IndexError)."""
    data = ride(60)
    said = struct.pack("<HHHHHIIIHH", 20, 0, 0, 0, 33, zlib.crc32(data), len(data), len(data), 0, 0)
    local = b"PK\x03\x04" + said + data
    listed = b"PK\x01\x02" + struct.pack("<H", 20) + said + struct.pack("<HHHII", 0, 0, 0, 0, 0)
    return local + listed + struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, 1, 1, len(listed), len(local), 0)


def _three_deep() -> bytes:
    return packed(
        ("b.zip", packed(("c.zip", packed(("d.fit", ride()))))), ("good2.fit", ride(300, 2_000_000_000 - 631_065_600))
    )


def _huge(path: Path, size: int) -> None:
    with path.open("wb") as stream:
        stream.write(b"PK\x03\x04")
        stream.truncate(size)


PACKED = (
    case("gzip-bomb", lambda: _zeros(80), r"bad\.fit\.gz: expected at most 64 MiB, found more", file="bad.fit.gz"),
    case("gzip-in-gzip", squeezed(squeezed(squeezed(ride()))), r"bad\.fit\.gz: expected a FIT or GPX recording", file="bad.fit.gz"),
    case("gzip-members-without-end", lambda: squeezed(b"") * 200_000, r"bad\.fit\.gz: the file is empty", file="bad.fit.gz"),
    case("gzip-cut", squeezed(ride())[:-200], r"gzip data is cut short", 0, "bad.fit.gz"),
    case("gzip-of-a-zip", squeezed(packed(("a.fit", ride()))), r"found a zip archive", file="bad.fit.gz"),
    case("zip-bomb", lambda: packed(("bomb.fit", bytes(63 * 2**20))), r"bad\.zip/bomb\.fit: unpacks to [\d,]+ times its packed size"),
    case("zip-bomb-in-bzip2", lambda: packed(("bomb.fit", bytes(40 * 2**20)), method=zipfile.ZIP_BZIP2), r"bomb\.fit: unpacks to"),
    case("zip-in-lzma", packed(("a.fit", ride()), method=zipfile.ZIP_LZMA), r"a\.fit: is packed in a way that is not read"),
    case("zip-lies-small", lambda: _lying(1000), r"a\.fit: the member is damaged"),
    case("zip-lies-huge", lambda: _lying(2**31), r"a\.fit: expected at most 64 MiB, found 2048"),
    case("zip-members-overlap", lambda: _overlapping(3_000), r"bad\.zip: expected members that stand one after the other"),
    case("zip-many-members", lambda: packed(*((f"{i}.txt", b"") for i in range(50_001))), r"bad\.zip: expected an archive of at most 50,?000 members"),
    case("zip-list-of-3-gib", _long_list(), r"bad\.zip: expected an archive of at most 50,?000 members, found a list of 16 MiB or more"),
    case("zip-three-deep", _three_deep(), r"b\.zip/c\.zip: an archive three deep is not opened"),
    case("zip-of-zip-bombs", lambda: packed(*((f"{i}.zip", packed(("bomb.fit", bytes(20 * 2**20)))) for i in range(5))), r"4\.zip/bomb\.fit: unpacks to"),
    case("zip-way-out", packed(("../../CANARY-OUT.fit", ride(60))), r'"file": "bad\.zip/\.\./\.\./CANARY-OUT\.fit"', 0),
    case("zip-absolute", packed(("/tmp/CANARY-OUT.fit", ride(60))), r'"file": "bad\.zip//tmp/CANARY-OUT\.fit"', 0),
    case("zip-drive-letter", packed(("C:\\CANARY-OUT.fit", ride(60))), r"CANARY-OUT\.fit", 0),
    case("zip-link-member", packed(("link.fit", b"/etc/passwd"), mode=_LINK), r"bad\.zip: expected recordings in the archive, found none|link\.fit: expected a FIT or GPX|^\{", 0),
    case("zip-name-commands-terminal", packed(("\x1b[2J\x1b]0;owned\x07ride\r\n.fit", ride(60))), r'"file": "bad\.zip/', 0),
    case("zip-name-twice", packed(("a.fit", ride(60)), ("b.fit", b"x")).replace(b"b.fit", b"a.fit"), r"a\.fit: stands in the archive more than once"),
    case("zip-member-without-a-name", _nameless(), r'"file": "bad\.zip/"', 0),
    case("zip-locked", _locked(), r"a\.fit: expected a readable member, found one that is locked with a password"),
    case("zip-cut", packed(("a.fit", ride()))[:-30], r"bad\.zip: expected a zip archive, found one that is damaged"),
    case("zip-empty", packed(), r"\{", 0),
    Hostile("packed-zip-sparse-8-gib", lambda home: _huge(home / "activities" / "bad.zip", 8 * 2**30), AUDIT, r"bad\.zip: expected a zip archive, found one that is damaged", 1),
)  # fmt: skip
