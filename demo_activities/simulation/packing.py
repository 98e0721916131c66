"""The demo that the package carries: the athlete folder as one archive, without the simulation and its truth."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from pathlib import Path

from simulation import texts

NO_DATE = (1980, 1, 1, 0, 0, 0)
FILE, OWNER_ONLY, UNIX = 0o100000, 0o600, 3


def members(folder: Path) -> dict[str, bytes]:
    """Name and content of each file of the carried demo, taken from the folder in the repository."""
    found = {
        "athlete.toml": texts.packed_athlete_toml().encode(),
        "README.md": texts.packed_readme().encode(),
        "sessions.csv": (folder / "sessions.csv").read_bytes(),
    }
    for part in ("tests", "activities"):
        for path in (folder / part).rglob("*"):
            if path.is_file():
                found[path.relative_to(folder).as_posix()] = path.read_bytes()
    return dict(sorted(found.items()))


def unpacked(path: Path) -> dict[str, bytes]:
    """Name and content of each member of an archive, in its order; empty where there is no archive."""
    if not path.is_file():
        return {}
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def pack(files: Mapping[str, bytes], path: Path) -> bool:
    """Writes `files` to an archive without dates; False where it holds just that already.

    Compressed bytes differ between builds of zlib, so an archive with the same members is left as it is.
    """
    if list(unpacked(path).items()) == list(files.items()):
        return False
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, content in files.items():
            info = zipfile.ZipInfo(name, NO_DATE)
            info.create_system, info.external_attr = UNIX, (FILE | OWNER_ONLY) << 16
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, content, compresslevel=9)
    return True
