"""Printed to PDF: how many pages, what stands on them, read back by pdfinfo and pdftotext (Debian's poppler-utils)."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from visits import Visit, keep_bytes

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no pdftotext (poppler-utils)"),
]
MOST = {"week": 1, "block": 1, "season": 2, "session": 6, "route": 4, "test": 1, "tests": 3, "meters": 2, "roster": 4}
"""Most pages on A4 or Letter (our own measure)."""
SHEETS = ("card", "plan", "plan-foot")


def printed(visit: Visit, paper: str) -> tuple[int, str]:
    path = keep_bytes(f"{visit.path.stem}-{paper}.pdf", visit.page.pdf(format=paper, print_background=False))
    told = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True).stdout
    text = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True).stdout
    return int(re.findall(r"Pages:\s+(\d+)", told)[0]), text


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("name", [*MOST, *SHEETS])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_prints_on_few_pages_and_whole(browser: Any, pages: dict[str, Path], name: str, paper: str) -> None:
    """From a dark screen: paper is light, the answer and the cautions are on it, folded evidence and page links are not."""
    with Visit(browser, pages[name], color_scheme="dark") as visit:
        heading = flat(visit.page.locator("h1").inner_text())
        count, text = printed(visit, paper)
        assert count <= MOST.get(name, 1)
        assert heading in flat(text)
        assert "as a table" not in text
        assert "To the main part" not in text
        if name not in ("tests", "meters"):
            assert "Chest pain, fainting or unusual breathlessness" in flat(text)
        if name == "test":
            assert "its 80 % range" in text
        assert "\f\f" not in text.replace(" ", "").replace("\n", "")


def test_a_heading_is_never_the_last_thing_on_a_page(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["week"]) as visit:
        visit.fold(True)
        headings = [flat(text) for text in visit.page.locator("h2, h3").all_inner_texts()]
        _, text = printed(visit, "A4")
        ends = [flat(page.rstrip().splitlines()[-1]) for page in text.split("\f") if page.strip()]
        assert not set(ends) & set(headings)


def test_after_printing_the_screen_is_as_before(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["week"]) as visit:
        width = "() => document.querySelector('#session-1-load .main-svg').getBoundingClientRect().width"
        visit.page.locator("#session-1 > summary").click()
        visit.settle()
        before = visit.page.evaluate(width)
        visit.page.pdf(format="A4")
        visit.page.wait_for_function(f"(before) => ({width})() === before", arg=before)
        assert visit.page.locator("details[open]").count() == 1
