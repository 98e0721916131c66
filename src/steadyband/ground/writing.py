"""Files written whole or not at all, for their owner alone, and never over something that is not ours to replace.

Every file the package writes goes through here, but for the store's own files and the journal of `enter-test`.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import tempfile
from pathlib import Path

from steadyband.ground.errors import SteadybandError

HINTS = {
    errno.ENOSPC: "Make room on the disk and run it again.",
    errno.EDQUOT: "Make room within your disk quota and run it again.",
    errno.EFBIG: "The largest file size allowed here is too small for it; lift that limit or choose another folder.",
}
CHOOSE = "Choose a folder that you may write to."
PRIVATE_FILE, PRIVATE_FOLDER = 0o600, 0o700
PREFIX, SUFFIX = ".steadyband-", ".tmp"
STALE_S = 3600.0
"""Age from which what a killed run left half-written is removed: younger ones may belong to a run that is not done."""
OWN = frozenset({"athlete.toml", "sessions.csv", "weeks.csv", "plan.csv"})
"""Names in an athlete folder that the athlete writes."""
KEPT_FOLDERS = frozenset({"activities", "tests"})
"""Folders of an athlete folder in which nothing is ever replaced."""
SMALL_FIT = 4096
"""A FIT file up to this size may be a workout of ours; a larger one is a recording (workouts take some hundred bytes)."""


def write_text_atomically(path: Path, text: str) -> None:
    """Write `text` as UTF-8 to `path`, in the way of `write_bytes_atomically`."""
    write_bytes_atomically(path, text.encode("utf-8"))


def write_bytes_atomically(path: Path, data: bytes) -> None:
    """Write `data` to `path`, readable by its owner alone whatever the umask; missing folders are made the same way.

    The data goes to a new file in the same folder, reaches the disk, and then takes the place of the old file in one
    move: on any fault the old file is left as it was. A link at `path` is replaced, never followed.

    Raises SteadybandError in a sentence where the folder cannot be written to, the disk is full, or a file is there that
    is not ours to replace: a recording, a test, an athlete's own file, a file of another kind, a device.
    """
    check_replaceable(path, data)
    try:
        make_private_folder(path.parent)
        replace_whole(path, data)
    except OSError as fault:
        raise SteadybandError(
            f"expected to write this file, but {_reason(fault)}; anything written there before is untouched.",
            file=str(path),
            hint=HINTS.get(fault.errno or 0, CHOOSE),
        ) from fault


def make_private_folder(folder: Path) -> None:
    """Make a folder and its missing parents for their owner alone; a folder that exists keeps its permissions.

    Raises OSError where that is not possible.
    """
    missing = [place for place in (folder, *folder.parents) if not place.is_dir()]
    for place in reversed(missing):
        try:
            place.mkdir(PRIVATE_FOLDER)
        except FileExistsError:
            if not place.is_dir():
                raise
        else:
            place.chmod(PRIVATE_FOLDER)


def check_replaceable(path: Path, data: bytes) -> None:
    """Raises SteadybandError where something stands at `path` that `data` must not take the place of."""
    found = _not_ours(path, data)
    if found:
        raise SteadybandError(
            f"expected to write this file, but {found} is there already; it is left as it is.",
            file=str(path),
            hint="Name another file with --out.",
        )


def _not_ours(path: Path, data: bytes) -> str | None:
    try:
        mode = path.lstat().st_mode
    except OSError:
        return None
    if stat.S_ISLNK(mode):
        return None
    if not stat.S_ISREG(mode):
        return "a folder" if stat.S_ISDIR(mode) else "a device or another thing that is no plain file"
    return _own_file(path) or _other_kind(path, data)


def _own_file(path: Path) -> str | None:
    """Words for a file that the athlete wrote, by its place in an athlete folder."""
    whole = path.absolute()
    if whole.name in OWN and (whole.parent / "athlete.toml").exists():
        return "a file of the athlete's own"
    for parent in whole.parents:
        if parent.name in KEPT_FOLDERS and (parent.parent / "athlete.toml").exists():
            return f"a file in the athlete's {parent.name} folder"
    return None


def _other_kind(path: Path, data: bytes) -> str | None:
    """Words for a file that is not of the kind that is about to be written."""
    try:
        with path.open("rb") as file:
            before = file.read(4096)
        size = path.stat().st_size
    except OSError:
        return None
    old, new = _kind(before), _kind(data[:4096])
    if not before or (old == new and not (old == "a FIT file" and size > SMALL_FIT)):
        return None
    return old


def _kind(head: bytes) -> str:
    text = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    if head[8:12] == b".FIT":
        return "a FIT file"
    if b"<gpx" in head:
        return "a GPX file"
    if head.startswith((b"\x1f\x8b", b"PK")):
        return "an archive or a spreadsheet"
    if head.startswith(b"PAR1"):
        return "a Parquet table"
    if text[:14].lower() == b"<!doctype html":
        return "an HTML page"
    return "a file of another kind"


def _reason(fault: OSError) -> str:
    return f"the system said: {fault.strerror or fault}"


def replace_whole(path: Path, data: bytes, mode: int = PRIVATE_FILE) -> None:
    """Put `data` with these permissions into the place of `path` in one move. Raises OSError, the old file untouched."""
    handle, name = tempfile.mkstemp(prefix=PREFIX, suffix=SUFFIX, dir=path.parent)
    draft = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            draft.chmod(mode)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            made_at = os.fstat(file.fileno()).st_mtime
        draft.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise
    _settle(path.parent, made_at)


def _settle(folder: Path, now: float) -> None:
    """Bring the new name to the disk, and take away what killed runs left; `now` is the disk's own clock."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    for left in folder.glob(f"{PREFIX}*{SUFFIX}"):
        with contextlib.suppress(OSError):
            if now - left.lstat().st_mtime > STALE_S:
                left.unlink()
