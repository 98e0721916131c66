"""Plan sheet, zone card, test page, meters and tests over time: what they say, and that they print on one page."""

from __future__ import annotations

import html
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from conftest import ROOT
from steadyband.ground.reader import Reader, written_for
from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import load_text
from steadyband.report.card.view import card_columns, card_load
from steadyband.report.test.pages import (
    card_page,
    history_page,
    meter_lines,
    meters_page,
    plan_page,
    step_test_page,
)
from steadyband.steptest.dialogue.plan import PlanRequest, plan_test
from steadyband.steptest.meters import MeterSeries, compare_meters
from steadyband.steptest.model import ZoneSet

sys.path.insert(0, str(ROOT / "tests" / "steptest"))
from field_data import BIKE, foot_zones, no_easy_zones, zones

SETTINGS = StepTestSettings()
ON = date(2026, 5, 1)
CAUTIONS = ("Chest pain, fainting or unusual breathlessness", "licensed professional")
FORCED = "only slot this month"


def in_miles(make: Callable[[], str]) -> str:
    with written_for(Reader("miles")):
        return make()


def forced() -> ZoneSet:
    return zones(baseline=(1.9,), override=FORCED)


def blocked() -> ZoneSet:
    return zones(baseline=(1.9,))


def jumped() -> ZoneSet:
    return zones([(120, 1.0, 104), (140, 1.0, 109), (160, 1.1, 115), (180, 2.6, 128), (200, 3.4, 136)])


def text_of(page: str) -> str:
    """The words of a page without its scripts and styles."""
    bare = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.S)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bare)))


class Shape(HTMLParser):
    """Checks that tags close in order, and that nothing is loaded from anywhere."""

    VOID = frozenset({"meta", "link", "br", "img", "input", "hr"})

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.loads: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.VOID:
            self.open.append(tag)
        self.loads += [
            f"{name}={value}" for name, value in attrs if name in ("src", "href") and not (value or "").startswith("#")
        ]

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag


def meters() -> Any:
    rng = np.random.default_rng(3)
    base = np.repeat(rng.uniform(90, 260, 60), 60) + rng.normal(0, 10, 3600)
    return compare_meters(MeterSeries("trainer", 0, base), MeterSeries("pedals", 0, base + 6 + rng.normal(0, 2, 3600)))


def pages() -> dict[str, str]:
    later = zones([(load + 20, value, hr) for load, value, hr in BIKE], date=date(2026, 7, 1), analyser="another")
    return {
        "plan-bike": plan_page(plan_test(PlanRequest("cycling", "W", 74, 200))),
        "plan-foot": plan_page(plan_test(PlanRequest("running", "km/h", None, 11.0))),
        "plan-long": plan_page(plan_test(PlanRequest("running", "km/h", last=no_easy_zones()))),
        "card": card_page([zones(), foot_zones()], ON, SETTINGS, name="Robin (invented)"),
        "card-no-easy": in_miles(lambda: card_page([forced(), no_easy_zones()], date(2026, 9, 1), SETTINGS)),
        "card-jumped": card_page([jumped(), no_easy_zones()], date(2026, 9, 1), SETTINGS),
        "card-blocked": card_page([blocked()], ON, SETTINGS),
        "card-none": card_page([], ON, SETTINGS),
        "test-bike": step_test_page(zones()),
        "test-foot": step_test_page(no_easy_zones()),
        "test-forced": step_test_page(forced()),
        "test-blocked": step_test_page(blocked()),
        "test-jumped": step_test_page(jumped()),
        "test-open": step_test_page(zones(BIKE[:4])),
        "test-no-heart": step_test_page(zones([(load, value, None) for load, value, _ in BIKE])),
        "meters": meters_page(meters()),
        "history": history_page([zones(), later, foot_zones(), blocked()]),
        "history-none": history_page([]),
    }


MADE = pages()
DRAWN = ("test-bike", "test-no-heart", "meters", "history")


