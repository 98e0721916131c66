"""Files of the athlete folder written whole or not at all."""

from __future__ import annotations

import stat
from pathlib import Path

from steadyband.ground.errors import AthleteFileError
from steadyband.ground.writing import PRIVATE_FILE, replace_whole


def replace_atomically(path: Path, data: bytes) -> None:
    """Put `data` into the place of `path` in one move; on any fault the old file stays as it was.

    The new file takes the permissions of the old one; without an old one it is for its owner alone. A link is followed:
    what it points at is replaced. Raises AthleteFileError where the folder cannot be written to.
    """
    try:
        target = path.resolve()
        mode = stat.S_IMODE(target.stat().st_mode) & 0o777 if target.exists() else PRIVATE_FILE
        replace_whole(target, data, mode)
    except OSError as fault:
        raise AthleteFileError(
            f"cannot be written ({fault.strerror}); what stood in it before is untouched.",
            file=str(path),
            hint="Choose a folder that you may write to, or make room on the disk.",
        ) from fault
