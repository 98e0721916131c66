"""The tutorial prints what it shows."""

from __future__ import annotations

import runpy

import pytest

from conftest import DEMO, ROOT


@pytest.mark.skipif(not (DEMO / "athlete.toml").exists(), reason="no demo folder")
def test_the_tutorial_shows_what_its_code_prints() -> None:
    page = ROOT / "docs" / "tutorial.md"
    executed = runpy.run_path(str(ROOT / "docs" / "run_tutorial.py"))["executed"]
    text = page.read_text(encoding="utf-8")
    assert executed(text, ROOT) == text
