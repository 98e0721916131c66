"""Makes the pictures of the README and the docs from the demo's reports: run the README's demo command first, then this.

    .venv/bin/python reports/make_pictures.py

It needs the test extra and Debian's chromium. The pages are drawn light, 1,200 px wide, down to where a reader has the answer.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
CHROMIUM = "/usr/bin/chromium"
WIDTH = 1200
PICTURES = {
    "week.png": ("week-*.html", "#behind", -24),
    "session.png": ("sessions/*moor-tracks*.html", "#plan", -16),
    "block.png": ("block-*.html", "#behind", -24),
    "test.png": ("2026-04-20-bike.html", "#behind", -24),
    "card.png": ("zone-card.html", "footer", 24),
}
"""Picture: which page (the latest of that name), and the first thing that is no longer on it, with pixels to spare."""


def latest(pattern: str) -> Path:
    """The page a picture is taken of."""
    found = sorted(HERE.glob(pattern))
    if not found:
        sys.exit(f"expected a page {pattern} in {HERE}, found none: run the demo command of the README first.")
    return found[-1]


def take(browser: Any, name: str) -> None:
    """One picture."""
    pattern, end, spare = PICTURES[name]
    context = browser.new_context(viewport={"width": WIDTH, "height": 1000}, color_scheme="light")
    page = context.new_page()
    page.goto(latest(pattern).as_uri())
    if page.locator("script#config").count():
        page.wait_for_selector("html[data-drawn=all]", state="attached")
    height = page.locator(end).first.bounding_box()["y"] + spare
    clip = {"x": 0, "y": 0, "width": WIDTH, "height": height}
    page.screenshot(path=str(HERE / name), full_page=True, clip=clip)
    context.close()


def main() -> None:
    """Every picture, after the pages that the week alone does not write."""
    from playwright.sync_api import sync_playwright

    demo = HERE.parent / "demo_activities"
    for command in (
        ["block", demo],
        ["test-page", demo / "tests" / "2026-04-20-bike.toml"],
        ["card", demo, "--on", "2026-05-17"],
    ):
        subprocess.run([sys.executable, "-m", "steadyband", *map(str, command)], check=True, stdout=subprocess.DEVNULL)
    with sync_playwright() as runner:
        browser = runner.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        for name in PICTURES:
            take(browser, name)
        browser.close()


if __name__ == "__main__":
    main()
