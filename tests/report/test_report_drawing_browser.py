"""How a page comes to be drawn, in a real browser: answer and ribbons at once, figures when they come near or in idle time,
all of them before printing; with the shared copy, without it, and with one that is not plotly's own."""

from __future__ import annotations

import base64
import functools
import gzip
import http.server
import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from report_builders import hard_session, week

from steadyband.report.week.files import write_week
from steadyband.report.week.page import week_page

DRAWN = "html[data-drawn=all]"
MISSING = ".missing"

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("alone") / "week.html"
    place.write_text(week_page(week(hard_session())), encoding="utf-8")
    return place


@pytest.fixture
def beside(tmp_path: Path) -> Path:
    review = week(hard_session())
    return write_week(replace(review, athlete=replace(review.athlete, reports=tmp_path)), (), shared=True)


UNFOLDED = """new MutationObserver(() => document.querySelectorAll("main > section > details:not([open])").forEach((part) => { part.open = true; }))
  .observe(document, { childList: true, subtree: true });"""
"""Opens what is folded as it is read, so that the page's own script finds every figure to be seen."""


class Opened:
    """A page, unfolded, with everything it said and asked for."""

    def __init__(self, browser: Any, address: str, before: str = "", **context: Any) -> None:
        """`before`: a script that runs before the page's own."""
        self.context = browser.new_context(viewport={"width": 1200, "height": 900}, **context)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(f"{message.type}: {message.text}"))
        self.page.on("pageerror", lambda fault: self.said.append(f"error: {fault}"))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.add_init_script(f"{UNFOLDED}\n{before}")
        self.page.goto(address)

    def __enter__(self) -> Opened:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()

    def drawn(self) -> Opened:
        self.page.wait_for_selector(DRAWN, state="attached")
        return self

    def figures(self) -> int:
        return int(self.page.locator(".plot .main-svg").count())


def test_ribbons_stand_without_scripts(browser: Any, alone: Path) -> None:
    with Opened(browser, alone.as_uri(), java_script_enabled=False) as opened:
        box = opened.page.locator("#session-1-ribbon rect").first.bounding_box()
        assert box["width"] > 5
        assert opened.page.locator(".ribbon").count() == 6
        assert "The figures need scripts" in opened.page.inner_text("main")


WHEN_RUN = """let plotly;
Object.defineProperty(window, "Plotly", { get: () => plotly, set: (value) => { plotly = value; window.ran = performance.now(); } });"""
NEVER = """window.DecompressionStream = class {
  constructor() { return new TransformStream({ transform: () => new Promise(() => {}) }); }
};"""
"""A browser that has begun to unpack and never ends."""


def test_nothing_is_unpacked_while_every_figure_is_folded(browser: Any, alone: Path) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(alone.as_uri())
    page.wait_for_selector(DRAWN, state="attached")
    assert page.evaluate("() => typeof window.Plotly") == "undefined"
    page.locator("#session-2 > summary").click()
    page.wait_for_selector("#session-2-load .main-svg")
    assert page.locator(".plot .main-svg").count() == page.locator("#session-2-load .main-svg").count()
    context.close()


def test_plotly_is_not_run_before_the_page_is_there(browser: Any, alone: Path) -> None:
    with Opened(browser, alone.as_uri(), before=WHEN_RUN) as opened:
        opened.drawn()
        painted = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
        assert opened.page.evaluate(f"() => window.ran > {painted}")


@pytest.mark.parametrize("before", ["delete window.DecompressionStream;", "window.DecompressionStream = class {};"])
def test_where_the_browser_cannot_unpack_the_page_does(browser: Any, alone: Path, before: str) -> None:
    with Opened(browser, alone.as_uri(), before=before).drawn() as opened:
        assert opened.figures() >= opened.page.locator(".plot").count()
        assert not opened.page.locator(MISSING).is_visible()
        assert opened.said == []


@pytest.mark.parametrize("damage", ["cut", "changed"])
def test_a_damaged_script_is_said_and_the_tables_stand(browser: Any, alone: Path, tmp_path: Path, damage: str) -> None:
    """Cut: it cannot be unpacked. Changed: it can, and the policy refuses it, because its hash is another."""
    page = alone.read_text(encoding="utf-8")
    packed = page.split('id="plotly">')[1].split("</script>")[0]
    other = base64.b64encode(gzip.compress(b"window.Plotly = {};")).decode()
    place = tmp_path / "week.html"
    place.write_text(page.replace(packed, packed[:4000] if damage == "cut" else other), encoding="utf-8")
    with Opened(browser, place.as_uri()) as opened:
        opened.page.wait_for_selector("html[data-drawn=none]", state="attached")
        assert "could not unpack or run" in opened.page.locator(MISSING).inner_text()
        assert opened.page.locator("#hours-table").is_visible()
        assert not opened.page.locator(".plot").first.is_visible()
        assert opened.page.evaluate("() => typeof window.Plotly") == "undefined"
        assert any("Content Security Policy" in text for text in opened.said) == (damage == "changed")