@pytest.mark.parametrize("name", MADE)
def test_every_page_is_whole_and_loads_nothing(name: str) -> None:
    shape = Shape(MADE[name])
    assert shape.open == []
    assert shape.loads == []
    assert "default-src 'none'" in html.unescape(MADE[name])


@pytest.mark.parametrize("name", [name for name in MADE if name.startswith(("plan", "card", "test"))])
def test_cautions_stand_where_tests_and_loads_are(name: str) -> None:
    """METHOD 9."""
    for words in CAUTIONS:
        assert words in text_of(MADE[name])


def test_the_plan_sheet_has_a_row_a_step_and_blanks() -> None:
    page = MADE["plan-bike"]
    text = text_of(page)
    for words in (
        "120 W",
        "220 W",
        "at 5:00",
        "spare 6:30",
        "spare 8:00",
        "at 10:00",
        "highest heart rate",
        "Baseline",
        "21 (14 and 7 spare)",
    ):
        assert words in text
    for words in (
        "Never the first drop",
        "holds its shape",
        "common practice",
        "single-use lancet",
        "sharps box",
        "usual coffee",
    ):
        assert words in text
    assert page.count('<th scope="row">') == 8
    assert "7:09" in text_of(MADE["plan-foot"]) or "min/km" in text_of(MADE["plan-foot"])


def test_the_card_has_the_edges_of_both_sports() -> None:
    """By hand from field_data: bike floor 180, target top 200, ceiling 210 W; foot 10, 11, 11.5 km/h; 125 and 131 bpm; 56 and
    112 days from 20 April 2026 are 15 June and 10 August."""
    text = text_of(MADE["card"])
    bike, foot = zones(), foot_zones()
    floor, top, ceiling = (f"{value:.0f}" for value in (bike.edges.floor, bike.edges.target_top, bike.edges.ceiling))
    beats = f"{bike.hr.floor:.0f} to {bike.hr.target_top:.0f} bpm"
    for words in (f"below {floor} W", f"{floor} to {top} W", f"{ceiling} W", beats, "15 June 2026", "10 August 2026"):
        assert words in text
    slow, fast = (load_text(value, "min/km") for value in (foot.edges.floor, foot.edges.target_top))
    for words in (f"slower than {slow}", f"{slow.removesuffix(' min/km')} to {fast}"):
        assert words in text
    assert "lower three quarters" in text
    assert "the first rise itself" in text
    assert text.index("By bike") < text.index("Running")


def test_no_easy_running_stands_on_the_card_and_the_test_page() -> None:
    assert "No easy running: every run is at least steady. Put easy volume on the bike or on walking" in text_of(
        MADE["card-no-easy"]
    )
    assert "every run is at least steady" in text_of(MADE["test-foot"])
    assert 'class="easy"' not in MADE["card-no-easy"].split("Running")[1]


@pytest.mark.parametrize("name", ["card-no-easy", "test-forced"])
def test_an_override_is_said_on_every_page_that_uses_it(name: str) -> None:
    assert FORCED in text_of(MADE[name]).casefold()


def test_an_old_card_says_so() -> None:
    """134 days after the test: stale (METHOD 1.5)."""
    assert "This test is stale" in text_of(MADE["card-no-easy"])
    assert "stale: test" not in text_of(MADE["card"])


def test_a_blocked_test_gives_no_numbers() -> None:
    for name in ("card-blocked", "test-blocked"):
        text = text_of(MADE[name])
        assert "baseline" in text.casefold()
        assert "180 to 200 W" not in text
    assert 'id="readings"' not in MADE["test-blocked"]


def test_a_jumped_band_is_called_untested() -> None:
    assert "No step of the test lay inside the steady band" in text_of(MADE["card-jumped"])


