"""docs/dependencies.md against pyproject.toml and what is installed: nothing missing, nothing superfluous, licences as stated.

Expected values are the packages' own metadata, read by importlib.metadata and packaging; none comes from this package.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib

import pytest
from packaging.requirements import Requirement

from conftest import ROOT
from dependency_tree import EVERYWHERE, HERE, closure, find, key, licence

pytestmark = pytest.mark.newest

PAGE = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
ALLOWED = {
    *(
        "0BSD",
        "Apache-2.0",
        "BSD",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "CC0-1.0",
        "ISC",
        "MIT",
        "MPL-2.0",
        "PSF-2.0",
        "Zlib",
    ),
    "public domain",
}
NOTED = {
    "docutils": "BSD / GPL / public domain",
    "garmin-fit-sdk": "LicenseRef-FIT-Protocol-License-Agreement",
    "odfpy": "Apache-2.0 / GPL / LGPL",
}
"""Packages with a licence outside ALLOWED, each with its reason on the page."""


def table(name: str) -> dict[str, tuple[str, ...]]:
    """Rows of the table after `<!-- packages: name -->`, by the package in the first column."""
    lines = PAGE.split(f"<!-- packages: {name} -->\n")[1].split("\n\n")[0].splitlines()[2:]
    rows = [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines]
    assert len({row[0] for row in rows}) == len(rows)
    return {row[0]: row[1:] for row in rows}


def own(requirements: list[str]) -> list[Requirement]:
    """Requirements but those on another extra of this package."""
    return [item for item in map(Requirement, requirements) if key(item.name) != "steadyband"]


GROUPS = {
    "runtime": own(PROJECT["dependencies"]),
    **{name: own(lines) for name, lines in PROJECT["optional-dependencies"].items()},
}
DIRECT = {key(item.name) for group in GROUPS.values() for item in group}
INSTALLED = [name for name, group in GROUPS.items() if all(find(item.name) for item in group)]
BROUGHT = table("brought along")
ROWS = [(name, row[-1]) for group in GROUPS for name, row in table(group).items()]
ROWS += [(name, row[-1]) for name, row in BROUGHT.items()]


def brought_by(group: str, everywhere: bool = False) -> set[str]:
    environments = EVERYWHERE if everywhere else (HERE,)
    found: set[str] = set()
    return found.union(*(closure(str(item), environments) for item in GROUPS[group])) - DIRECT


def test_the_tables_are_those_of_the_project() -> None:
    assert re.findall(r"<!-- packages: (.+) -->", PAGE) == [*GROUPS, "brought along"]
    assert {"runtime", "dask", "test"} <= set(INSTALLED)


@pytest.mark.parametrize("group", GROUPS)
def test_each_direct_dependency_stands_there_with_its_lowest_version_and_a_reason(group: str) -> None:
    rows = table(group)
    assert {name: f">={lowest}" for name, (lowest, _, _) in rows.items()} == {
        item.name: str(item.specifier) for item in GROUPS[group]
    }
    assert [name for name, (_, reason, _) in rows.items() if len(reason.split()) < 3] == []
    assert list(rows) == sorted(rows)


@pytest.mark.parametrize("group", INSTALLED)
def test_all_that_comes_along_stands_there_and_nothing_else(group: str) -> None:
    word = "program" if group == "runtime" else group
    listed = {name for name, (groups, _, _) in BROUGHT.items() if word in groups.split(", ")}
    unknown = {name for name in listed if BROUGHT[name][1] and find(name) is None}  # nor is what it would bring
    assert brought_by(group, everywhere=True) - unknown == listed - unknown


@pytest.mark.parametrize("group", INSTALLED)
def test_what_is_only_on_other_systems_is_marked(group: str) -> None:
    here = brought_by(group)
    elsewhere = brought_by(group, everywhere=True) - here
    assert {name for name in elsewhere if not BROUGHT[name][1] and find(name) is None} == set()
    assert {name for name in here if not find(name)} == set()


@pytest.mark.parametrize(("name", "stated"), ROWS, ids=[name for name, _ in ROWS])
def test_licence_is_the_one_of_the_package_itself_and_allowed(name: str, stated: str) -> None:
    found = find(name)
    if found is not None:
        assert licence(found) == stated
    assert is_allowed(stated) or NOTED.get(name) == stated


def test_each_licence_outside_the_list_has_its_reason_on_the_page() -> None:
    reasons = PAGE.split("Three need a word:")[1].split("## Known")[0]
    assert {name for name, stated in ROWS if not is_allowed(stated)} == NOTED.keys()
    assert [name for name in NOTED if f"- `{name}` " not in reasons] == []
    assert "garmin-fit-sdk" in table("test")
    assert "docs" in BROUGHT["docutils"][0]


def is_allowed(stated: str) -> bool:
    """All of `A AND B` or `A / B`, one of `A OR B`."""
    return all(any(one.strip() in ALLOWED for one in part.split(" OR ")) for part in re.split(" AND | / ", stated))


@pytest.mark.parametrize(
    ("stated", "allowed"),
    [
        ("MIT AND PSF-2.0", True),
        ("MIT AND GPL", False),
        ("GPL OR MIT", True),
        ("GPL", False),
        ("Apache-2.0 / GPL", False),
    ],
)
def test_licences_are_weighed_by_and_and_or(stated: str, allowed: bool) -> None:
    """By hand: AND binds to all, OR leaves the choice (SPDX licence expressions); several classifiers leave none."""
    assert is_allowed(stated) is allowed


def test_installed_metadata_is_that_of_the_project() -> None:
    """A stale editable install would let the other tests look at yesterday's requirements."""
    mine = find("steadyband")
    assert mine is not None
    plain = {str(Requirement(line)) for line in mine.requires or [] if "extra ==" not in line}
    assert plain == {str(item) for item in GROUPS["runtime"]}, "Install again: python -m pip install -e '.[test]'"


