"""The papers tell the truth: commands named exist, every command is named, links lead somewhere, sources are listed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer.main

from conftest import ROOT
from steadyband.cli import app

PAPERS = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")] + sorted((ROOT / "docs").glob("*.md"))
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def test_every_command_named_in_the_papers_exists() -> None:
    named = {word for path in PAPERS for word in re.findall(r"`steadyband ([a-z-]+)", path.read_text(encoding="utf-8"))}
    assert named <= COMMANDS


def test_readme_names_every_command() -> None:
    assert {name for name in COMMANDS if f"steadyband {name}" not in README} == set()


@pytest.mark.parametrize("path", PAPERS, ids=lambda path: path.name)
def test_links_lead_somewhere(path: Path) -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", path.read_text(encoding="utf-8"))
    assert [link for link in links if not (path.parent / link).exists()] == []


def test_sources_named_in_the_code_are_listed() -> None:
    listed = set(re.findall(r"^## (S\d+)", (ROOT / "docs" / "sources.md").read_text(encoding="utf-8"), re.MULTILINE))
    code = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "src").rglob("*.py"))
    assert set(re.findall(r"\bS\d{1,2}\b", code)) <= listed


def test_readme_holds_the_two_commands() -> None:
    assert re.findall(r"<!-- command: (\w+) -->\n```sh\n.+\n```", README) == ["demo", "tests"]
