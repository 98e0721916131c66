"""Takes the scripts that pages draw with from the npm registry into the package, and states them in docs/dependencies.md.

    .venv/bin/python reports/take_plotly.py

Run it when the installed plotly package carries another plotly.js (a test marked `newest` says so). It needs `npm`. Plotly's basic
bundle, its own project's smaller build, has scatter and bar; fflate unpacks it where the browser cannot, or has had no time to.
"""
# ruff: noqa: T201

from __future__ import annotations

import gzip
import hashlib
import re
import subprocess
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path

from plotly.offline import get_plotlyjs_version

ROOT = Path(__file__).resolve().parents[1]
CARRIED = ROOT / "src" / "steadyband" / "report" / "common" / "carried"
PAGE = ROOT / "docs" / "dependencies.md"
FFLATE = "0.8.3"


@dataclass(frozen=True, slots=True)
class Script:
    """A script of the registry: its package, version, path in it, what it is for, and its name here."""

    package: str
    version: str
    member: str
    reason: str
    name: str


def main() -> None:
    """Both scripts with their licences, and the rows of the table."""
    rows = [
        take(script)
        for script in (
            Script("fflate", FFLATE, "umd/index.js", "unpacks the other one where the browser cannot", "fflate"),
            Script(
                "plotly.js-basic-dist-min",
                get_plotlyjs_version(),
                "plotly-basic.min.js",
                "draws the figures of a page",
                "plotly-basic",
            ),
        )
    ]
    text = PAGE.read_text(encoding="utf-8")
    table = re.compile(r"(<!-- carried -->\n.*\n.*\n)(?:\|.*\n)*")
    PAGE.write_text(table.sub(lambda found: found[1] + "".join(rows), text), encoding="utf-8")


def take(script: Script) -> str:
    """Fetch one script, keep it packed with its licence in front of it, and return its row."""
    with tempfile.TemporaryDirectory() as place:
        asked = ["npm", "pack", "--silent", f"{script.package}@{script.version}"]
        packed = subprocess.run(asked, cwd=place, capture_output=True, text=True, check=True).stdout.strip()
        with tarfile.open(Path(place, packed)) as archive:
            published, licence = (read(archive, name) for name in (script.member, "LICENSE"))
    headed = b"/*! %s %s\n%s*/\n%s" % (script.package.encode(), script.version.encode(), licence, published)
    kept = CARRIED / f"{script.name}.min.js.gz"
    kept.write_bytes(gzip.compress(headed, 9, mtime=0))
    print(f"{script.package} {script.version}: {len(published)} bytes, kept in {kept.stat().st_size}")
    digest = hashlib.sha256(published).hexdigest()
    return f"| {script.package} | {script.version} | `{script.member}` | {script.reason} | MIT | {digest} |\n"


def read(archive: tarfile.TarFile, name: str) -> bytes:
    """One member of a package."""
    member = archive.extractfile(f"package/{name}")
    if member is None:
        raise SystemExit(f"expected {name} in the package, found no file of that name.")
    return member.read()


if __name__ == "__main__":
    main()
