"""A number that stands in two places is the same in both: week, sessions, block, test, card and way of the demo, read as text."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from pathlib import Path

import pytest

from console import run
from demo_home import copy_read

WHERE = {
    "week": "week-*.html",
    "block": "block-*.html",
    "bike test": "2026-04-20-bike.html",
    "run test": "2026-04-22-run.html",
    "card": "zone-card.html",
    "way": "route-*.html",
    "hills": "sessions/*moor-tracks.html",
    "last ferry": "sessions/*last-ferry.html",
    "gravel": "sessions/*shore-gravel.html",
}
"""Page: where it lies in the reports folder."""

SAME: Mapping[str, Mapping[str, str]] = {
    "floor by bike": {
        "week": r"By bike, W \| below (\d+)",
        "block": r"By bike, W \| below (\d+)",
        "bike test": r"Steady from (\d+) to",
        "card": r"easy \| below (\d+) W",
    },
    "target top by bike": {
        "week": r"By bike, W \|[^|]*\| up to (\d+)",
        "block": r"By bike, W \|[^|]*\| up to (\d+)",
        "bike test": r"average at (\d+) W or less",
        "gravel": r"target top (\d+) W",
        "card": r"target \| \d+ to (\d+) W",
    },
    "ceiling by bike": {
        "week": r"By bike, W \|[^|]*\|[^|]*\| below (\d+)",
        "block": r"By bike, W \|[^|]*\|[^|]*\| below (\d+)",
        "bike test": r"Steady from \d+ to (\d+) W",
        "way": r"under the ceiling of (\d+) W",
        "hills": r"under the ceiling of (\d+) W",
        "card": r"ceiling \| (\d+) W",
    },
    "age of the bike test": {
        "week": r"test of 20 April 2026, (\w+ \w+ old)",
        "block": r"test of 20 April 2026, (\w+ \w+ old)",
    },
    "age of the bike test, at length": {
        "week": r"(?m)^ ?(\d+ weeks) old at the end of the week",
        "block": r"(?m)^ ?(\d+ weeks) old at the end of the week",
    },
    "surges of the hilly ride": {
        "week": r"Saturday's ride surged above the ceiling (\d+) times",
        "hills": r"The band was lost in (\d+) surges",
    },
    "surges of the hilly ride, in the table": {
        "week": r"Sat 16 May, ride \| [^|]*on climb[^|]*\| (\d+) \|",
        "hills": r"(\d+) surges above 168 W",
    },
    "drift of Thursday": {
        "week": r"Thursday's ride drifted above the ceiling for (\d+ min)",
        "last ferry": r"(\d+ min) with the 10 min mean",
    },
    "agreement on the hilly ride": {
        "week": r"Surges\. 29 micro-surges.*? Agreement (\d+ %)",
        "hills": r"8 % of the time\. Agreement (\d+ %)",
    },
    "the lowest gear": {"way": r"lowest gear ([\d.]+ %)", "hills": r"turns a minute \([^)]*\), ([\d.]+ %)"},
    "gear for the steep climb": {"way": r"needs (\d+) teeth", "hills": r"a sprocket of (\d+) teeth"},
    "the rise in the band": {
        "week": r"rise together, (from \d+ to \d+ %)",
        "block": r"crept up inside the band, (from \d+ to \d+ %)",
    },
    "heart rate against the test by bike": {
        "week": r"heart rate outdoors (\d+) bpm above the test",
        "block": r"Cycling \| outdoors \| \d+ \| \d+ \| \+(\d+) bpm",
    },
    "hours of the week": {"week": r"Since last week: (\d h \d\d) active", "block": r"from 11 May (\d h \d\d),"},
}
"""Number: the pages it stands on, and how to find it there."""


def text_of(page: str) -> str:
    """The words of a page as a reader sees them: cells with bars between them, one line a paragraph."""
    body = page[page.index("<main") : page.index("</main>")]
    body = re.sub(r"</t[dh]>(?!\s*</tr>)", " | ", re.sub(r"</t[dh]>\s*</tr>", "\n", body))
    body = re.sub(r"</(p|li|tr|h\d|div|section|summary|details)>", "\n", body)
    flat = html.unescape(re.sub(r"<[^>]+>", " ", body))
    return re.sub(r" ?\n\s*", "\n", re.sub(r"[ \t]+", " ", flat)).replace(" |", " |")


@pytest.fixture(scope="module")
def texts(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, str]:
    home = copy_read(read_demo, tmp_path_factory.mktemp("agree") / "demo")
    ride = next(home.glob("activities/*/*moor-tracks.fit"))
    commands = [["week", home], ["block", home], ["card", home], ["route", ride]]
    commands += [["test-page", home / "tests" / f"2026-04-{name}.toml"] for name in ("20-bike", "22-run")]
    for command in commands:
        done = run(*map(str, command))
        assert done.returncode == 0, done.stderr
    return {
        name: text_of(next((home / "reports").glob(where)).read_text(encoding="utf-8")) for name, where in WHERE.items()
    }


@pytest.mark.parametrize("what", SAME)
def test_a_number_is_the_same_wherever_it_stands(texts: Mapping[str, str], what: str) -> None:
    found = {}
    for page, pattern in SAME[what].items():
        seen = {next(filter(None, match.groups())) for match in re.finditer(pattern, texts[page], re.S)}
        assert seen, f"{what} is not found on the page of the {page}"
        found[page] = seen
    values = set().union(*found.values())
    assert len(values) == 1, found


DURATIONS = re.compile(r"(\d+) surges?, (\d+ s|\d+:\d\d min|\d+ min) above the ceiling")


def test_the_time_above_the_ceiling_by_cause_is_that_of_the_table(texts: Mapping[str, str]) -> None:
    """The advice says "6 surges, 89 s above the ceiling", the table under the figures the same of the same cause."""
    rows = set(re.findall(r"^\S [a-z ]+ \| (\d+) \| ([^|]+?) \|", texts["hills"], re.M))
    told = set(DURATIONS.findall(texts["hills"]))
    assert told
    assert told <= rows


NEVER = (
    r"\b1 (?:files|surges|sessions|weeks|days|hours|recordings|climbs|efforts|steps|curves)\b",
    r"\b(?:No|no) of (?:one|two|three|four|five|six|seven|\d)",
    r"[+]\d{3,} %",
    r"\bS\d{1,2}\b(?! and)",
    r"change the mind|as they came|no step test for generic|no of no",
    r"\b0 bpm (?:above|below)",
    r"(?i)\bzone[ -][123]\b(?! \(?lower)",
)
"""What no page says: a number and its noun at odds, a code for a source, words that were thrown out."""


@pytest.mark.parametrize("pattern", NEVER)
def test_no_page_says_it_like_this(texts: Mapping[str, str], pattern: str) -> None:
    allowed = ("setting", "| S", "beginning of zone 3", "beyond is heavy, zone 3", "Sources named S", "design choice")
    for page, text in texts.items():
        lines = [line for line in text.splitlines() if re.search(pattern, line)]
        assert [line for line in lines if not any(word in line for word in allowed)] == [], page
