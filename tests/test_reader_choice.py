"""The reader's choice of units and clock: values against outside references, no leak, and no metric left on any page."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import time
from html import unescape
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from demo_home import copy_read
from steadyband.athlete.folder import open_folder
from steadyband.athlete.parallel import spread
from steadyband.athlete.store.keys import Inputs
from steadyband.cli.main import app
from steadyband.ground import units
from steadyband.ground.reader import Reader, reader, write_for, written_for

MILES = Reader("miles", "12h")
RIDE = "activities/2026-W20/2026-05-16-moor-tracks.fit"
RUN = "activities/2026-W20/2026-05-17-dune-run.fit"


def in_miles(text: str) -> str:
    return text.replace('units = "metric"', 'units = "miles"\nclock = "12h"').replace('"../reports"', '"reports"')


def test_against_published_definitions() -> None:
    """Published: international foot 0.3048 m and mile 5,280 ft, exact (1959 agreement; NIST SP 811, B.8; from memory)."""
    assert units.METRES_PER_FOOT == 0.3048
    assert pytest.approx(5280 * 0.3048, abs=1e-12) == units.METRES_PER_MILE
    with written_for(MILES):
        # Published: a marathon is 42.195 km, 26 miles 385 yards (World Athletics, from memory); 385 yards are 0.22 miles.
        assert units.distance_text(42195) == "26.2 mi"
        assert units.place_text(42195, 2) == "mile 26.22"
        # Published: 29,032 ft for 8,849 m (the survey of 2020 of the highest mountain, from memory).
        assert units.height_text(8849) == "29,032 ft"
        # Published: 60 mph is 96.56 km/h (NIST SP 811, B.8: 1 mph = 1.609344 km/h; from memory).
        assert units.load_text(96.56064 / 3.6, "km/h") == "60.0 mph"
        # Published: ITS-90 fixed points are not needed: 0 °C is 32 °F, 100 °C is 212 °F, -40 is both (by definition).
        assert [units.temperature_text(value) for value in (0, 100, -40)] == ["32 °F", "212 °F", "-40 °F"]
        # By hand: 5:00 min/km is 300 s x 1.609344 = 482.8 s a mile, 8:03.
        assert units.load_text(1000 / 300, "min/km") == "8:03 min/mile"
        assert units.load_text(200.0, "W") == "200 W"
        assert units.length_text(300) == "984 ft"  # by hand: 300 / 0.3048 = 984.3; a fifth of a mile is 322 m
        assert units.length_text(330) == "0.2 mi"  # by hand: 330 / 1609.344 = 0.205
    assert units.distance_text(42195) == "42.2 km"
    assert units.height_text(8849) == "8,849 m"
    assert units.length_text(999) == "999 m"
    assert units.length_text(1312, 2) == "1.31 km"
    assert units.distance_text(None) == units.height_text(float("nan")) == units.speed_text(None) == "–"


@pytest.mark.parametrize(
    ("hour", "minute", "text"),
    [(0, 5, "12:05 am"), (9, 0, "9:00 am"), (11, 59, "11:59 am"), (12, 0, "12:00 pm"), (20, 31, "8:31 pm")],
)
def test_the_twelve_hour_clock(hour: int, minute: int, text: str) -> None:
    """Common practice, no source: midnight begins the am hours as 12, noon the pm hours. The same by strftime's %I %p."""
    moment = time(hour, minute, 4)
    with written_for(MILES):
        assert units.time_of_day(moment) == text
        assert units.time_of_day(moment, seconds=True) == text.replace(" ", ":04 ")
        by_library = moment.strftime("%I:%M %p").lstrip("0")
    assert by_library.casefold() in (text, text.replace("am", "").replace("pm", ""))
    assert units.time_of_day(moment) == f"{hour:02d}:{minute:02d}"


@given(st.floats(0.5, 12.0), st.sampled_from(["km/h", "mph", "min/km", "min/mile"]))
def test_speeds_there_and_back(mps: float, unit: units.ShownUnit) -> None:
    assert units.load_to_si(units.load_from_si(mps, unit), unit) == pytest.approx(mps, rel=1e-12)


