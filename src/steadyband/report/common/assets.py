"""What a page draws its figures with: plotly inside the page, or one shared copy beside it; and the policy that allows only that."""

from __future__ import annotations

import base64
import functools
import hashlib
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from steadyband.ground.errors import SteadybandError
from steadyband.ground.writing import write_bytes_atomically

FOLDER = "assets"
"""Where in the reports folder the shared copy lies."""
STRICT = "default-src 'none'; {scripts}; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"


@dataclass(frozen=True, slots=True)
class Drawer:
    """How a page comes by plotly: `inside` holds it, or `href` leads from the page to the shared copy."""

    inside: str = ""
    href: str = ""
    integrity: str = ""


def drawer(href: str = "") -> Drawer:
    """Plotly inside the page, or, with `href`, the shared copy there."""
    integrity = f"sha256-{digest(plotly_script())}"
    return Drawer(href=href, integrity=integrity) if href else Drawer(inside=plotly_script(), integrity=integrity)


def share_plotly(reports: Path, page: Path) -> str:
    """Write the shared copy into `reports`/assets where it is not there yet, and return the way to it from `page`.

    It is written whole or not at all; a copy whose bytes are not plotly's own is replaced. Raises SteadybandError where the
    folder cannot be written to.
    """
    place = reports / FOLDER / f"plotly-{plotly_version()}.min.js"
    if not _holds(place, _plotly_bytes()):
        write_bytes_atomically(place, _plotly_bytes())
    return quote(Path(os.path.relpath(place, page.parent)).as_posix())


def _holds(place: Path, wanted: bytes) -> bool:
    try:
        return place.stat().st_size == len(wanted) and place.read_bytes() == wanted
    except OSError:
        return False


def policies(scripts: Sequence[str], drawn_by: Drawer | None = None) -> tuple[str, ...]:
    """The content security policies of a page that carries `scripts`: nothing may be loaded, only these scripts run.

    With a shared copy there are two policies, and a script must pass both. By the first, a script from outside may only be
    one that a carried script asked for ('strict-dynamic'), never a tag in the page; by the second it must lie where the page
    lies ('self'). A hash alone would be narrower, but browsers refuse to check one for a file opened from a disk: such
    files have no origin. Where the pages are served, the page asks for the hash as well.
    """
    carried = [*scripts, *([drawn_by.inside] if drawn_by and drawn_by.inside else [])]
    allowed = " ".join(f"'sha256-{digest(script)}'" for script in carried) or "'none'"
    if not drawn_by or not drawn_by.href:
        return (STRICT.format(scripts=f"script-src {allowed}"),)
    ends = ("'strict-dynamic'", "'self'")
    return tuple(STRICT.format(scripts=f"script-src {allowed} {end}") for end in ends)


@functools.lru_cache(maxsize=8)
def digest(script: str) -> str:
    """SHA-256 of a script as a policy names it."""
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


@functools.lru_cache(maxsize=1)
def _plotly_bytes() -> bytes:
    """plotly.js as the plotly package ships it; read without plotly's Python side, which is slow to import."""
    return files("plotly").joinpath("package_data", "plotly.min.js").read_bytes()


@functools.lru_cache(maxsize=1)
def plotly_script() -> str:
    """plotly.js as text."""
    return _plotly_bytes().decode("utf-8")


def plotly_version() -> str:
    """The version of the plotly.js that pages draw with, as its first lines state it."""
    stated = re.search(rb"plotly\.js v([\w.-]+)", _plotly_bytes()[:200])
    if stated is None:
        raise SteadybandError("expected plotly.js to state its version.", hint="Install the package plotly again.")
    return stated[1].decode("ascii")