def test_the_test_page_shows_everything_it_stands_on() -> None:
    text = text_of(MADE["test-bike"])
    for words in (
        "baseline + 0.5 mmol/L",
        "baseline + 1.0 mmol/L",
        "log-log breakpoint",
        "fixed 2.0 mmol/L",
        "common practice",
    ):
        assert words in text
    for words in (
        "10.1007/s00421-024-05572-6",
        "10.1371/journal.pone.0206846",
        "ISO 5725-6",
        "2,000 curves",
        "Hughson",
        "1.6 (5:00), 1.6 (10:00)",
    ):
        assert words in text
    assert "Every check passed" in text
    assert "Every check passed" not in text_of(MADE["test-foot"])


def test_checks_are_listed_with_their_weight() -> None:
    assert "Stops it:" in text_of(MADE["test-blocked"])
    assert "Warning:" in text_of(MADE["test-open"])


def test_meters_in_sentences() -> None:
    """Planted: 6 W more at every load."""
    text = " ".join(meter_lines(meters()))
    assert re.search(r"pedals reads [56]\.\d W more than trainer", text)
    assert "only where athlete.toml names it" in text
    assert text_of(meters_page(meters())).count("half minutes") >= 1


def test_history_says_what_changed_and_that_analysers_are_mixed() -> None:
    text = text_of(MADE["history"])
    assert "not usable" in text
    assert "beyond the ranges" in text
    assert "analyser is named in only one" in text


def test_text_from_files_is_escaped() -> None:
    nasty = zones(override="<script>alert(1)</script>", baseline=(1.9,), file="<b>.toml", analyser="<i>")
    for page in (step_test_page(nasty), card_page([nasty], ON, SETTINGS, name="<b>x"), history_page([nasty])):
        assert "<script>alert" not in page
        assert "<i>" not in page.replace("<i></i>", "")
        Shape(page)


def test_card_loads_by_hand() -> None:
    """By hand: 10 km/h = 6:00 min/km; 10 km = 6.214 miles an hour and 9:39 a mile."""
    assert card_load(180.0, "W", 200.0) == ("180 to 200 W", "")
    assert card_load(10 / 3.6, "km/h") == ("6:00 min/km", "10.0 km/h")
    with written_for(Reader("miles")):
        assert card_load(10 / 3.6, "min/km") == ("9:39 min/mile", "6.2 mph")


def test_bars_add_up() -> None:
    for column in card_columns([zones(), no_easy_zones(), jumped(), replace(forced())], ON, SETTINGS):
        if column.bar:
            assert column.bar.easy + column.bar.steady + column.bar.heavy == pytest.approx(100, abs=0.05)


@pytest.mark.browser
@pytest.mark.parametrize("name", [name for name in MADE if name.startswith(("plan", "card")) or name in DRAWN])
def test_in_a_browser(browser: Any, name: str, tmp_path: Path) -> None:
    """No console message, no sideways scroll at 1200 and 390 px, every figure drawn; sheets and cards print on one page."""
    path = tmp_path / f"{name}.html"
    path.write_text(MADE[name], encoding="utf-8")
    for width in (1200, 390):
        page = browser.new_page(viewport={"width": width, "height": 900})
        said: list[str] = []
        page.on("console", lambda message, said=said: said.append(message.text))
        page.on("pageerror", lambda fault, said=said: said.append(str(fault)))
        page.goto(path.as_uri())
        if 'class="plot"' in MADE[name]:
            page.wait_for_selector("html[data-drawn=all]", state="attached")
            assert page.locator(".plot .main-svg").count() >= 1
        assert said == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if width == 1200 and name.startswith(("plan", "card")):
            for paper in ("A4", "Letter"):
                _one_page(page.pdf(format=paper, print_background=True), tmp_path)
        page.close()


def _one_page(data: bytes, folder: Path) -> None:
    if shutil.which("pdfinfo") is None:
        pytest.skip("no pdfinfo (poppler-utils)")
    (folder / "page.pdf").write_bytes(data)
    told = subprocess.run(["pdfinfo", str(folder / "page.pdf")], capture_output=True, text=True, check=True).stdout
    assert re.search(r"Pages:\s+1\n", told), told
