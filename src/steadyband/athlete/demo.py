"""`demo`: an invented athlete's folder, carried inside the package."""

from __future__ import annotations

import errno
import io
import os
import shutil
import tempfile
import zipfile
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path

from steadyband.ground.errors import SteadybandError, UsageError
from steadyband.ground.writing import PRIVATE_FOLDER, make_private_folder, replace_whole

TAKEN = (errno.EEXIST, errno.ENOTEMPTY, errno.ENOTDIR)


def demo_files() -> dict[str, bytes]:
    """Name inside the folder, and content, of each file of the demo. Raises SteadybandError where the package lacks it."""
    try:
        packed = files("steadyband.athlete").joinpath("demo.zip").read_bytes()
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            return {name: archive.read(name) for name in archive.namelist()}
    except (OSError, zipfile.BadZipFile) as fault:
        raise SteadybandError(
            "expected the demo inside the installed package, found none that can be read.",
            hint="Install steadyband again.",
        ) from fault


def write_demo(folder: Path) -> int:
    """Writes the demo athlete to `folder` and returns how many files that are; nothing that exists is replaced.

    Everything is written beside `folder` first and takes its name in one move, readable by its owner alone: after a
    fault, or when stopped, there is no half of a demo under that name.

    Raises UsageError where something is there already, SteadybandError where the place cannot be written to.
    """
    content = demo_files()
    if os.path.lexists(folder):
        raise _taken(folder)
    try:
        make_private_folder(folder.parent)
        _place_whole(folder, content)
    except OSError as fault:
        raise SteadybandError(
            f"expected to write the demo here, but the system said: {fault.strerror or fault}; nothing is left of it.",
            file=str(folder),
            hint="Name a folder where you may write, with 4 MB of room on its disk.",
        ) from fault
    return len(content)


def _place_whole(folder: Path, content: Mapping[str, bytes]) -> None:
    draft = Path(tempfile.mkdtemp(prefix=".steadyband-demo-", dir=folder.parent))
    try:
        draft.chmod(PRIVATE_FOLDER)
        make_private_folder(draft / "reports")
        for name, data in content.items():
            make_private_folder((draft / name).parent)
            replace_whole(draft / name, data)
        _take_name(draft, folder)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        raise


def _take_name(draft: Path, folder: Path) -> None:
    try:
        draft.rename(folder)
    except OSError as fault:
        if fault.errno in TAKEN:
            raise _taken(folder) from fault
        raise


def _taken(folder: Path) -> UsageError:
    return UsageError(
        f"expected a new name for the demo's folder, found something at {folder}; it is left as it is.",
        hint="Name another folder: `steadyband demo ANOTHER-NAME`.",
    )
