"""Labels on pointing: what they say, that they can be pointed at, stay, and go (WCAG 2.2, 1.4.13, published); links; folding."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from visits import Visit

pytestmark = pytest.mark.browser


def middle(box: dict[str, float], across: float = 0.5, down: float = 0.5) -> tuple[float, float]:
    return box["x"] + across * box["width"], box["y"] + down * box["height"]


def test_a_piece_of_a_ribbon_says_its_time_band_and_load(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["week"]) as visit:
        visit.page.mouse.move(*middle(visit.page.locator("#session-1-ribbon").bounding_box(), 0.2, 0.7))
        text = visit.tip()
        assert "steady" in text
        assert " W" in text
        assert text[2] == ":"
        visit.page.mouse.move(2, 2)
        visit.untipped()


def test_a_tick_of_a_ribbon_tells_its_surge(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["week"]) as visit:
        tick = visit.page.locator("#session-3-ribbon .ticks line").nth(4)
        visit.page.mouse.move(*middle(tick.bounding_box()))
        assert "above the ceiling" in visit.tip()


@pytest.mark.parametrize(
    ("name", "figure"), [("week", "session-1-ribbon"), ("week", "session-1-load"), ("test", "curve")]
)
def test_a_label_can_be_pointed_at_and_goes_on_escape(
    browser: Any, pages: dict[str, Path], name: str, figure: str
) -> None:
    with Visit(browser, pages[name], reduced_motion="reduce") as visit:
        visit.fold(True)
        box = visit.into_view(f"#{figure}")
        if figure == "curve":
            at = middle(visit.page.locator("#curve .points path.point").nth(12).bounding_box())
        else:
            at = middle(box.bounding_box(), 0.2, 0.4 if figure.endswith("load") else 0.7)
        visit.page.mouse.move(at[0] - 1, at[1])
        visit.page.mouse.move(*at)
        text = visit.tip()
        card = visit.page.locator(".tip:visible").bounding_box()
        visit.page.mouse.move(at[0], card["y"] + card["height"] - 4, steps=6)
        visit.page.mouse.move(*middle(card), steps=4)
        visit.page.wait_for_timeout(700)
        assert visit.tips() == [text]
        visit.page.keyboard.press("Escape")
        assert visit.tips() == []


def test_a_label_stays_inside_a_narrow_window(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["week"], width=320, reduced_motion="reduce") as visit:
        for across in (0.02, 0.98):
            ribbon = visit.into_view("#session-5-ribbon")
            visit.page.mouse.move(*middle(ribbon.bounding_box(), across, 0.7))
            visit.tip()
            card = visit.page.locator(".tip:visible").bounding_box()
            assert card["x"] >= 0
            assert card["x"] + card["width"] <= 320
            visit.page.mouse.move(2, 2)
            visit.untipped()


def test_names_from_files_stay_text_in_labels(browser: Any, pages: dict[str, Path], tmp_path: Path) -> None:
    evil = "<b>x</b><img src=q onerror=alert(1)>"
    text = pages["season"].read_text(encoding="utf-8")
    first = text.index('data-tip="') + len('data-tip="')
    escaped = evil.replace("<", "&lt;").replace(">", "&gt;")
    path = tmp_path / "evil.html"
    path.write_text(text[:first] + escaped + text[first:], encoding="utf-8")
    with Visit(browser, path) as visit:
        visit.page.locator("a.mini").first.hover()
        assert visit.tip().startswith(evil)
        assert visit.page.locator(".tip img").count() == 0


def test_a_surge_pointed_at_shows_in_the_other_figure(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["session"], height=1600, reduced_motion="reduce") as visit:
        visit.page.wait_for_selector("html[data-linked=yes]", state="attached")
        for one in ("profile", "plan"):
            visit.into_view("#plan")
            point = visit.page.locator(f"#{one} .scatterlayer .points path.point").nth(7)
            visit.page.mouse.move(*middle(point.bounding_box()))
            visit.page.wait_for_function("() => document.querySelectorAll('.tip:not([hidden])').length === 2")
            texts = visit.tips()
            assert texts[0] == texts[1]
            assert "above the ceiling" in texts[0]
            visit.page.mouse.move(2, 2)
            visit.untipped()


def test_ribbons_lead_to_their_sessions(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["week"], reduced_motion="reduce") as visit:
        visit.page.locator(".who a").nth(2).click()
        assert visit.page.url.endswith("#session-3")
        assert visit.page.locator("#session-3").evaluate("part => part.open")
        assert abs(visit.page.locator("#session-3").bounding_box()["y"]) < 5
