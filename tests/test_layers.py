"""Imports run one way, and the command line starts without the heavy packages."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

from conftest import ROOT
from steadyband.report.common.pages import ROOMS as PAGE_ROOMS

PACKAGE = ROOT / "src" / "steadyband"
ROOMS = ("ground", "recording", "steptest", "audit", "told", "athlete", "review", "report", "open", "cli")
"""From the ground up: a room imports from itself and from rooms before it."""
APART = {("steptest", "recording")}
"""Pairs of rooms that do not see each other though they stand in order."""
MODULES = sorted(path for room in ROOMS for path in (PACKAGE / room).rglob("*.py"))
EXCEPTIONS = {"steptest/measure.py": {"recording"}}
"""The one function of the step-test room that sees a recording: it measures steps from one-second rows."""
HEAVY = ("pandas", "polars", "plotly", "scipy", "jinja2", "starlette", "uvicorn")


def _rooms_imported(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    names += [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    return {name.split(".")[1] for name in names if name.startswith("steadyband.")}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_imports_run_one_way(path: Path) -> None:
    place = path.relative_to(PACKAGE)
    room = place.parts[0]
    below = set(ROOMS[: ROOMS.index(room) + 1]) - {other for one, other in APART if one == room}
    assert _rooms_imported(path) <= below | EXCEPTIONS.get(place.as_posix(), set())


def test_every_file_stands_in_a_room() -> None:
    assert {path.name for path in PACKAGE.iterdir() if path.suffix == ".py"} == {"__init__.py", "__main__.py"}
    assert {path.name for path in PACKAGE.iterdir() if path.is_dir() and path.name != "__pycache__"} == set(ROOMS)


def test_no_product_file_is_named_like_a_test() -> None:
    assert [path for path in PACKAGE.rglob("*.py") if path.name.startswith("test_")] == []


def test_what_pages_share_knows_no_page() -> None:
    common = sorted((PACKAGE / "report" / "common").glob("*.py"))
    seen = {
        line.strip()
        for path in common
        for line in path.read_text(encoding="utf-8").splitlines()
        if "from steadyband.report." in line and "from steadyband.report.common" not in line
    }
    assert seen == set()


def test_every_room_of_a_page_is_complete() -> None:
    """A folder with a template holds what makes the page, and it is one of the rooms templates are looked for in."""
    with_template = {path.parent.name for path in (PACKAGE / "report").rglob("*.html.j2")} - {"templates"}
    assert with_template | {"common/templates"} == set(PAGE_ROOMS)
    for room in with_template:
        folder = PACKAGE / "report" / room
        assert any((folder / name).exists() for name in ("page.py", "pages.py", "view.py")), room


def test_formats_are_named_in_one_place() -> None:
    """Another reader is a package and a line in `recording/formats.py`: no other file lists the formats."""
    listing = re.compile(r"FIT or GPX|[\"']fit[\"'], [\"']gpx[\"']")
    named = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if listing.search(path.read_text("utf-8"))
    }
    assert named == {"recording/formats.py"}


def test_there_is_no_circle_of_imports() -> None:
    """Whatever is imported anywhere, inside functions too: following it never leads back."""
    known = {_module(path) for path in PACKAGE.rglob("*.py")}
    leads = {_module(path): _modules_imported(path, known) for path in PACKAGE.rglob("*.py")}
    order = TopologicalSorter(leads)
    order.prepare()  # raises CycleError, which names the circle


def _module(path: Path) -> str:
    return ".".join(("steadyband", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__")


def _modules_imported(path: Path, known: set[str]) -> set[str]:
    """Modules named by the imports of a file; a package stands for its own `__init__.py` alone."""
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    found = {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    for node in nodes:
        if isinstance(node, ast.ImportFrom) and node.module:
            inside = {f"{node.module}.{alias.name}" for alias in node.names} & known
            found |= inside or {node.module}
    return (found & known) - {_module(path)}


@pytest.mark.parametrize("arguments", [["--help"], ["week", "nowhere"], ["audit", "nowhere.fit"]])
def test_help_and_errors_load_no_heavy_package(arguments: list[str]) -> None:
    code = (
        "import sys\nfrom steadyband.cli.main import main\n"
        f"sys.argv = ['steadyband', *{arguments!r}]\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.splitlines()[-1] == "[]"


def test_files_stay_small() -> None:
    """No module past 500 lines: a sign of two topics in one room."""
    assert [path for path in PACKAGE.rglob("*.py") if len(path.read_text(encoding="utf-8").splitlines()) > 500] == []
