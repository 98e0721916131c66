"""The pages of the block and the season: one file each, escaped, nothing loaded, everything said in words too."""

from __future__ import annotations

import html
import json
import re
import sys
from datetime import date, timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest

from conftest import ROOT

sys.path.insert(0, str(ROOT / "tests" / "review"))

from many_sessions import folder, series, session

from steadyband.report.block.page import block_page
from steadyband.report.block.terminal import block_view
from steadyband.report.common.strips import strip
from steadyband.report.season.page import history_page
from steadyband.report.season.terminal import history_view
from steadyband.review.block import review_block
from steadyband.review.history import history
from steadyband.review.model import Review

MONDAY = date(2026, 1, 12)
STEADY = [0.93, 0.94, 0.92, 0.93, 0.94, 0.93, 0.92, 0.93, 0.93, 0.92]


def block(tmp_path: Path, **text: object) -> Review:
    sessions = [
        *series([*STEADY, *[0.985] * 4], first=MONDAY, shifts=(2.0,), hr_drift=3.0),
        session(MONDAY + timedelta(days=5), hour=17, guess="hard", in_band=None, agreement=None),
        session(MONDAY + timedelta(days=6), 1.02, in_band=False, codes=("too_high",), agreement=0.6),
    ]
    return review_block(folder(tmp_path, dict(text)), sorted(sessions, key=lambda item: item.audit.info.start))


class Outline(HTMLParser):
    """Tags, ids and the texts of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.labelled: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if found.get("id"):
            self.ids.append(str(found["id"]))
        self.labelled += str(found.get("aria-labelledby", "")).split()
        self.links += [str(found[name]) for name in ("src", "href") if found.get(name)]


def test_block_page_says_everything_in_words(tmp_path: Path) -> None:
    review = block(tmp_path)
    page = block_page(review)
    for text in (
        review.answer,
        *review.notes["drift"],
        *review.notes["fit"],
        *(item.unless for item in review.decisions),
    ):
        assert text.replace("'", "&#39;") in page
    assert re.search(r"too high \(unsure\), agreement \d\d %", page)
    assert "asked about: hard?" in page


@pytest.mark.parametrize("kind", ["block", "history"])
def test_pages_stand_alone_and_are_well_formed(tmp_path: Path, kind: str) -> None:
    review = block(tmp_path)
    page = block_page(review) if kind == "block" else history_page(history(folder(tmp_path), review.sessions))
    outline = Outline(page)
    assert len(outline.ids) == len(set(outline.ids))
    assert set(outline.labelled) <= set(outline.ids)
    assert [link for link in outline.links if not link.startswith("#")] == []
    assert "default-src 'none'" in html.unescape(page)
    plots = re.findall(r'<script type="application/json" data-plot="([^"]+)">(.*?)</script>', page, re.S)
    assert all(json.loads(spec) and name in outline.ids for name, spec in plots)
    assert len(plots) == (3 if kind == "block" else 0)


def test_names_are_escaped(tmp_path: Path) -> None:
    review = block(tmp_path, name="<script>alert(1)</script>")
    for page in (block_page(review), history_page(history(folder(tmp_path, {"name": "<b>"}), review.sessions))):
        assert "<script>alert" not in page
        assert "of <b>" not in page


def test_strips_cover_a_session_and_tell_its_verdict() -> None:
    found = strip(session(MONDAY, in_band=False, codes=("surges",)), 5400)
    assert (found.width, found.amiss, found.words) == ("100.00", True, "Mon 12 Jan, ride, 1 h 30: surges")
    assert sum(float(piece.width) for piece in found.pieces) == pytest.approx(100)
    assert strip(session(MONDAY, minutes=1), 36000).width == "7.00"


def test_terminal_views_fit_80_columns(tmp_path: Path) -> None:
    from rich.console import Console

    review = block(tmp_path)
    season = history(folder(tmp_path), review.sessions)
    for view in (block_view(review), history_view(season)):
        console = Console(width=80, record=True, file=open("/dev/null", "w", encoding="utf-8"))  # noqa: SIM115, PTH123
        console.print(view)
        lines = console.export_text().splitlines()
        assert len(lines) > 3
        assert max(map(len, lines)) <= 80
        console.file.close()
