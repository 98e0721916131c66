"""Used as people use it: a real Chromium, from the first start to the first answer, and through a step test.

Shapes of screens: 1280 px and 390 px; the rules of axe-core as in tests/browser/test_accessible.py.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from serving import Client, serving

from conftest import DEMO, ROOT
from demo_home import copy_read
from steadyband.open.starting import starts_anywhere

sys.path.insert(0, str(ROOT / "tests" / "browser"))
from test_accessible import RULES, UNDECIDED, audit, told
from visits import ARTEFACTS

pytestmark = pytest.mark.browser
RIDES = sorted((DEMO / "activities" / "2026-W20").glob("*.fit"))[:3]


class Window:
    """A browser window that has come in; what it said and where it went are kept."""

    def __init__(self, browser: Any, client: Client, width: int = 1280, **more: Any) -> None:
        self.context = browser.new_context(
            viewport={"width": width, "height": 900}, timezone_id="Europe/Lisbon", **more
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(60_000)
        self.said: list[str] = []
        self.asked: list[Any] = []
        self.page.on("console", lambda message: self.said.append(f"{message.type}: {message.text}"))
        self.page.on("pageerror", lambda fault: self.said.append(f"error: {fault}"))
        self.page.on("request", lambda request: self.asked.append(request))
        self.page.on("dialog", lambda dialog: dialog.accept())
        self.way_in = client.site.entrance.way_in()
        self.page.goto(self.way_in)
        self.page.locator(".desk .bar").wait_for()

    def __enter__(self) -> Window:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()

    def wider(self) -> int:
        return int(
            self.page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
        )

    def keep(self, name: str) -> None:
        ARTEFACTS.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=str(ARTEFACTS / f"open-{name}.png"))


@pytest.fixture(scope="module")
def client(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with serving(copy_read(read_demo, tmp_path_factory.mktemp("seen") / "home")) as found:
        yield found
        found.site.desks["1"].close()


def test_from_the_first_start_to_the_first_answer(browser: Any, tmp_path: Path) -> None:
    """Open, drop, read: a place chosen, three rides and a step test dropped, the week's answer, one label and it taken back."""
    with serving(tmp_path / "nothing") as client:
        client.site.desks.clear()
        client.site.starts = starts_anywhere(tmp_path, tmp_path)
        with Window(browser, client) as window:
            page = window.page
            page.get_by_role("button", name="Keep it in").first.click()
            page.locator("#drop").wait_for()
            assert 'time_zone = "Europe/Lisbon"' in (tmp_path / "steadyband" / "athlete.toml").read_text(
                encoding="utf-8"
            )
            page.set_input_files("#files", [*map(str, RIDES), str(DEMO / "tests" / "2026-04-20-bike.toml")])
            page.locator(".ribbons").wait_for()
            assert "endurance" in page.locator("h1").inner_text()
            window.keep("first-answer")
            page.locator("button[value=easy]").first.click()
            page.locator(".done").wait_for()
            rows = (tmp_path / "steadyband" / "sessions.csv").read_text(encoding="utf-8").splitlines()
            assert rows[-1].split(",")[2] == "easy"
            page.get_by_role("button", name="Take it back").click()
            page.locator(".done").wait_for(state="detached")
            page.set_input_files("#files", [str(RIDES[0])])
            page.locator("#coming-words", has_text="1 copy left out").wait_for()
            assert [line for line in window.said if line.startswith("error")] == []


def test_the_secret_is_nowhere_afterwards(browser: Any, client: Client) -> None:
    with Window(browser, client) as window:
        window.page.locator(".ribbons").wait_for()
        secret = window.way_in.split("#")[1]
        assert len(secret) > 30
        assert secret not in window.page.url
        assert all(secret not in request.url for request in window.asked[1:])
        assert all(secret not in request.headers.get("referer", "") for request in window.asked)
        assert all(request.url.startswith(client.site.entrance.origin) for request in window.asked)
        assert window.page.evaluate("() => document.cookie") == ""
        window.page.go_back()
        assert secret not in window.page.url


VIEWS = ("", "hills", "tests", "test-new", "label", "athlete")
"""The other views are pages of the report with the same bar; tests/browser looks at those."""


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_is_accessible_and_fits(browser: Any, client: Client, view: str) -> None:
    with Window(browser, client, 390, bypass_csp=True) as window:
        window.page.locator(".ribbons").wait_for()
        window.page.goto(client.site.entrance.origin + client.at + view)
        window.page.add_style_tag(content=".table { background: none !important; }")
        assert window.wider() == 0
        places = [part.bounding_box() for part in window.page.locator(".bar a, .bar button").all()]
        assert max(place["x"] + place["width"] for place in places if place) <= 390
        found = audit(window.page, RULES)
        assert told(found) == []
        assert {item["id"] for item in found["incomplete"]} <= UNDECIDED
        window.keep(f"{view.replace('/', '-') or 'home'}-390")


def test_a_test_is_taken_by_keyboard_and_survives_a_reload(browser: Any, client: Client) -> None:
    with Window(browser, client, bypass_csp=True) as window:
        page = window.page
        page.locator(".ribbons").wait_for()
        page.goto(f"{client.site.entrance.origin}{client.at}test-new")
        page.select_option("#sport", "cycling")
        page.select_option("#last", "")
        page.fill("#steady", "150")
        page.get_by_role("button", name="Take it now").press("Enter")
        page.locator("#asked", has_text="fed").wait_for()
        for asked in ("fed", "analyser", "power meter"):
            page.locator("#asked", has_text=asked).wait_for()
            page.locator("#line:focus").wait_for()
            page.keyboard.press("Enter")
        page.locator("#asked", has_text="Baseline").wait_for()
        for line, seen in (
            ("1.1", "is fine"),
            ("next", "step 1"),
            ("1.0 at 6", "1.0 mmol/L"),
            ("121", "121 bpm"),
            ("next", "step 2"),
            ("1.2 at 6 step 2", "1.2 mmol/L"),
        ):
            page.locator("#ok:not([disabled])").wait_for()
            page.locator("#line").press_sequentially(line)
            page.keyboard.press("Enter")
            page.locator("#said", has_text=seen).wait_for()
        assert page.locator("#clock").inner_text().startswith("0:")
        assert page.locator("#curve circle").count() == 2
        window.keep("taking")
        page.reload()
        page.locator("#rows tr").nth(2).wait_for()
        assert page.locator("#rows").inner_text().count("(6:00)") == 2
        page.locator("#pad button", has_text="1").first.click()
        page.locator("#pad [data-key='.']").click()
        page.locator("#pad [data-key='3']").click()
        assert page.locator("#line").input_value() == "1.3"
        found = audit(page, RULES)
        assert told(found) == []
        page.set_viewport_size({"width": 390, "height": 844})
        assert window.wider() == 0
        window.keep("taking-390")
        page.get_by_role("button", name="Leave, and go on later").click()
        page.locator("h1", has_text="By bike").wait_for()


def test_the_close_button_ends_it(browser: Any, read_demo: Path, tmp_path: Path) -> None:
    ended: list[bool] = []
    with serving(copy_read(read_demo, tmp_path / "home")) as client:
        client.site.close = lambda: ended.append(True)
        with Window(browser, client) as window:
            window.page.get_by_role("button", name="Close").click()
            window.page.locator("h1", has_text="closed").wait_for()
    assert ended == [True]