IMPORT_NAMES = {
    "axe-playwright-python": "axe_playwright_python",
    "python-calamine": "python_calamine",
    "garmin-fit-sdk": "garmin_fit_sdk",
    "fit-tool": "fit_tool",
}
NOT_IMPORTED = {
    "odfpy": "pandas imports it by the name of its engine",
    "openpyxl": "pandas imports it by the name of its engine",
    "plotly": "its script is read from the package as a file",
    "pyarrow": "polars imports it for .to_pandas()",
    "tzdata": "data, found by zoneinfo",
    "build": "run as a program",
    "hatchling": "the build backend",
    "pytest-xdist": "a plug-in of pytest, asked for by -n",
}


def imported_below(*folders: str) -> set[str]:
    """Top-level names of every import in the Python files of some folders, but of the standard library and our own."""
    found: set[str] = set()
    own_modules = {"steadyband", "conftest"}
    for path in (path for folder in folders for path in (ROOT / folder).rglob("*.py")):
        own_modules |= set() if path.is_relative_to(ROOT / "src") else {path.stem, path.parent.name}
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            found |= {name.split(".")[0] for name in names_imported(node)}
    return found - sys.stdlib_module_names - own_modules


def names_imported(node: ast.AST) -> list[str]:
    match node:
        case ast.Import(names=names):
            return [alias.name for alias in names]
        case ast.ImportFrom(module=str(module), level=0):
            return [module]
        case ast.Call(
            func=ast.Attribute(attr="import_module" | "importorskip"), args=[ast.Constant(value=str(module)), *_]
        ):
            return [module]
    return []


def import_names(*groups: str) -> set[str]:
    names = {item.name for group in groups for item in GROUPS[group]} - NOT_IMPORTED.keys()
    names |= {extra for group in groups for item in GROUPS[group] for extra in item.extras}
    return {IMPORT_NAMES.get(name, name) for name in names}


def test_the_program_imports_what_it_requires_and_nothing_else() -> None:
    """By the syntax tree of every module: an import of something that only came along would break one day."""
    assert imported_below("src") - import_names("dask") == import_names("runtime")


def test_tests_import_what_the_test_extra_requires_and_nothing_else() -> None:
    found = imported_below("tests", "demo_activities") - {path.stem for path in (ROOT / "benchmarks").glob("*.py")}
    assert found - NOT_IMPORTED.keys() <= import_names("runtime", "arrow", "dask", "test")
    assert import_names("test") <= found
