"""Put on the path as `sitecustomize`: tells every opening, and every change of a name, below some folders; forbids sockets.

Python raises audit events for `open`, `os.rename`, `socket.connect` and the like before they happen (PEP 578); child processes
load this too, and each tells that it began. Sockets between processes of one machine are allowed.
"""

from __future__ import annotations

import os
import socket
import sys

WATCHED = [os.path.realpath(part) for part in os.environ.get("WATCHED_FOLDERS", "").split(os.pathsep) if part]
LOG = os.environ.get("WATCH_LOG", "")
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
CHANGES = ("os.rename", "os.remove", "os.rmdir", "os.truncate", "os.chmod", "os.chown", "os.utime", "os.mkdir", "os.link", "os.symlink", "os.setxattr")  # fmt: skip

NETWORK = ("socket.getaddrinfo", "socket.gethostby", "urllib.Request", "http.client", "ftplib", "smtplib")


def _below(path: object) -> bool:
    if not isinstance(path, (str, bytes, os.PathLike)):
        return False
    whole = os.path.abspath(os.fsdecode(path))  # noqa: PTH100 (a link is not followed)
    return any(whole == folder or whole.startswith(folder + os.sep) for folder in WATCHED)


def _told(event: str, path: object) -> None:
    handle = os.open(LOG, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    os.write(handle, f"{event} {os.fsdecode(path)}\n".encode())
    os.close(handle)


def _is_network(event: str, arguments: tuple[object, ...]) -> bool:
    if event == "socket.__new__":
        return arguments[1] != getattr(socket, "AF_UNIX", None)
    if event in ("socket.connect", "socket.bind", "socket.sendto"):
        return arguments[0].family != getattr(socket, "AF_UNIX", None)  # type: ignore[attr-defined]
    return event.startswith(NETWORK)


def _hook(event: str, arguments: tuple[object, ...]) -> None:
    if event == "open":
        path, mode, flags = arguments
        if _below(path):
            writes = isinstance(flags, int) and bool(flags & WRITING)
            writes |= isinstance(mode, str) and any(letter in mode for letter in "wax+")
            _told("WRITE" if writes else "read", path)
    elif event in CHANGES:
        for path in arguments:
            if _below(path):
                _told(f"CHANGE {event}", path)
    elif _is_network(event, arguments):
        _told("SOCKET", event)
        raise OSError(f"no network here: {event}")


if WATCHED and LOG:
    _told("begun", str(os.getpid()))
    sys.addaudithook(_hook)
