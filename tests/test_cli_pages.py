"""The pages that commands write: a shared copy where it is asked for, sessions' own pages, links that lead to files."""

from __future__ import annotations

import json
import re
from pathlib import Path
from urllib.parse import unquote

import pytest

import console
from demo_home import copy_read

LINK = re.compile(r'<a [^>]*href="([^"#]+)"')
KILOBYTES_400 = 400_000
MEGABYTES_6 = 6_000_000


def run(*arguments: str | Path) -> str:
    done = console.run(*arguments, env={"COLUMNS": "200"})
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def home(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo folder, its reports inside it."""
    return copy_read(read_demo, tmp_path_factory.mktemp("pages") / "demo")


def links_of(page: Path) -> list[str]:
    text = page.read_text(encoding="utf-8")
    return [unquote(link) for link in LINK.findall(text[: text.index("<script")])]


def dead(reports: Path) -> list[tuple[str, str]]:
    pages = reports.rglob("*.html")
    return [(page.name, link) for page in pages for link in links_of(page) if not (page.parent / link).is_file()]


def test_week_beside_a_shared_copy_then_alone_then_the_block(home: Path) -> None:
    found = json.loads(run("week", home, "--shared-assets", "--format", "json"))
    page, reports = Path(found["page"]), home / "reports"
    assert page.stat().st_size < KILOBYTES_400
    assert [copy.suffix for copy in (reports / "assets").iterdir()] == [".js"]
    sessions = {place.name: place.stat().st_mtime_ns for place in (reports / "sessions").iterdir()}
    assert len(sessions) == len(found["sessions"])
    assert all((reports / "sessions" / name).stat().st_size < KILOBYTES_400 for name in sessions)
    assert {f"sessions/{name}" for name in sessions} == {link for link in links_of(page) if "sessions/" in link}

    run("week", home)
    assert KILOBYTES_400 < page.stat().st_size < MEGABYTES_6
    assert {place.name: place.stat().st_mtime_ns for place in (reports / "sessions").iterdir()} == sessions

    block = Path(json.loads(run("block", home, "--shared-assets", "--format", "json"))["page"])
    assert page.name in links_of(block)
    assert {link for link in links_of(block) if "sessions/" in link} == {f"sessions/{name}" for name in sessions}
    assert dead(reports) == []
