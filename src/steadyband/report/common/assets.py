"""What a page draws its figures with: plotly inside the page, or one shared copy beside it; and the policy that allows only that."""

from __future__ import annotations

import base64
import functools
import gzip
import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from steadyband.ground.writing import write_bytes_atomically

FOLDER = "assets"
"""Where in the reports folder the shared copy lies."""
PLOTLY = "plotly-basic.min.js.gz"
STRICT = "default-src 'none'; {scripts}; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"
SERVED = STRICT.replace("form-action 'none'", "form-action 'self'; connect-src 'self'")
"""A page that is served may ask its own server, and send its forms there."""


@dataclass(frozen=True, slots=True)
class Drawer:
    """How a page comes by plotly: `packed` holds it, for `unpacker` or the browser itself to unpack, or `href` leads from the
    page to the shared copy. The policy knows the unpacked script by its hash."""

    packed: str = ""
    unpacker: str = ""
    href: str = ""
    integrity: str = ""


def drawer(href: str = "") -> Drawer:
    """Plotly inside the page, or, with `href`, the shared copy there."""
    integrity = f"sha256-{digest(plotly_script())}"
    return Drawer("", "", href, integrity) if href else Drawer(plotly_packed(), unpacker_script(), "", integrity)


def share_plotly(reports: Path, page: Path) -> str:
    """Write the shared copy into `reports`/assets where it is not there yet, and return the way to it from `page`.

    It is written whole or not at all; a copy whose bytes are not plotly's own is replaced. Raises SteadybandError where the
    folder cannot be written to.
    """
    place = reports / FOLDER / f"plotly-basic-{plotly_version()}.min.js"
    script = plotly_script().encode()
    if not _holds(place, script):
        write_bytes_atomically(place, script)
    return quote(Path(os.path.relpath(place, page.parent)).as_posix())


def _holds(place: Path, wanted: bytes) -> bool:
    try:
        return place.stat().st_size == len(wanted) and place.read_bytes() == wanted
    except OSError:
        return False


def policies(scripts: Sequence[str], drawn_by: Drawer | None = None, rules: str = STRICT) -> tuple[str, ...]:
    """The content security policies of a page that carries `scripts`: nothing may be loaded, only these scripts run, and
    plotly where the page holds it. That one is put in as text once it is unpacked, and its hash is that of the text.

    With a shared copy there are two policies, and a script must pass both. By the first, a script from outside may only be
    one that a carried script asked for ('strict-dynamic'), never a tag in the page; by the second it must lie where the page
    lies ('self'). A hash alone would be narrower, but browsers refuse to check one for a file opened from a disk: such
    files have no origin. Where the pages are served, the page asks for the hash as well. `rules` is STRICT or SERVED.
    """
    hashes = [f"sha256-{digest(script)}" for script in scripts]
    if drawn_by and drawn_by.packed:
        hashes += [f"sha256-{digest(drawn_by.unpacker)}", drawn_by.integrity]
    allowed = " ".join(f"'{one}'" for one in hashes) or "'none'"
    if not drawn_by or not drawn_by.href:
        return (rules.format(scripts=f"script-src {allowed}"),)
    ends = ("'strict-dynamic'", "'self'")
    return tuple(rules.format(scripts=f"script-src {allowed} {end}") for end in ends)


@functools.lru_cache(maxsize=8)
def digest(script: str) -> str:
    """SHA-256 of a script as a policy names it."""
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


def plotly_packed() -> str:
    """Plotly's basic bundle as a page holds it: gzip in base64."""
    return base64.b64encode(_kept(PLOTLY)).decode("ascii")


@functools.lru_cache(maxsize=1)
def plotly_script() -> str:
    """Plotly's basic bundle as text, with its licence."""
    return gzip.decompress(_kept(PLOTLY)).decode("utf-8")


@functools.lru_cache(maxsize=1)
def unpacker_script() -> str:
    """fflate as text, with its licence: unpacks plotly at once where the browser cannot, or where printing does not wait."""
    return gzip.decompress(_kept("fflate.min.js.gz")).decode("utf-8")


@functools.lru_cache(maxsize=2)
def _kept(name: str) -> bytes:
    return files("steadyband.report").joinpath("common", "carried", name).read_bytes()


def plotly_version() -> str:
    """The version of the plotly.js that pages draw with, as its first line states it."""
    return plotly_script().split("\n", 1)[0].split()[-1]
