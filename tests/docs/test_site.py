"""The site builds without a warning, asks no other host for anything, and fits a phone."""

from __future__ import annotations

import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from conftest import ROOT

if TYPE_CHECKING:
    from playwright.sync_api import Browser

for needed in ("sphinx", "myst_parser", "furo"):
    pytest.importorskip(needed, reason="the site needs the docs extra")

PAGES = ("index", "first-week", "step-test", "reading-the-report", "limits", "commands", "settings", "method", "output")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site, built with every warning an error."""
    out = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-q", "-b", "html", str(ROOT / "docs"), str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return out


class Loads(HTMLParser):
    """Collects what a browser fetches for a page: sources, style sheets, fonts, icons."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Notes every address that is fetched, links to click aside."""
        named = dict(attrs)
        self.found += [value for key in ("src", "srcset", "poster", "data") if (value := named.get(key))]
        if tag == "link" and named.get("rel") not in ("canonical", "index", "search", "next", "prev"):
            self.found.append(named.get("href") or "")


def test_every_page_is_built(site: Path) -> None:
    built = {path.stem for path in site.glob("*.html")}
    assert {path.stem for path in (ROOT / "docs").glob("*.md")} <= built


def test_nothing_is_fetched_from_elsewhere(site: Path) -> None:
    foreign = re.compile(r"^(https?:)?//")
    for page in site.glob("*.html"):
        loads = Loads()
        loads.feed(page.read_text(encoding="utf-8"))
        assert loads.found
        assert [address for address in loads.found if foreign.match(address)] == [], page.name
    for sheet in site.rglob("*.css"):
        text = sheet.read_text(encoding="utf-8")
        assert re.findall(r"url\(\s*[\"']?(?:https?:)?//[^)]+\)|@import", text) == [], sheet.name


@pytest.mark.browser
@pytest.mark.parametrize("width", [320, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_open_quietly_and_fit(site: Path, browser: Browser, width: int, scheme: Any) -> None:
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    for name in PAGES:
        page.goto((site / f"{name}.html").as_uri())
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, f"{name} is {wide} px too wide at {width} px"
        assert page.locator("h1").count() == 1, name
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert said == []
    context.close()


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_are_accessible(site: Path, browser: Browser, scheme: Any) -> None:
    """WCAG 2.2 A and AA by axe-core, which is a package of its own and knows nothing of us."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    ).Axe()
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    for name in PAGES:
        page.goto((site / f"{name}.html").as_uri())
        found = axe.run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}).response
        assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == [], name
    context.close()


@pytest.mark.browser
def test_the_menu_leads_to_every_page(site: Path, browser: Browser) -> None:
    page = browser.new_page()
    page.goto((site / "index.html").as_uri())
    linked = {
        href.split("#")[0]
        for href in page.locator(".sidebar-tree a").evaluate_all("all => all.map(a => a.getAttribute('href'))")
    }
    assert {path.stem + ".html" for path in (ROOT / "docs").glob("*.md")} - {"index.html"} <= linked
    page.close()
