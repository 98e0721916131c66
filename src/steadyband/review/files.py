"""Files of the athlete folder written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from steadyband.errors import AthleteFileError


def replace_atomically(path: Path, data: bytes) -> None:
    """Put `data` into the place of `path` in one move; on any fault the old file stays as it was.

    The new file takes the permissions of the old one. A link is followed: what it points at is replaced.
    Raises AthleteFileError where the folder cannot be written to.
    """
    target = path.resolve()
    try:
        handle, name = tempfile.mkstemp(prefix=".steadyband-", suffix=".tmp", dir=target.parent)
    except OSError as fault:
        raise _cannot(path, fault) from fault
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            Path(name).chmod(target.stat().st_mode & 0o777)
        Path(name).replace(target)
    except OSError as fault:
        _remove(name)
        raise _cannot(path, fault) from fault
    except BaseException:
        _remove(name)
        raise


def _remove(name: str) -> None:
    with contextlib.suppress(OSError):
        Path(name).unlink()


def _cannot(path: Path, fault: OSError) -> AthleteFileError:
    return AthleteFileError(
        f"cannot be written ({fault.strerror}); what stood in it before is untouched.",
        file=str(path),
        hint="Choose a folder that you may write to, or make room on the disk.",
    )