def test_the_choice_ends_with_its_block_and_stays_in_its_thread() -> None:
    with contextlib.suppress(RuntimeError), written_for(MILES):
        write_for(Reader("miles", "24h"))
        assert reader() == Reader("miles", "24h")
        with ThreadPoolExecutor(1) as pool, written_for(Reader()):
            assert pool.submit(reader).result() == reader() == Reader()
        assert reader() == Reader("miles", "24h")
        raise RuntimeError
    assert reader() == Reader()


@pytest.fixture(scope="module")
def homes(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The demo athlete twice: metric with 24 h, and miles with 12 h."""
    base = tmp_path_factory.mktemp("readers")
    found = {name: base / name for name in ("metric", "miles")}
    for name, home in found.items():
        copy_read(read_demo, home)
        text = (home / "athlete.toml").read_text(encoding="utf-8")
        (home / "athlete.toml").write_text(in_miles(text) if name == "miles" else text, encoding="utf-8")
    return found


def test_the_store_does_not_ask_who_reads(homes: dict[str, Path]) -> None:
    """No sentence is kept: another choice of units or clock finds the same numbers."""
    home = open_folder(homes["metric"])
    keys = {
        Inputs(replace(home, athlete=replace(home.athlete, reader=Reader(unit, clock)))).base
        for unit in ("metric", "miles")
        for clock in ("24h", "12h")
    }
    assert len(keys) == 1


def test_every_output_for_programs_is_the_same_for_every_reader(homes: dict[str, Path]) -> None:
    """Numbers, units and keys; only the sentences of findings follow the reader."""
    lines = {name: run("audit", str(home / RUN), "--format", "json") for name, home in homes.items()}
    told = {name: json.loads(line) for name, line in lines.items()}
    for item in told.values():
        for finding in item["verdict"]["findings"]:
            finding.pop("text")
        item.pop("file")
    assert told["metric"] == told["miles"]
    assert told["miles"]["zones"]["load_unit"] == "min/km"
    tables = [list(csv.DictReader(io.StringIO(run("export", str(home))))) for home in homes.values()]
    plain = [
        [{key: row[key] for key in row if key not in ("path", "findings_text")} for row in rows] for rows in tables
    ]
    assert plain[0] == plain[1]
    zones = [
        json.loads(run("zones", str(home / "tests/2026-04-22-run.toml"), "--format", "json")) for home in homes.values()
    ]
    assert zones[0]["edges"] == zones[1]["edges"]
    assert zones[0]["load_unit"] == zones[1]["load_unit"] == "min/km"


def run(*arguments: str) -> str:
    done = CliRunner().invoke(app, list(arguments), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_helper_processes_write_as_the_athlete_reads(homes: dict[str, Path]) -> None:
    drifted = "activities/2026-W20/2026-05-14-last-ferry.fit"
    told = dict(zip(homes, spread(Told(drifted), [homes["metric"], homes["miles"]]), strict=True))
    texts = " ".join(text for texts in told.values() for text in texts)
    assert "from 18:27" in texts
    assert "from 6:27 pm" in texts
    assert reader() == Reader()


class Told:
    """The findings of one recording of a folder; travels into helper processes."""

    def __init__(self, file: str) -> None:
        self.file = file

    def __call__(self, home: Path) -> list[str]:
        from steadyband.athlete.sessions import audit_file
        from steadyband.ground.reader import written_for
        from steadyband.told import finding_text

        audits = audit_file(home / self.file, open_folder(home))
        with written_for(open_folder(home).athlete.reader):
            return [finding_text(audit, item) for audit in audits for item in audit.verdict.findings]


def test_one_command_over_two_athletes_writes_each_as_they_read(homes: dict[str, Path]) -> None:
    printed = run("audit", str(homes["miles"] / RUN), str(homes["metric"] / RUN))
    first, second = printed.split("Compared with the test")[:2]
    assert "9:40 am" in first
    assert "mph" in first
    assert "km/h" not in first
    assert "09:40" in second
    assert "km/h" in second
    assert "mph" not in second
    assert reader() == Reader()


COMMANDS = {
    "week": ("week", "{home}"),
    "week-before": ("week", "{home}", "--ending", "2026-05-10"),
    "block": ("block", "{home}"),
    "history": ("history", "{home}"),
    "session-bike": ("session", "{home}/" + RIDE),
    "session-foot": ("session", "{home}/" + RUN),
    "card": ("card", "{home}"),
    "tests": ("tests", "{home}"),
    "test-page": ("test-page", "{home}/tests/2026-04-22-run.toml"),
    "zones": ("zones", "{home}/tests/2026-04-22-run.toml"),
    "climbs": ("climbs", "{home}"),
    "route-bike": ("route", "{home}/" + RIDE, "--out", "{home}/reports/route-bike.html"),
    "route-foot": ("route", "{home}/" + RUN, "--by", "foot", "--out", "{home}/reports/route-foot.html"),
    "audit": ("audit", "{home}/" + RIDE, "{home}/" + RUN),
}


@pytest.fixture(scope="module")
def written(homes: dict[str, Path]) -> dict[str, dict[str, str]]:
    """Of each reader, everything printed and every page, by name."""
    found: dict[str, dict[str, str]] = {}
    for name, home in homes.items():
        texts = {key: run(*(part.format(home=home) for part in words)) for key, words in COMMANDS.items()}
        pages = {page.name: seen(page.read_text(encoding="utf-8")) for page in (home / "reports").rglob("*.html")}
        found[name] = {key: text.replace(str(home), "") for key, text in (texts | pages).items()}
    return found


def seen(page: str) -> str:
    """What a reader of a page can see or hear: texts, and the strings of the figures; not scripts, styles and settings."""
    page = re.sub(r"<style.*?</style>", " ", page, flags=re.S)
    plots = " ".join(strings_of(page))
    page = re.sub(r"<script.*?</script>", " ", page, flags=re.S)
    page = re.sub(r"<details[^>]*><summary>[^<]*[Ss]ettings.*?</details>", " ", page, flags=re.S)
    page = re.sub(
        r"\b[a-z]+\.[a-z_]+ [\d.]+(?: [^,<]*)?", " ", page
    )  # a setting with its value, as athlete.toml takes it
    labels = " ".join(re.findall(r'(?:aria-label|title|alt)="([^"]*)"', page))
    return unescape(re.sub(r"<[^>]+>", " ", page) + " " + labels) + " " + plots


def strings_of(page: str) -> Iterator[str]:
    """Every string in the JSON of a page's figures."""
    for text in re.findall(r'<script[^>]*type="application/json"[^>]*>(.*?)</script>', page, flags=re.S):
        yield from leaves(json.loads(text))


def leaves(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for item in value.values():
            yield from leaves(item)
    elif isinstance(value, list):
        for item in value:
            yield from leaves(item)


METRIC = re.compile(r"\bkm\b|km/h|min/km|°C|\d m\b|\bmetres?\b")
LATE = re.compile(r"(?<![\d:])(?:1[3-9]|2[0-3]):[0-5]\d(?!\d| min| to [\d:]+ min| \d\d:\d\d \d\d:\d\d)")
"""Times of day that only a 24-hour clock has; a pace so slow is walked, or the first of a pace axis."""
IMPERIAL = re.compile(r"\d mi\b|\bmph\b|min/mile|\d ft\b|°F|\bmile\b|\d [ap]m\b")
FEWEST_PAGES = 9


def test_no_metric_and_no_24_hours_are_left(written: dict[str, dict[str, str]]) -> None:
    assert len(written["miles"]) >= len(COMMANDS) + FEWEST_PAGES
    for name, text in written["miles"].items():
        left = [around(text, hit) for hit in [*METRIC.finditer(text), *LATE.finditer(text)]]
        assert (name, left[:8]) == (name, [])
    assert re.search(r"\d pm\b", written["miles"]["week"])


def test_no_miles_are_left(written: dict[str, dict[str, str]]) -> None:
    for name, text in written["metric"].items():
        assert (name, [around(text, hit) for hit in IMPERIAL.finditer(text)][:8]) == (name, [])
    assert LATE.search(written["metric"]["week"])


def around(text: str, hit: re.Match[str]) -> str:
    return text[max(hit.start() - 40, 0) : hit.end() + 20]