def test_a_figure_that_comes_near_is_drawn_at_once(browser: Any, alone: Path) -> None:
    with Opened(browser, alone.as_uri()) as opened:
        opened.page.locator("#session-3-load").scroll_into_view_if_needed()
        opened.page.wait_for_selector("#session-3-load .main-svg", timeout=30_000)


def test_printing_at_once_draws_every_figure(browser: Any, alone: Path, tmp_path: Path) -> None:
    """However early: also where the browser has not yet unpacked what draws them."""
    with Opened(browser, alone.as_uri(), before=NEVER) as opened:
        assert opened.figures() == 0
        opened.page.pdf(path=str(tmp_path / "week.pdf"), format="A4")
        assert opened.figures() >= opened.page.locator(".plot").count()
        assert opened.page.evaluate("() => document.documentElement.dataset.printed") == "whole"
        assert opened.said == []


def test_the_numbers_drawn_are_the_numbers_of_the_figure(browser: Any, alone: Path) -> None:
    from steadyband.report.session.view import session_view

    audit = week(hard_session()).audits[0]
    plot = session_view(audit, 1, len(audit.traces.ribbon)).plot
    assert plot is not None
    wanted = json.loads(json.dumps([[trace["x"], trace["y"]] for trace in plot.spec["data"]]))
    with Opened(browser, alone.as_uri()).drawn() as opened:
        found = opened.page.evaluate(
            "() => document.getElementById('session-1-load').data.map(t => [Array.from(t.x), Array.from(t.y)])"
        )
    assert found == wanted


def test_beside_the_copy_it_draws_the_same_and_asks_for_nothing_else(browser: Any, beside: Path) -> None:
    with Opened(browser, beside.as_uri()).drawn() as opened:
        copy = next((beside.parent / "assets").iterdir())
        assert opened.asked == [beside.as_uri(), copy.as_uri()]
        assert opened.said == []
        assert not opened.page.locator(MISSING).is_visible()
        assert opened.figures() >= opened.page.locator(".plot").count()


def test_a_session_page_finds_the_copy_from_its_own_folder(browser: Any, beside: Path) -> None:
    page = next((beside.parent / "sessions").iterdir())
    with Opened(browser, page.as_uri()).drawn() as opened:
        assert opened.said == []
        assert len(opened.asked) == 2


def test_without_the_copy_the_page_says_so_and_shows_the_rest(browser: Any, beside: Path) -> None:
    copy = next((beside.parent / "assets").iterdir())
    copy.unlink()
    with Opened(browser, beside.as_uri()) as opened:
        opened.page.wait_for_selector("html[data-drawn=none]", state="attached")
        assert opened.page.locator(MISSING).is_visible()
        assert copy.name in opened.page.locator(MISSING).inner_text()
        assert opened.page.locator("#session-1-ribbon rect").first.is_visible()
        assert opened.page.locator("#hours-table").is_visible()
        assert not opened.page.locator(".plot").first.is_visible()


def test_a_script_from_elsewhere_is_refused_beside_the_copy_too(browser: Any, beside: Path) -> None:
    """The policies must refuse what the page's own script did not ask for: a tag, and an address that is not its folder's."""
    (beside.parent / "other.js").write_text("window.other = true;", encoding="utf-8")
    text = beside.read_text(encoding="utf-8")
    beside.write_text(text.replace("</main>", '</main><script src="other.js"></script>'), encoding="utf-8")
    with Opened(browser, beside.as_uri()).drawn() as opened:
        assert opened.page.evaluate("() => typeof window.other") == "undefined"
        assert any("Content Security Policy" in text for text in opened.said)
    remote = text.replace('data-href="assets/', 'data-href="https://example.invalid/')
    beside.write_text(remote, encoding="utf-8")
    with Opened(browser, beside.as_uri()) as opened:
        opened.page.wait_for_selector("html[data-drawn=none]", state="attached")
        assert any("Content Security Policy" in text for text in opened.said)


@pytest.mark.parametrize("changed", [False, True])
def test_a_served_page_takes_only_the_copy_it_was_written_for(browser: Any, beside: Path, changed: bool) -> None:
    if changed:
        copy = next((beside.parent / "assets").iterdir())
        copy.write_text(f"{copy.read_text(encoding='utf-8')}\n;", encoding="utf-8")
    handler = functools.partial(Quiet, directory=str(beside.parent))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        with Opened(browser, f"http://127.0.0.1:{server.server_port}/{beside.name}") as opened:
            opened.page.wait_for_selector(f"html[data-drawn={'none' if changed else 'all'}]", state="attached")
        server.shutdown()


class Quiet(http.server.SimpleHTTPRequestHandler):
    """Serves a folder and says nothing."""

    def log_message(self, format: str, *args: object) -> None:
        """Says nothing."""
