"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from pathlib import Path

from steadyband.errors import SteadybandError

HINTS = {
    errno.ENOSPC: "Make room on the disk and run it again.",
    errno.EDQUOT: "Make room within your disk quota and run it again.",
    errno.EFBIG: "The largest file size allowed here is too small for it; lift that limit or choose another folder.",
}
CHOOSE = "Choose a folder that you may write to."


def write_text_atomically(path: Path, text: str) -> None:
    """Write `text` as UTF-8 to `path`, in the way of `write_bytes_atomically`."""
    write_bytes_atomically(path, text.encode("utf-8"))


def write_bytes_atomically(path: Path, data: bytes) -> None:
    """Write `data` to `path`, readable by its owner alone; missing folders are made.

    The data goes to a new file in the same folder, reaches the disk, and then takes the place of the old file in one
    move: on any fault the old file is left as it was.

    Raises SteadybandError in a sentence where the folder cannot be written to or the disk is full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _replace(path, data)
    except OSError as fault:
        raise SteadybandError(
            f"expected to write this file, but {_reason(fault)}; anything written there before is untouched.",
            file=str(path),
            hint=HINTS.get(fault.errno or 0, CHOOSE),
        ) from fault


def _reason(fault: OSError) -> str:
    return f"the system said: {fault.strerror or fault}"


def _replace(path: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=".steadyband-", suffix=".tmp", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
