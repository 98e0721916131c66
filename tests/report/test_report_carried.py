"""The scripts that the package carries: the published files, byte for byte, with their licences, and plotly's own version.

Expected: digests of the files on npm, written into docs/dependencies.md when they were taken, and the version plotly itself states.
"""

from __future__ import annotations

import gzip
import hashlib
import re

import pytest

from conftest import ROOT
from steadyband.report.common.assets import plotly_script, plotly_version, unpacker_script

ROWS = re.compile(r"\| (\S+) \| (\S+) \| `(\S+)` \| [^|]+ \| MIT \| ([0-9a-f]{64}) \|")
PAGE = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8").split("<!-- carried -->")[1].split("\n\n")[0]
STATED = {package: (version, digest) for package, version, _, digest in ROWS.findall(PAGE)}
KEPT = {"plotly.js-basic-dist-min": plotly_script, "fflate": unpacker_script}


@pytest.mark.parametrize("package", KEPT)
def test_each_script_is_the_published_one_with_its_licence(package: str) -> None:
    version, digest = STATED[package]
    head, published = KEPT[package]().split("*/\n", 1)
    assert head.startswith(f"/*! {package} {version}\n")
    assert hashlib.sha256(published.encode()).hexdigest() == digest
    for words in (
        "MIT License",
        "Copyright (c)",
        "The above copyright notice and this permission notice shall be included",
    ):
        assert words in head


def test_nothing_else_is_carried() -> None:
    folder = ROOT / "src" / "steadyband" / "report" / "common" / "carried"
    texts = {gzip.decompress(place.read_bytes()).decode() for place in folder.iterdir()}
    assert texts == {script() for script in KEPT.values()}
    assert STATED.keys() == KEPT.keys()


def test_a_page_could_hold_each_script_as_it_is() -> None:
    for script in KEPT.values():
        assert "</script" not in script().casefold()
        assert "<!--" not in script()


@pytest.mark.newest
def test_plotly_is_of_the_version_the_installed_package_carries() -> None:
    """Where this fails: python reports/take_plotly.py, then the browser tests."""
    from plotly.offline import get_plotlyjs_version

    assert plotly_version() == get_plotlyjs_version()
    assert f"plotly.js (basic - minified) v{plotly_version()}\n" in plotly_script()
