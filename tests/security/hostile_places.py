"""Things in a folder that are no files, lead out of it, never end, or may not be read; and names that attack."""

from __future__ import annotations

import os
import socket
import sys
from collections.abc import Callable
from pathlib import Path

from hostile_base import Hostile, ride

WEEK = ("week", ".", "--ending", "2026-05-10")
_POSIX = os.name == "posix"
_LINUX = sys.platform == "linux"
_NOT_ROOT = _POSIX and os.geteuid() != 0


def case(
    name: str,
    make: Callable[[Path], object],
    said: str,
    status: int,
    command: tuple[str, ...] = WEEK,
    needs: bool = _POSIX,
) -> Hostile:
    return Hostile(f"place-{name}", make, command, said, status, lambda: needs)


def _link(where: str, to: str) -> Callable[[Path], object]:
    return lambda home: (home / where).symlink_to(to)


def _replaced_by_link(where: str, to: str) -> Callable[[Path], object]:
    def make(home: Path) -> None:
        (home / where).unlink(missing_ok=True)
        (home / where).symlink_to(to)

    return make


def _pipe(where: str) -> Callable[[Path], object]:
    def make(home: Path) -> None:
        (home / where).unlink(missing_ok=True)
        os.mkfifo(home / where)

    return make


def _socket(where: str) -> Callable[[Path], object]:
    def make(home: Path) -> None:
        before = Path.cwd()
        os.chdir((home / where).parent)  # a socket's path may not be long
        try:
            with socket.socket(socket.AF_UNIX) as made:
                made.bind(Path(where).name)
        finally:
            os.chdir(before)

    return make


def _sparse(home: Path) -> None:
    with (home / "activities" / "bad.fit").open("wb") as stream:
        stream.write(ride()[:14])
        stream.truncate(64 * 2**30)


def _named(name: str) -> Callable[[Path], object]:
    return lambda home: (home / "activities" / name).write_bytes(b"no recording")


def _as_markup(home: Path) -> None:
    (home / "activities" / "bad[").mkdir()
    (home / "activities" / "bad[" / "b].fit").write_bytes(b"no recording")


def _undecodable(home: Path) -> None:
    path = os.fsencode(home / "activities") + b"/bad\xff\xfe.fit"
    with open(path, "wb") as stream:  # noqa: PTH123 (a name in bytes)
        stream.write(ride(60, 1_778_410_000 - 631_065_600))


def _closed(where: str) -> Callable[[Path], object]:
    return lambda home: (home / where).chmod(0)


_OUT = r"is a link that leads out of its folder; it is not followed"
_REFUSED = r"found a link that leads out of it; it is not followed"

