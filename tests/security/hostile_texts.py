"""Texts that reach a page, a terminal or a spreadsheet from every place a text can come from."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

from hostile_base import FILE_ID, GOOD_ATHLETE, GOOD_TEST, RECORD, T0, Hostile, definition, ended, fit, records
from hostile_packed import packed

SCRIPT = "</script><script>alert(1)</script>"
ATTRIBUTE = "\"'><img src=x onerror=alert(1)>"
ADDRESS = "javascript:alert(1)"
TEMPLATE = "{{ 7*7 }}{% for x in y %}${7*7}"
COMMANDS = "\x1b[31m\x1b]8;;http://127.0.0.1/\x07\u202e\u200b\x9b"
PLOTLY = "<a href='javascript:alert(1)'>x</a><b>y</b>%{x}<br>"
ALL = " ".join((SCRIPT, ATTRIBUTE, ADDRESS, TEMPLATE, COMMANDS, PLOTLY))

WEEK = ("week", ".", "--ending", "2026-05-10")
SESSION = ("session", "activities/bad.fit")


def _toml(text: str) -> str:
    """A basic TOML string."""
    return '"' + "".join(c if c.isalnum() and c.isascii() else f"\\u{ord(c):04x}" for c in text) + '"'


def _named_ride(name: str) -> bytes:
    """A ride whose workout bears the name, in pieces of at most 255 bytes."""
    raw = name.encode()[:250] + b"\0"
    workout = definition(3, 26, (8, len(raw), 7)) + b"\x03" + raw
    device = definition(4, 23, (27, len(raw), 7), (2, 2, 0x84)) + b"\x04" + raw + struct.pack("<H", 255)
    return fit(FILE_ID, device, workout, RECORD, records(600), ended(T0, 599))


def _named_track(name: str) -> str:
    escaped = "".join(c if c.isalnum() else f"&#{ord(c)};" if ord(c) >= 32 else " " for c in name)
    points = "".join(
        f'<trkpt lat="38.7{i:04d}" lon="-9.1"><ele>{10 + i // 5}</ele><time>2026-05-10T10:{i // 60:02d}:{i % 60:02d}Z</time></trkpt>'
        for i in range(600)
    )
    return f'<gpx version="1.1" creator="{escaped}"><trk><name>{escaped}</name><type>{escaped} cycling</type><trkseg>{points}</trkseg></trk></gpx>'


def _ride(data: bytes | str, file: str = "bad.fit") -> Callable[[Path], object]:
    raw = data.encode() if isinstance(data, str) else data

    def make(home: Path) -> None:
        (home / "activities" / "good.fit").unlink()
        (home / "activities" / file).write_bytes(raw)

    return make


def _athlete(text: str) -> Callable[[Path], object]:
    return lambda home: (home / "athlete.toml").write_text(f"name = {_toml(text)}\n" + GOOD_ATHLETE.split("\n", 1)[1])


def _test(text: str) -> Callable[[Path], object]:
    keys = "".join(f"{key} = {_toml(text)}\n" for key in ("note", "position", "meter", "analyser", "override"))
    steps = GOOD_TEST.replace("[[step]]\n", f"[[step]]\nnote = {_toml(text)}\n")
    return lambda home: (home / "tests" / "good.toml").write_text(keys + steps)


def _labels(text: str) -> Callable[[Path], object]:
    note = text.replace('"', '""')
    return lambda home: (home / "sessions.csv").write_text(
        f'date,time,intent,sport,note\n2026-05-10,,hard,,"{note}"\n', encoding="utf-8"
    )


def _file_name(home: Path) -> None:
    name = ALL.replace("/", "\u2215")[:120] + ".fit"
    _ride(_named_ride("x"), name)(home)


def _test_name(home: Path) -> None:
    (home / "tests" / "good.toml").rename(home / "tests" / (ALL.replace("/", "\u2215")[:120] + ".toml"))


def case(name: str, make: Callable[[Path], object], *commands: tuple[str, ...]) -> list[Hostile]:
    return [Hostile(f"text-{name}-{command[0]}", make, command, r".", 0) for command in commands]


TEXTS: tuple[Hostile, ...] = (
    *case("workout-name", _ride(_named_ride(ALL)), WEEK, SESSION, ("audit", "activities"), ("export", ".")),
    *case("workout-name-script", _ride(_named_ride(SCRIPT)), WEEK, SESSION),
    *case("workout-name-plotly", _ride(_named_ride(PLOTLY)), WEEK, SESSION),
    *case("workout-name-formula", _ride(_named_ride("=cmd|' /C calc'!A0")), ("export", "."), ("audit", "activities", "--format", "csv")),
    *case("track-name", _ride(_named_track(ALL), "bad.gpx"), WEEK, ("session", "activities/bad.gpx"), ("climbs", "."), ("history", ".")),
    *case("file-name", _file_name, WEEK, ("audit", "activities"), ("block", ".")),
    *case("member-name", _ride(packed((ALL, _named_ride("x"))), "bad.zip"), WEEK, ("block", ".")),
    *case("athlete-name", _athlete(ALL), WEEK, ("card", ".", "--on", "2026-05-10"), ("settings", ".")),
    *case("test-texts", _test(ALL), ("zones", "tests/good.toml"), ("test-page", "tests/good.toml"), ("tests", "."), ("card", ".", "--on", "2026-05-10"), WEEK),
    *case("test-name", _test_name, WEEK, ("tests", "."), ("card", ".", "--on", "2026-05-10")),
    *case("label-note", _labels(ALL), WEEK, ("export", ".")),
)  # fmt: skip
