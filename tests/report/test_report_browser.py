"""The week page in a real browser: no error, no request, no sideways scroll, every ribbon drawn, prints, folds."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from report_builders import hard_session, week

from steadyband.report.pages import week_page
from steadyband.report.palette import DARK, LIGHT

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DRAWN = "html[data-drawn=all]"

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not CHROMIUM.exists(), reason="no chromium at /usr/bin/chromium"),
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with api.sync_playwright() as runner:
        chromium = runner.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("report") / "week.html"
    path.write_text(week_page(week(hard_session())), encoding="utf-8")
    return path.as_uri()


class Visit:
    """A page opened at a width, with everything it said and asked for."""

    def __init__(self, browser: Any, address: str, width: int, scheme: str = "light") -> None:
        self.context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(f"{message.type}: {message.text}"))
        self.page.on("pageerror", lambda fault: self.said.append(f"error: {fault}"))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(address)
        self.page.wait_for_selector(DRAWN, state="attached")

    def __enter__(self) -> Visit:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()


def test_no_console_message_and_no_request_but_the_file_itself(browser: Any, address: str) -> None:
    with Visit(browser, address, 1200) as visit:
        assert visit.said == []
        assert visit.asked == [address]


def test_the_policy_itself_forbids_a_load(browser: Any, address: str) -> None:
    """The check above could pass by chance: an image asked for by hand must be refused by the policy."""
    with Visit(browser, address, 800) as visit:
        visit.page.evaluate(
            "() => { const i = new Image(); i.src = 'https://example.invalid/x.png'; document.body.append(i); }"
        )
        visit.page.wait_for_timeout(200)
        assert any("Content Security Policy" in text for text in visit.said)


@pytest.mark.parametrize("width", [320, 390, 768, 1200, 1920])
def test_no_sideways_scroll(browser: Any, address: str, width: int) -> None:
    with Visit(browser, address, width) as visit:
        assert visit.page.evaluate("() => document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [320, 1200])
def test_every_ribbon_is_drawn_inside_the_page(browser: Any, address: str, width: int) -> None:
    with Visit(browser, address, width) as visit:
        for number in range(1, 7):
            plot = visit.page.locator(f"#session-{number}-ribbon .main-svg").first
            box = plot.bounding_box()
            assert box["width"] > 250
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= width
            assert visit.page.locator(f"#session-{number}-ribbon .bars path").count() >= 1
        assert (
            visit.page.locator("#session-3-ribbon .scatterlayer path").count() == 36
        )  # pinned: surges of the builder's ride


def test_time_marks_stand_over_the_ribbons_lines(browser: Any, address: str) -> None:
    with Visit(browser, address, 1200) as visit:
        mark = visit.page.locator(".axis span").nth(1).bounding_box()
        line = visit.page.locator("#session-1-ribbon .xgrid").nth(1).bounding_box()
        assert mark["x"] + mark["width"] / 2 == pytest.approx(line["x"] + line["width"] / 2, abs=3)


def test_a_bar_says_its_time_band_and_load(browser: Any, address: str) -> None:
    with Visit(browser, address, 1200) as visit:
        box = visit.page.locator("#session-1-ribbon").bounding_box()
        visit.page.mouse.move(box["x"] + 0.2 * box["width"], box["y"] + 0.7 * box["height"])
        tip = visit.page.locator(".tip")
        tip.wait_for(state="visible", timeout=5000)
        text = tip.inner_text()
        assert "steady" in text
        assert " W" in text
        assert text[2] == ":"
        visit.page.mouse.move(2, 2)
        tip.wait_for(state="hidden", timeout=5000)


def test_dark_follows_the_reader(browser: Any, address: str) -> None:
    for scheme, palette in (("light", LIGHT), ("dark", DARK)):
        with Visit(browser, address, 800, scheme) as visit:
            colour = visit.page.evaluate("() => getComputedStyle(document.body).backgroundColor")
            wanted = tuple(int(palette["paper"][i : i + 2], 16) for i in (1, 3, 5))
            assert colour == f"rgb{wanted}"


def test_details_open_by_keyboard_and_links_lead_to_sections(browser: Any, address: str) -> None:
    with Visit(browser, address, 800) as visit:
        summary = visit.page.locator("#session-1 summary").first
        summary.focus()
        visit.page.keyboard.press("Enter")
        assert visit.page.locator("#session-1 details").first.evaluate("part => part.open") is True
        visit.page.locator(".who a").nth(2).focus()
        visit.page.keyboard.press("Enter")
        assert visit.page.url.endswith("#session-3")


def test_no_layout_shift_while_the_figures_are_drawn(browser: Any, address: str) -> None:
    with Visit(browser, address, 1200) as visit:
        shift = visit.page.evaluate(
            "() => new Promise(done => { let total = 0; new PerformanceObserver(list => {"
            " for (const e of list.getEntries()) total += e.value; }).observe({type: 'layout-shift', buffered: true});"
            " setTimeout(() => done(total), 300); })"
        )
        assert shift < 0.02


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_prints_on_a_few_pages_without_background_ink(browser: Any, address: str, tmp_path: Path, paper: str) -> None:
    with Visit(browser, address, 1200, "dark") as visit:
        path = tmp_path / "week.pdf"
        visit.page.pdf(path=str(path), format=paper)
        data = path.read_bytes()
        assert 3 <= data.count(b"/Type /Page\n") <= 12
        width = "() => document.querySelector('#session-1-ribbon .main-svg').getBoundingClientRect().width"
        restored = [visit.page.wait_for_timeout(100) or visit.page.evaluate(width) for _ in range(20)]
        assert restored[-1] > 500
