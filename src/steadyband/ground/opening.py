"""Opening files that somebody else may have put there: regular files alone, so many bytes at most, never waiting.

A named pipe without a writer would keep a plain `open` waiting for ever, and a device could be anything.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_FLAGS = os.O_RDONLY
for _name in ("O_BINARY", "O_NONBLOCK", "O_NOCTTY", "O_CLOEXEC"):
    _FLAGS |= getattr(os, _name, 0)


class NotRegularError(OSError):
    """Something else than a file of bytes; `kind` says what, with its article."""

    def __init__(self, kind: str) -> None:
        super().__init__(errno.EINVAL, f"it is {kind}, not a file")
        self.kind = kind


class TooLargeError(OSError):
    """A file of more bytes than are read."""

    def __init__(self, most: int) -> None:
        super().__init__(errno.EFBIG, f"it is larger than {most // 2**10} KiB")


def open_regular(path: str | os.PathLike[str]) -> BinaryIO:
    """A regular file, or a link to one, opened for reading alone.

    It is looked at before it is opened and again when it is open. Raises NotRegularError, any other OSError, or
    ValueError for a path with a NUL.
    """
    _check(os.stat(path))  # noqa: PTH116 (a path as bytes or text)
    handle = os.open(path, _FLAGS)
    try:
        _check(os.fstat(handle))
    except BaseException:
        os.close(handle)
        raise
    return os.fdopen(handle, "rb")


def _check(found: os.stat_result) -> None:
    if not stat.S_ISREG(found.st_mode):
        raise NotRegularError(next((name for test, name in _KINDS if test(found.st_mode)), "something else"))


def small_file(path: Path, most: int) -> bytes:
    """All bytes of a file that ought to be small. Raises TooLargeError past `most` bytes, and as `open_regular`."""
    with open_regular(path) as stream:
        data = stream.read(most + 1)
    if len(data) > most:
        raise TooLargeError(most)
    return data


def small_text(path: Path, most: int) -> str:
    """The same as text in UTF-8, with or without its mark, line ends as "\\n". Raises UnicodeDecodeError too."""
    return small_file(path, most).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
