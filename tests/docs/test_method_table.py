"""The table of the method holds: every function says its source, every test exists, every formula with a source is in it."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

import steadyband
from conftest import ROOT

METHOD = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
SOURCES = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
SECTIONS = set(re.findall(r"^#{2,3} (\d+(?:\.\d+)?)", METHOD, re.MULTILINE))
NUMBERS = set(re.findall(r"^## (S\d+)", SOURCES, re.MULTILINE))
FACE_ROOMS = ("steadyband.cli", "steadyband.report")


@dataclass(frozen=True)
class Row:
    quantity: str
    equation: str
    source: str
    function: str
    test: str
    limits: str


def rows() -> list[Row]:
    table = METHOD.split("\n## 11. ")[1]
    cells = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in table.splitlines() if line[:2] == "| "]
    kept = [line for line in cells if line[0] not in ("quantity", "---")]
    assert all(len(line) == 6 for line in kept), [line for line in kept if len(line) != 6]
    return [Row(*(cell.strip("`") for cell in line)) for line in kept]


ROWS = rows()


def sections_in(text: str) -> set[str]:
    """Sections of the method that a docstring names: METHOD 1.2, 1.4 and 6."""
    lists = re.findall(r"METHOD ((?:\d+(?:\.\d+)?)(?:(?:, | and |-)\d+(?:\.\d+)?)*)", text)
    return {number for found in lists for number in re.findall(r"\d+(?:\.\d+)?", found)}


def numbers_in(text: str) -> set[str]:
    return set(re.findall(r"\bS\d{1,2}\b", text))


def formulas() -> Iterator[tuple[str, str]]:
    """Every public function and class outside the face, as (dotted path after `steadyband.`, docstring)."""
    for module in pkgutil.walk_packages(steadyband.__path__, "steadyband."):
        if module.name.startswith(FACE_ROOMS):
            continue
        loaded = importlib.import_module(module.name)
        for name, item in vars(loaded).items():
            own = (inspect.isfunction(item) or inspect.isclass(item)) and item.__module__ == module.name
            if own and not name.startswith("_"):
                yield f"{module.name}.{name}".removeprefix("steadyband."), item.__doc__ or ""


def test_the_table_is_there() -> None:
    assert len(ROWS) > 60
    assert len({row.quantity for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.quantity)
def test_a_row_holds(row: Row) -> None:
    assert all(vars(row).values()), "a cell is empty"
    module, _, name = f"steadyband.{row.function}".rpartition(".")
    text = getattr(importlib.import_module(module), name).__doc__ or ""
    named, own = numbers_in(row.source), set(re.findall(r"section (\d+(?:\.\d+)?)", row.source))
    assert named or own, f"expected a number of sources.md or a section, found {row.source!r}"
    assert named <= NUMBERS
    assert own <= SECTIONS
    assert named <= numbers_in(text), f"the text of {row.function} does not name {named - numbers_in(text)}"
    assert own <= sections_in(text), f"the text of {row.function} does not name METHOD {own - sections_in(text)}"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.quantity)
def test_the_test_of_a_row_exists(row: Row) -> None:
    file, _, name = row.test.partition("::")
    tree = ast.parse((ROOT / "tests" / file).read_text(encoding="utf-8"))
    assert name.startswith("test_")
    assert name in {item.name for item in tree.body if isinstance(item, ast.FunctionDef)}


def test_every_formula_with_a_source_is_in_the_table() -> None:
    listed = {row.function for row in ROWS}
    sourced = {path for path, text in formulas() if numbers_in(text)}
    assert sourced - listed == set(), "add a row to docs/method.md, section 11"


def test_the_links_to_sections_are_read_as_meant() -> None:
    # By hand.
    assert sections_in("as said (METHOD 1.2, 1.4) and in METHOD 4 and 5, not METHODS") == {"1.2", "1.4", "4", "5"}
    assert numbers_in("SOURCES S1, S10; not S100x or XS2") == {"S1", "S10"}
