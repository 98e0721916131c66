"""One process at a time on a file: a lock of the operating system beside it, which ends with its holder however that ends.

The lock is taken on a hidden file of its own (`.NAME.lock`), never on the file it guards. The hidden file is taken away at
the end; one that a killed process left behind holds nobody up, since the system dropped the lock with the process.
"""

from __future__ import annotations

import contextlib
import errno
import importlib
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from steadyband.ground.writing import PRIVATE_FILE

BUSY = (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES)
WITHOUT = (errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL)
"""What file systems without locks answer (some network shares)."""
EVERY_S = 0.05


class HeldError(OSError):
    """Another process holds the lock; `holder` says which, as far as it is known."""

    def __init__(self, holder: str) -> None:
        super().__init__(errno.EWOULDBLOCK, f"held by {holder}")
        self.holder = holder


def lock_path(path: Path) -> Path:
    """The hidden file beside `path` that its lock is taken on."""
    return path.with_name(f".{path.name}.lock")


@contextlib.contextmanager
def held(path: Path, wait_s: float = 0.0) -> Iterator[bool]:
    """Holds the lock of `path` inside the block; yields False where this file system or platform knows no locks.

    Waits up to `wait_s` seconds for another holder. Raises HeldError where that is not enough, OSError where the
    hidden file cannot be made.
    """
    handle, locked = _taken(lock_path(path), time.monotonic() + wait_s)
    try:
        _write_holder(handle)
        yield locked
    finally:
        with contextlib.suppress(OSError):
            lock_path(path).unlink()
        os.close(handle)


def _taken(place: Path, until: float) -> tuple[int, bool]:
    while True:
        handle = os.open(place, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), PRIVATE_FILE)
        try:
            locked = _lock(handle)
            if _is_still(place, handle):
                return handle, locked
        except HeldError:
            if time.monotonic() >= until:
                os.close(handle)
                raise
            time.sleep(EVERY_S)
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _lock(handle: int) -> bool:
    system = _fcntl()
    if system is None:
        return False
    try:
        system.flock(handle, system.LOCK_EX | system.LOCK_NB)
    except OSError as fault:
        if fault.errno in BUSY:
            raise HeldError(_holder(handle)) from fault
        if fault.errno in WITHOUT:
            return False
        raise
    return True


def _fcntl() -> Any:
    try:
        return importlib.import_module("fcntl")
    except ImportError:
        return None


def _is_still(place: Path, handle: int) -> bool:
    """False where the last holder took the hidden file away between opening and locking it."""
    try:
        return os.path.samestat(place.stat(), os.fstat(handle))
    except OSError:
        return False


def _write_holder(handle: int) -> None:
    with contextlib.suppress(OSError):
        os.ftruncate(handle, 0)
        os.lseek(handle, 0, os.SEEK_SET)
        os.write(handle, f"process {os.getpid()}".encode())


def _holder(handle: int) -> str:
    os.lseek(handle, 0, os.SEEK_SET)
    text = os.read(handle, 100).decode("utf-8", "replace").strip()
    return text if text.isprintable() and text.startswith("process ") else "another process"
