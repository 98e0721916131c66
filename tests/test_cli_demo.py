"""`demo`, `--version` and `python -m steadyband` as a new user meets them."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest
from typer.testing import CliRunner

import console
import steadyband.cli.main
from conftest import DEMO
from demo_home import NOT_THE_ATHLETES


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "steadyband", *arguments]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, encoding="utf-8", check=False)


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    home = tmp_path_factory.mktemp("a new user")
    return home, run("demo", "my demo", cwd=home)


def test_demo_reviews_its_week_and_says_what_to_do_next(shown: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    home, done = shown
    assert (done.returncode, done.stderr) == (0, "")
    assert "This athlete is invented" in done.stdout.splitlines()[1]
    assert (home / "my demo" / "reports" / "week-2026-W20.html").is_file()
    assert list(home.iterdir()) == [home / "my demo"]
    text = " ".join(done.stdout.split())
    for words in ("Since last week", "after three of five held", "Next: open that page", "steadyband init"):
        assert words in text
    assert [line for line in done.stdout.splitlines() if len(line) > 80 and not line.startswith("Page: ")] == []


def test_every_command_it_names_works(shown: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    home, done = shown
    named = [line for line in done.stdout.splitlines() if line.startswith("  steadyband ")]
    assert len(named) == 3
    for line in named:
        words = shlex.split(re.split(r"\s{2,}", line.strip())[0])
        tried = console.run(*words[1:], cwd=home)
        assert (tried.returncode, tried.stderr) == (0, ""), tried.stderr


def test_the_week_is_that_of_the_demo_in_the_repository(
    shown: tuple[Path, subprocess.CompletedProcess[str]], tmp_path: Path
) -> None:
    """The copy of the repository's folder keeps its reports beside it, as that does."""
    home, _ = shown
    repository = tmp_path / "demo_activities"
    shutil.copytree(DEMO, repository, ignore=NOT_THE_ATHLETES)
    carried, committed = (
        json.loads(console.run("week", folder, "--format", "json", cwd=home).stdout)
        for folder in ("my demo", str(repository))
    )
    assert (carried.pop("page"), committed.pop("page")) == (
        str(home / "my demo" / "reports" / "week-2026-W20.html"),
        str(tmp_path / "reports" / "week-2026-W20.html"),
    )
    assert carried == committed
    assert carried["week"] == "2026-W20"


def test_second_time_it_refuses(shown: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    home, _ = shown
    again = console.run("demo", "my demo", cwd=home)
    assert (again.returncode, again.stdout) == (2, "")
    assert again.stderr.startswith("expected a new name for the demo's folder, found something at my demo")
    assert "Traceback" not in again.stderr


def test_version() -> None:
    done = CliRunner().invoke(steadyband.cli.main.app, ["--version"])
    assert (done.exit_code, done.stdout) == (0, f"steadyband {version('steadyband')}\n")
    assert steadyband.__version__ == version("steadyband")
