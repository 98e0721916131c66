"""Everything by keyboard: order of the tab stops, a focus that is seen, folding, the way past the links, labels of the figures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from made_pages import DRAWN, KINDS
from visits import Visit

pytestmark = pytest.mark.browser
STOP = """() => {
  const at = document.activeElement;
  if (!at || at === document.body) return null;
  const style = getComputedStyle(at);
  const all = [...document.querySelectorAll('*')];
  return {
    place: all.indexOf(at), tag: at.tagName, name: at.className, id: at.id,
    ring: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2,
    seen: at.getBoundingClientRect().width > 0 && at.checkVisibility(),
  };
}"""
CONTROLS = """() => [...document.querySelectorAll('a[href], summary, button, input, [tabindex="0"]')]
  .filter((item) => item.checkVisibility()).length"""


def stops(page: Any, most: int) -> list[dict[str, Any]]:
    """Where Tab leads from the start of the page, to its end or `most` stops on."""
    page.evaluate("() => { document.activeElement.blur(); window.scrollTo({ top: 0, behavior: 'instant' }); }")
    found: list[dict[str, Any]] = []
    for _ in range(most):
        page.keyboard.press("Tab")
        stop = page.evaluate(STOP)
        if stop is None or (found and stop["place"] <= found[0]["place"]):
            break
        found.append(stop)
    return found


@pytest.mark.parametrize("name", [name for name in KINDS if name not in ("week", "week-empty", "test-stopped")])
def test_tab_reaches_every_control_in_order_with_a_focus_that_is_seen(
    browser: Any, pages: dict[str, Path], name: str
) -> None:
    """WCAG 2.2, 2.1.1, 2.1.2, 2.4.3 and 2.4.7 (published)."""
    with Visit(browser, pages[name], drawn=False, reduced_motion="reduce") as visit:
        found = stops(visit.page, 400)
        assert len(found) == visit.page.evaluate(CONTROLS)
        assert [stop["place"] for stop in found] == sorted({stop["place"] for stop in found})
        assert all(stop["seen"] and stop["ring"] for stop in found), [s for s in found if not (s["seen"] and s["ring"])]


def test_the_first_stop_leads_past_what_comes_before_the_main_part(browser: Any, pages: dict[str, Path]) -> None:
    """WCAG 2.2, 2.4.1 (published)."""
    with Visit(browser, pages["week"], drawn=False, reduced_motion="reduce") as visit:
        visit.page.keyboard.press("Tab")
        skip = visit.page.locator(".skip")
        assert skip.bounding_box()["y"] >= 0
        visit.page.keyboard.press("Enter")
        assert visit.page.evaluate("() => document.activeElement.id") == "main"
        visit.page.keyboard.press("Tab")
        assert skip.bounding_box()["y"] < 0


@pytest.mark.parametrize("key", ["Enter", "Space"])
def test_folded_parts_open_and_close(browser: Any, pages: dict[str, Path], key: str) -> None:
    with Visit(browser, pages["week"], drawn=False) as visit:
        part = visit.page.locator("#session-1")
        part.locator("summary").first.focus()
        for wanted in (True, False):
            visit.page.keyboard.press(key)
            assert part.evaluate("part => part.open") is wanted


def test_a_link_to_a_row_in_a_folded_table_opens_it(browser: Any, pages: dict[str, Path]) -> None:
    with Visit(browser, pages["season"]) as visit:
        link = visit.page.locator("a.mini").nth(3)
        words = link.get_attribute("data-tip")
        link.focus()
        visit.page.keyboard.press("Enter")
        row = visit.page.locator(visit.page.evaluate("() => location.hash"))
        row.wait_for(state="visible")
        assert row.inner_text().startswith(words.split(",")[0])


FIGURES = {
    "week": ("session-1-ribbon", "session-1-load", "hours"),
    "block": ("hours", "chart-1"),
    "session": ("session-1-ribbon", "profile", "plan", "climb-1", "session-1-load"),
    "route": ("profile", "plan"),
    "test": ("curve", "readings"),
    "tests": ("group0",),
    "meters": ("meters",),
}


def test_the_list_of_figures_is_whole(pages: dict[str, Path]) -> None:
    for name in DRAWN:
        assert (
            (name in FIGURES)
            or 'class="plot"' not in pages[name].read_text()
            or name in ("session-run", "test-stopped")
        )


@pytest.mark.parametrize("name", FIGURES)
def test_arrow_keys_walk_through_every_figure(browser: Any, pages: dict[str, Path], name: str) -> None:
    """The label that shows on pointing shows on focus too, is read out, moves with the arrow keys, and goes on Escape."""
    with Visit(browser, pages[name], reduced_motion="reduce") as visit:
        visit.fold(True)
        assert visit.page.locator(".plot").count() == 0 or visit.page.locator(".plot .main-svg").count()
        for figure in FIGURES[name]:
            visit.page.keyboard.press("Tab")
            visit.page.locator(f"#{figure}").focus()
            first = _read_out(visit)
            visit.page.keyboard.press("End")
            last = _read_out(visit)
            visit.page.keyboard.press("ArrowLeft")
            assert len({first, last, _read_out(visit)}) == 3
            visit.page.keyboard.press("Home")
            assert _read_out(visit) == first
            visit.page.keyboard.press("Escape")
            visit.untipped()
        assert visit.said == []


def _read_out(visit: Visit) -> str:
    """What a screen reader is told, which is what a label shows."""
    visit.tip()
    text = str(visit.page.locator("[role=status]").text_content())
    assert text in visit.page.locator(".tip:visible").all_text_contents()
    return text


@pytest.mark.parametrize("name", ["week", "block", "session", "roster", "card"])
@pytest.mark.parametrize("width", [320, 1280])
def test_targets_are_large_enough_or_far_enough_apart(
    browser: Any, pages: dict[str, Path], name: str, width: int
) -> None:
    """WCAG 2.2, 2.5.8 (published): 24 by 24 px, or a circle of 24 px around the middle that meets no other target."""
    with Visit(browser, pages[name], width=width, drawn=False) as visit:
        boxes = visit.page.evaluate(
            "() => [...document.querySelectorAll('a[href]:not(.skip), summary')].filter((a) => a.checkVisibility())"
            ".map((a) => a.getBoundingClientRect()).map(({x, y, width, height}) => ({x, y, width, height}))"
        )
        small = [box for box in boxes if min(box["width"], box["height"]) < 23.9]
        for box in small:
            assert not [other for other in boxes if other is not box and _meets(box, other)]


def _meets(box: dict[str, float], other: dict[str, float]) -> bool:
    """True where a circle of 24 px around the middle of `box` reaches `other`."""
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    right, low = other["x"] + other["width"], other["y"] + other["height"]
    across, down = max(other["x"] - x, 0, x - right), max(other["y"] - y, 0, y - low)
    return (across**2 + down**2) ** 0.5 < 12
