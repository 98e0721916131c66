"""`share`: what is removed is gone from the whole page, found by other means than the tool's own search."""

from __future__ import annotations

import html
import json
import re
import shutil
import stat
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from planted import FIRST, PULSES, SECOND, WORDS, planted_folder
from typer.testing import CliRunner

from steadyband.cli.main import app

WEEK = "2026-W20"
"""The ISO week of 12 May 2026, a Tuesday (by hand: 11 May is the Monday of week 20)."""


def run(*arguments: object) -> str:
    done = CliRunner().invoke(app, [str(item) for item in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.output


@pytest.fixture(scope="module")
def homes(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The same training of two athletes who share no private value, each with every kind of page."""
    place = tmp_path_factory.mktemp("planted")
    made = [planted_folder(place / name, marks) for name, marks in (("one", FIRST), ("two", SECOND))]
    for home, marks in zip(made, (FIRST, SECOND), strict=True):
        run("week", home)
        run("block", home, "--weeks", 1)
        run("history", home)
        run("test-page", home / "tests" / marks.test_file)
        run("session", home / "activities" / marks.fit_file)
        run("session", home / "activities" / marks.gpx_file)
    return made[0], made[1]


def own_pages(home: Path) -> list[Path]:
    """The athlete's own pages, in the order in which they were written: the same order for both athletes."""
    found = list((home / "reports").glob("*.html"))
    return sorted(found, key=lambda path: path.stat().st_mtime_ns)


def copies(home: Path, *options: object) -> list[str]:
    made = []
    for number, page in enumerate([WEEK, *own_pages(home)]):
        out = home / "out" / f"{number}.html"
        run("share", page, home, "--out", out, *options)
        made.append(out.read_text(encoding="utf-8"))
    return made


@pytest.fixture(scope="module")
def shared(homes: tuple[Path, Path]) -> list[str]:
    return copies(homes[0])


class Texts(HTMLParser):
    """Every text, attribute and script of a page; JSON inside scripts is taken apart."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self.numbers: list[list[float]] = []
        self._json = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.texts += [value for _, value in attrs if value]
        self._json = tag == "script" and ("type", "application/json") in attrs

    def handle_data(self, data: str) -> None:
        if self._json:
            self._take(json.loads(data))
            self._json = False
        else:
            self.texts.append(data)

    def _take(self, value: Any) -> None:
        if isinstance(value, dict):
            self.texts += list(value)
            for part in value.values():
                self._take(part)
        elif isinstance(value, list):
            self.numbers.append([part for part in value if isinstance(part, (int, float))])
            for part in value:
                self._take(part)
        elif isinstance(value, str):
            self.texts.append(html.unescape(value))


def pulse_rows(page: str) -> Iterator[list[float]]:
    """Lists of numbers with ten in a row from the planted range of heart rates; an even grid of loads is none."""
    low, high = PULSES
    for row in Texts(page).numbers:
        for at in range(len(row) - 9):
            ten = row[at : at + 10]
            even = len({round(after - before, 6) for before, after in pairwise(ten)}) == 1
            if all(low <= value <= high for value in ten) and len(set(ten)) > 3 and not even:
                yield row
                break


def test_the_own_pages_hold_what_is_looked_for(homes: tuple[Path, Path]) -> None:
    """So that the searches below can find something: each mark, the heart-rate row and the texts on some own page."""
    pages = [page.read_text(encoding="utf-8") for page in own_pages(homes[0])]
    text = "\n".join("\n".join(Texts(page).texts) for page in pages)
    told = (FIRST.athlete, FIRST.fit_file, FIRST.gpx_file, FIRST.test_file, FIRST.workout, FIRST.track, FIRST.override)
    assert [
        mark for mark in (*told, FIRST.meter, FIRST.analyser, FIRST.device) if mark.casefold() not in text.casefold()
    ] == []
    assert str(homes[0]) in text
    assert any(list(pulse_rows(page)) for page in pages)
    assert any(re.search(r"heart rate 2[01]\d bpm", text) for page in pages)
    assert any('data-plot="plan"' in page for page in pages)
    assert any('data-plot="profile"' in page for page in pages)


def test_no_mark_is_left_in_any_copy(homes: tuple[Path, Path], shared: list[str]) -> None:
    assert len(shared) == 7
    for page in shared:
        raw, text = page.casefold(), "\n".join(Texts(page).texts).casefold()
        assert [mark for mark in FIRST.texts if mark.casefold() in text or mark.casefold() in raw] == []
        assert [word for word in WORDS if word in text or word in raw] == []
        assert str(homes[0]) not in text


def test_no_position_no_map_and_no_ground_is_left(shared: list[str]) -> None:
    """Latitude 61.23 to 61.35, longitude 17.30 to 17.32 are planted: no number with three decimals lies there."""
    for page in shared:
        assert re.findall(r"(?<!\d)61\.(?:2[3-9]|3[0-5])\d", page) == []
        assert re.findall(r"(?<!\d)17\.(?:30|31)\d", page) == []
        for name in ("plan", "profile", "climb-1"):
            assert f'data-plot="{name}"' not in page
        assert not re.search(r"\bkm \d|\bat \d+\.\d km|Climb at", "\n".join(Texts(page).texts))


def test_no_heart_rate_trace_is_left(shared: list[str]) -> None:
    for page in shared:
        assert list(pulse_rows(page)) == []
        assert re.findall(r"\b2(?:0[1-9]|1\d) bpm", "\n".join(Texts(page).texts)) == []


def test_a_copy_does_not_depend_on_what_was_removed(homes: tuple[Path, Path], shared: list[str]) -> None:
    """Two athletes with the same training and no private value in common get the same copies, byte for byte."""
    assert copies(homes[1]) == shared


def test_each_kind_stays_where_it_is_kept(homes: tuple[Path, Path]) -> None:
    session = next(page for page in own_pages(homes[0]) if FIRST.fit_file.split(".")[0] in page.name)
    out = homes[0] / "out" / "kept.html"
    run("share", session, homes[0], "--out", out, "--keep", "positions")
    page = out.read_text(encoding="utf-8")
    assert 'data-plot="plan"' in page
    assert FIRST.athlete not in page
    assert list(pulse_rows(page)) == []
    run("share", session, homes[0], "--out", out, "--keep", "heart-rate")
    page = out.read_text(encoding="utf-8")
    assert list(pulse_rows(page))
    assert 'data-plot="plan"' not in page
    run("share", WEEK, homes[0], "--out", out, "--keep", "names")
    page = out.read_text(encoding="utf-8")
    assert FIRST.fit_file in page
    assert FIRST.athlete in page
    assert list(pulse_rows(page)) == []


def test_says_what_was_removed_with_counts_and_what_is_left(homes: tuple[Path, Path]) -> None:
    """By hand: two rides of 2,700 seconds with a position and a heart rate each; three recordings and one test, and one that is gone."""
    said = run("share", WEEK, homes[0])
    assert "5,400 positions of 2 tracks" in said
    assert "5,400 heart rates of 2 traces" in said
    assert "1 athlete's name, 5 file names" in said
    assert "1 device number" in said
    assert "dates and times of day" in said
    place = homes[0] / "reports" / "shared" / "week-2026-W20.html"
    assert f"Shared copy: {place}" in said
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    assert stat.S_IMODE(place.parent.stat().st_mode) == 0o700
    page = place.read_text(encoding="utf-8")
    assert "Shared copy." in page
    assert "Left out: positions, heights and climbs; names and notes" in page


@pytest.mark.parametrize("kind", ["not a page", "no page", "a shared copy", "no such week"])
def test_refuses_in_a_sentence(homes: tuple[Path, Path], tmp_path: Path, kind: str) -> None:
    home = homes[0]
    if kind == "a shared copy":
        what: object = home / "reports" / "shared" / "week-2026-W20.html"
        run("share", WEEK, home)
    else:
        what = (
            tmp_path / "other.html"
            if kind == "not a page"
            else "2026-W10"
            if kind == "no such week"
            else tmp_path / "x"
        )
    (tmp_path / "other.html").write_text("<!doctype html><title>Recipes</title>", encoding="utf-8")
    done = CliRunner().invoke(app, ["share", str(what), str(home), "--out", str(tmp_path / "copy.html")])
    assert done.exit_code != 0
    assert "Traceback" not in done.output
    assert not (tmp_path / "copy.html").exists()


def test_the_page_finds_its_own_folder(homes: tuple[Path, Path], tmp_path: Path) -> None:
    page = homes[0] / "reports" / "history.html"
    run("share", page, "--out", tmp_path / "copy.html")
    assert (tmp_path / "copy.html").is_file()
    moved = shutil.copy(page, tmp_path / "moved.html")
    done = CliRunner().invoke(app, ["share", str(moved)])
    assert "Name the athlete folder" in str(done.exception)
