"""Imports run one way, and the command line starts without the heavy packages."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from conftest import ROOT

PACKAGE = ROOT / "src" / "steadyband"
GROUND = {
    "cells",
    "errors",
    "locking",
    "opening",
    "plain",
    "reader",
    "road",
    "robust",
    "setting",
    "settings",
    "settings_review",
    "settings_session",
    "settings_steptest",
    "slope",
    "units",
    "writing",
}
ALLOWED = {
    "recording": GROUND,
    "steptest": GROUND,
    "audit": GROUND | {"steptest", "recording"},
    "review": GROUND | {"steptest", "recording", "audit"},
    "report": GROUND | {"steptest", "recording", "audit", "review"},
}
MODULES = sorted(path for room in ALLOWED for path in (PACKAGE / room).rglob("*.py"))
EXCEPTIONS = {"steptest/measure.py": {"recording"}}
"""The one function of the step-test room that sees a recording: it measures steps from one-second rows."""
HEAVY = ("pandas", "polars", "plotly", "scipy", "jinja2")


def _rooms_imported(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    names += [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    return {name.split(".")[1] for name in names if name.startswith("steadyband.")}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_one_way(path: Path) -> None:
    place = path.relative_to(PACKAGE)
    room = place.parts[0]
    assert _rooms_imported(path) <= ALLOWED[room] | {room} | EXCEPTIONS.get(place.as_posix(), set())


def test_ground_imports_only_ground() -> None:
    for name in GROUND:
        assert _rooms_imported(PACKAGE / f"{name}.py") <= GROUND


@pytest.mark.parametrize("arguments", [["--help"], ["week", "nowhere"], ["audit", "nowhere.fit"]])
def test_help_and_errors_load_no_heavy_package(arguments: list[str]) -> None:
    code = (
        "import sys\nfrom steadyband.cli import main\n"
        f"sys.argv = ['steadyband', *{arguments!r}]\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.splitlines()[-1] == "[]"


def test_files_stay_small() -> None:
    """No module past 500 lines: a sign of two topics in one room."""
    assert [path for path in PACKAGE.rglob("*.py") if len(path.read_text(encoding="utf-8").splitlines()) > 500] == []
