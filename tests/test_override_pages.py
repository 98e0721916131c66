"""A test overridden by name says so, with the reason, on every page that uses it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from console import run
from demo_home import copy_demo

REASON = "The analyser was new and the finger cold"


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo whose bike test began at 1.7 mmol/L and is used all the same."""
    home = tmp_path_factory.mktemp("override") / "athlete"
    copy_demo(home)
    test = home / "tests" / "2026-04-20-bike.toml"
    high = re.sub(
        r"^baseline = .*$", f'baseline = [1.7]\noverride = "{REASON}"', test.read_text(encoding="utf-8"), flags=re.M
    )
    test.write_text(high, encoding="utf-8")
    return home


@pytest.mark.parametrize(
    "command",
    [
        ("week", ""),
        ("block", ""),
        ("history", ""),
        ("tests", ""),
        ("card", ""),
        ("test-page", "tests/2026-04-20-bike.toml"),
        ("session", "activities/2026-W20/2026-05-16-moor-tracks.fit"),
        ("route", "activities/2026-W18/2026-05-03-phone-ride.gpx"),
    ],
    ids=lambda command: command[0],
)
def test_the_page_says_so(home: Path, command: tuple[str, str]) -> None:
    before = set((home / "reports").glob("*.html"))
    done = run(command[0], home / command[1])
    assert done.returncode == 0, done.stderr
    (page,) = set((home / "reports").glob("*.html")) - before
    assert REASON in page.read_text(encoding="utf-8")
