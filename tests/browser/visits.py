"""A page opened in the browser with everything it said and asked for, and what is left of it as a build artefact."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from conftest import ROOT

ARTEFACTS = ROOT / "artefacts" / "browser"
"""Screenshots and PDFs of the last run; git ignores the folder."""
DRAWN = "html[data-drawn=all]"


class Visit:
    """A page opened at a width; closed at the end of the `with` block."""

    def __init__(self, browser: Any, path: Path, width: int = 1200, *, drawn: bool = True, **context: Any) -> None:
        """`drawn`: wait until every figure is drawn; further arguments go to playwright's new_context."""
        self.path, self.drawn = path, drawn
        height = context.pop("height", 900)
        self.context = browser.new_context(viewport={"width": width, "height": height}, **context)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(f"{message.type}: {message.text}"))
        self.page.on("pageerror", lambda fault: self.said.append(f"error: {fault}"))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(path.as_uri())
        if drawn:
            self.settle()

    def __enter__(self) -> Visit:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()

    def settle(self) -> None:
        """Wait until every figure is drawn (sheets have none)."""
        if self.page.locator("script#config").count():
            self.page.wait_for_selector(DRAWN, state="attached")

    def set(self, width: int | None = None, scheme: str | None = None) -> None:
        """Another width or colour scheme, without loading the page again."""
        if width is not None:
            self.page.set_viewport_size({"width": width, "height": 900})
        if scheme is not None:
            self.page.emulate_media(color_scheme=scheme)
        self.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 60)))")

    def into_view(self, selector: str) -> Any:
        """The first element found, scrolled into view, with the scrolling done: it would take labels away."""
        found = self.page.locator(selector).first
        found.scroll_into_view_if_needed()
        twice = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 60))))"
        self.page.evaluate(twice)
        return found

    def fold(self, opened: bool) -> None:
        """Open or close every folded part; figures in what was opened are drawn when this returns."""
        self.page.evaluate("(open) => document.querySelectorAll('details').forEach((d) => { d.open = open; })", opened)
        self.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 30)))")
        if self.drawn:
            self.settle()

    def tips(self) -> list[str]:
        """What the labels that can be seen say."""
        return [tip.inner_text() for tip in self.page.locator(".tip").all() if tip.is_visible()]

    def tip(self) -> str:
        """The one label that is to be seen; waits for it."""
        self.page.locator(".tip:visible").first.wait_for(timeout=5000)
        return self.tips()[0]

    def untipped(self) -> None:
        """Wait until no label is to be seen."""
        self.page.wait_for_function("() => [...document.querySelectorAll('.tip')].every((tip) => tip.hidden)")

    def overflow(self) -> int:
        """Pixels by which the page is wider than the window."""
        wide = self.page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
        return int(wide)

    def keep(self, name: str) -> None:
        """A screenshot of the whole page among the artefacts."""
        ARTEFACTS.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=str(ARTEFACTS / f"{name}.png"), full_page=True)


def keep_bytes(name: str, data: bytes) -> Path:
    """A file among the artefacts."""
    ARTEFACTS.mkdir(parents=True, exist_ok=True)
    (ARTEFACTS / name).write_bytes(data)
    return ARTEFACTS / name