PLACES = (
    case("link-to-a-file-outside", _link("activities/bad.fit", "../../CANARY/secret.fit"), rf"activities/bad\.fit {_OUT}", 0),
    case("link-absolute", _link("activities/bad.fit", "/etc/passwd"), rf"activities/bad\.fit {_OUT}", 0),
    case("link-to-a-folder-outside", _link("activities/sub", "../../CANARY"), rf"activities/sub {_OUT}", 0),
    case("link-to-the-root", _link("activities/sub", "/"), rf"activities/sub {_OUT}", 0),
    case("link-loop", _link("activities/bad.fit", "bad.fit"), r"1 file.* could not be read", 1),
    case("link-loop-by-name", _link("activities/bad.fit", "bad.fit"), r"bad\.fit: the file cannot be read", 1, ("audit", "activities/bad.fit", "--tests", "tests")),
    case("link-folder-loop", _link("activities/sub", "."), r".", 0),
    case("link-to-nothing", _link("activities/bad.fit", "nowhere.fit"), r"1 file.* could not be read", 1),
    case("link-to-dev-zero", _link("activities/bad.fit", "/dev/zero"), rf"activities/bad\.fit {_OUT}", 0),
    case("dev-zero-by-name", lambda home: None, r"/dev/zero: expected a recording, found a device", 1, ("audit", "/dev/zero", "--tests", "tests")),
    case("link-as-test", _link("tests/bad.toml", "../../CANARY/secret.toml"), rf"tests/bad\.toml: expected a step test of this folder, {_REFUSED}", 2),
    case("link-as-labels", _link("sessions.csv", "../CANARY/secret.csv"), rf"sessions\.csv: expected a file of this folder, {_REFUSED}", 2),
    case("link-as-plan", _link("plan.csv", "/etc/passwd"), rf"plan\.csv: expected a file of this folder, {_REFUSED}", 2),
    case("link-as-athlete", _replaced_by_link("athlete.toml", "/etc/passwd"), rf"athlete\.toml: expected a file of this folder, {_REFUSED}", 2),
    case("pipe-as-recording", _pipe("activities/bad.fit"), r"1 file.* could not be read", 1),
    case("pipe-by-name", _pipe("activities/bad.fit"), r"bad\.fit: expected a recording, found a named pipe", 1, ("audit", "activities/bad.fit", "--tests", "tests")),
    case("pipe-as-route", _pipe("bad.gpx"), r"bad\.gpx: expected a recording, found a named pipe", 1, ("route", "bad.gpx", "--athlete", ".")),
    case("pipe-as-meter", _pipe("bad.fit"), r"bad\.fit: expected a recording, found a named pipe", 1, ("compare-meters", "bad.fit", "activities/good.fit")),
    case("pipe-as-test", _pipe("tests/bad.toml"), r"expected a step-test file, found none", 2, ("zones", "tests/bad.toml")),
    case("pipe-among-tests", _pipe("tests/bad.toml"), r".", 0),
    case("pipe-as-labels", _pipe("sessions.csv"), r"sessions\.csv: cannot be read .*named pipe", 2),
    case("pipe-as-plan", _pipe("plan.csv"), r"plan\.csv: cannot be read .*named pipe", 2),
    case("pipe-as-athlete", _pipe("athlete.toml"), r"expected an athlete folder with an athlete\.toml, found none", 2),
    case("socket-as-recording", _socket("activities/bad.fit"), r"bad\.fit: expected a recording, found a socket", 1, ("audit", "activities", "--tests", "tests")),
    case("folder-named-as-a-recording", lambda home: (home / "activities" / "bad.fit").mkdir(), r".", 0),
    case("folder-named-as-a-test", lambda home: (home / "tests" / "bad.toml").mkdir(), r".", 0),
    case("folder-as-labels", lambda home: (home / "sessions.csv").mkdir(), r"sessions\.csv: cannot be read", 2),
    case("folder-by-name", lambda home: (home / "bad.fit").mkdir(), r"expected a recording, found a folder", 1, ("compare-meters", "bad.fit", "activities/good.fit")),
    case("sparse-64-gib", _sparse, r"bad\.fit: expected at most 64 MiB, found more", 1, ("audit", "activities", "--tests", "tests")),
    case("name-with-line-ends", _named("bad\n\r\nAll sessions held.\n.fit"), r"bad\\n\\r\\nAll sessions held\.\\n\.fit", 1, ("audit", "activities", "--tests", "tests")),
    case("name-commands-terminal", _named("bad\x1b[2J\x1b]0;owned\x07.fit"), r"bad\\x1b\[2J\\x1b\]0;owned\\x07\.fit", 1, ("audit", "activities", "--tests", "tests")),
    case("name-turns-direction", _named("bad\u202etif.exe.fit"), r"bad\\u202etif\.exe\.fit", 1, ("audit", "activities", "--tests", "tests")),
    case("name-not-utf8", _undecodable, r"bad\\udcff\\udcfe\.fit: its name is no UTF-8 text; rename it", 0, needs=_LINUX),
    case("name-not-utf8-json", _undecodable, r"its name is no UTF-8 text; rename it", 0, ("audit", "activities", "--tests", "tests", "--format", "json"), needs=_LINUX),
    case("name-as-markup", _as_markup, r"bad\[/b\]\.fit", 1, ("audit", "activities", "--tests", "tests")),
    case("closed-recording", _closed("activities/good.fit"), r"good\.fit: the file may not be read by this user", 1, ("audit", "activities", "--tests", "tests"), needs=_NOT_ROOT),
    case("closed-test", _closed("tests/good.toml"), r"good\.toml: could not be read: Permission denied", 2, needs=_NOT_ROOT),
)  # fmt: skip
