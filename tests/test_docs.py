"""The papers tell the truth: commands named exist, every command is named, links lead somewhere, sources are listed."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest
import typer.main

from conftest import ROOT
from steadyband.cli.main import app
from steadyband.ground.settings import Settings

PAPERS = [
    ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "CONTRIBUTING.md", "SECURITY.md")
] + sorted((ROOT / "docs").glob("*.md"))
GENERATED = "python docs/generate.py"
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def test_every_command_named_in_the_papers_exists() -> None:
    named = {word for path in PAPERS for word in re.findall(r"`steadyband ([a-z-]+)", path.read_text(encoding="utf-8"))}
    assert named <= COMMANDS


def test_readme_names_every_command() -> None:
    named = set(re.findall(r"(?:steadyband |`)([a-z-]+)", README))
    assert COMMANDS - named == set()


@pytest.mark.parametrize("path", PAPERS, ids=lambda path: path.name)
def test_links_lead_somewhere(path: Path) -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", path.read_text(encoding="utf-8"))
    assert [link for link in links if not (path.parent / link).exists()] == []


def test_sources_named_in_the_code_are_listed() -> None:
    listed = set(re.findall(r"^## (S\d+)", (ROOT / "docs" / "sources.md").read_text(encoding="utf-8"), re.MULTILINE))
    code = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "src").rglob("*.py"))
    assert set(re.findall(r"\bS\d{1,2}\b", code)) <= listed


@pytest.mark.newest  # ranges of numbers are told by typer, in other words by older ones
def test_generated_pages_are_what_would_be_generated() -> None:
    stale = runpy.run_path(str(ROOT / "docs" / "generate.py"))["stale"]()
    assert stale == [], f"run `{GENERATED}`"


def test_every_command_has_its_place_on_the_page() -> None:
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^## (\S+)$", page, re.MULTILINE)) == COMMANDS


def test_every_setting_has_its_place_on_the_page() -> None:
    page = (ROOT / "docs" / "settings.md").read_text(encoding="utf-8")
    groups = dict(re.findall(r"^## (\w+)\n(.*?)(?=^## )", page, re.MULTILINE | re.DOTALL))
    for name, _, default, *_ in Settings().rows():
        group, _, key = name.partition(".")
        assert f"| `{key}` | {default:g} " in groups[group] or f"| `{key}` | {default} " in groups[group], name


@pytest.mark.parametrize("path", PAPERS, ids=lambda path: path.name)
def test_sources_named_in_the_papers_are_listed(path: Path) -> None:
    listed = set(re.findall(r"^## (S\d+)", (ROOT / "docs" / "sources.md").read_text(encoding="utf-8"), re.MULTILINE))
    assert set(re.findall(r"\[(S\d+)", path.read_text(encoding="utf-8"))) <= listed


def test_readme_holds_the_two_commands() -> None:
    assert re.findall(r"<!-- command: (\w+) -->\n```sh\n.+\n```", README) == ["demo", "tests"]
