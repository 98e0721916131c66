"""`init`: a commented starter folder."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from steadyband.ground.errors import SteadybandError, UsageError
from steadyband.ground.writing import make_private_folder, replace_whole

LAYOUT = {
    "athlete.toml": "athlete.toml",
    "sessions.csv": "sessions.csv",
    "test-template.txt": "tests/test-template.txt",
}


ZONE = b'time_zone = "UTC"'


def write_starter(folder: Path, zone: str = "UTC") -> tuple[Path, ...]:
    """Writes the starter files into `folder`, made if need be, with a time zone; returns their paths, never replaces a file.

    All of it is for its owner alone: recordings tell health and home. Raises UsageError where one of them is there already, SteadybandError where the folder cannot be written.
    """
    targets = {name: folder / place for name, place in LAYOUT.items()}
    taken = [path for path in targets.values() if path.exists()]
    if taken:
        raise UsageError(f"expected a new folder, found {taken[0]}.", hint="Name another folder, or edit that file.")
    try:
        for part in ("tests", "activities", "reports"):
            make_private_folder(folder / part)
        for name, path in targets.items():
            text = files("steadyband.athlete").joinpath("starter", name).read_bytes()
            replace_whole(path, text.replace(ZONE, f'time_zone = "{zone}"'.encode(), 1))
    except OSError as fault:
        raise SteadybandError(f"cannot be written ({fault.strerror}).", file=str(fault.filename or folder)) from fault
    return tuple(targets.values())
