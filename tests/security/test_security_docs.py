"""Every test that docs/security.md names exists, so does every input of the corpus, and every limit stands there as it is."""

from __future__ import annotations

import ast
import re

import pytest
from make_hostile import CORPUS

from conftest import ROOT
from steadyband.recording import archives, limits, source
from steadyband.steptest.file import reading as files
from steadyband.steptest.file import workbooks

PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
NAMED = sorted(set(re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", PAGE)))
INPUTS = sorted(set(re.findall(r"\b((?:gpx|fit|packed|test|athlete|place|text)-[a-z0-9-]+)(\.\.\.)?", PAGE)))


@pytest.mark.parametrize(("file", "name"), NAMED)
def test_the_test_exists(file: str, name: str) -> None:
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    assert name in {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


@pytest.mark.parametrize(("name", "more"), INPUTS)
def test_the_input_exists(name: str, more: str) -> None:
    names = [item.name for item in CORPUS]
    assert name in names or (more and any(known.startswith(name) for known in names))


def test_every_threat_has_its_row_with_a_test() -> None:
    rows = [line for line in PAGE.split("## Limits of one recording")[0].splitlines() if line.startswith("| ")]
    told = [row for row in rows if not row.startswith(("| what could", "| ---"))]
    assert len(told) >= 30
    assert all("::" in row or "the same" in row for row in told)


def test_the_limits_are_those_of_the_code() -> None:
    """Each number on the page, by hand from the constant beside it."""
    stated = {
        "64 MiB": source.SIZE_MAX == 64 * 2**20,
        "2,000,000": limits.RECORDS_MAX == 2_000_000,
        "4,000,000; 100,000": (limits.MESSAGES_MAX, limits.OTHERS_MAX) == (4_000_000, 100_000),
        "400,000": limits.SLOW_MESSAGES_MAX == 400_000,
        "1,000; 200": (limits.PARTS_MAX, limits.SESSIONS_MAX) == (1_000, 200),
        "3,000,000": limits.MARKUP_MAX == 3_000_000,
        "14 days": limits.SPAN_MAX_S == 14 * 24 * 3600,
        "60 s": limits.TIME_MAX_S == 60,
        "1 GiB": limits.MEMORY_MAX == 2**30,
        "200 times": archives.RATIO_MAX == 200,
        "50,000": archives.MEMBERS_MAX == 50_000,
        "256 KiB": files.SIZE_MAX == 256 * 2**10,
        "10,000 characters": files.LINE_MAX == 10_000,
        "32 MiB unpacked": workbooks.UNPACKED_MAX == 32 * 2**20,
        "5,000 rows, 200 columns": (workbooks.ROWS_MAX, workbooks.COLUMNS_MAX) == (5_000, 200),
    }
    assert {text for text in stated if text not in PAGE} == set()
    assert {text for text, holds in stated.items() if not holds} == set()
