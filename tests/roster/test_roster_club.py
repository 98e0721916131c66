"""The roster as a coach meets it: order, evidence, links, formats, and one faulty folder among many."""

from __future__ import annotations

import json
import re
import stat
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from roster_club import Ride, athlete, dated, run

HARD = Ride(1, power=148, surges=20)


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten invented athletes, one for each heading and more, in two levels."""
    root = tmp_path_factory.mktemp("club")
    athlete(root / "alba", "Alba", [Ride(0), Ride(2)])
    athlete(root / "bram", "Bram", [HARD, Ride(3)])
    athlete(root / "cora", "Cora", [HARD, Ride(2, power=148, surges=20), Ride(4)])
    dated(athlete(root / "west" / "dov", "Dov", [Ride(1)]), "2025-12-01")
    athlete(root / "west" / "edda", "Edda", [Ride(1)], tests=False)
    athlete(root / "west" / "finn", "Finn", [Ride(20)])
    broken = athlete(root / "gus", "Gus", [Ride(1)])
    (broken / "athlete.toml").write_text('name = "Gus\n', encoding="utf-8")
    unread = athlete(root / "hana", "Hana", [Ride(1)])
    (unread / "activities" / "torn.fit").write_bytes(b"\x0e\x20\x00\x00\x00\x00\x00\x00.FIT")
    athlete(root / "ines", "Ines", [])
    athlete(root / "jule", "Jule", [Ride(1), Ride(3, surges=60)])
    return root


@pytest.fixture(scope="module")
def told(club: Path) -> dict[str, Any]:
    """What `roster --format json` prints."""
    done = run("roster", club, "--format", "json")
    assert done.returncode == 1, done.stderr
    assert done.stderr.splitlines()[-1] == "2 of 10 athletes have a folder or a file that could not be used."
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def of(told: dict[str, Any], folder: str) -> dict[str, Any]:
    found: dict[str, Any] = next(item for item in told["athletes"] if item["folder"] == folder)
    return found


def test_worst_first_by_the_stated_rule(told: dict[str, Any]) -> None:
    """Expected by hand from the rule that the page states."""
    assert [(item["folder"], item["group"]) for item in told["athletes"]] == [
        ("gus", "unusable"),
        ("cora", "left"),
        ("bram", "left"),
        ("west/dov", "test"),
        ("west/edda", "test"),
        ("hana", "unread"),
        ("jule", "asked"),
        ("ines", "nothing"),
        ("west/finn", "nothing"),
        ("alba", "held"),
    ]
    assert (told["week"], told["first_day"], told["last_day"]) == ("2026-W20", "2026-05-11", "2026-05-17")


def test_each_with_its_evidence(told: dict[str, Any]) -> None:
    assert of(told, "cora")["endurance"] == {"judged": 3, "held": 1, "unsure": 0}
    notes = {folder: [note["code"] for note in of(told, folder)["notes"]] for folder in ("cora", "west/dov", "hana")}
    assert notes == {"cora": ["left", "left"], "west/dov": ["test"], "hana": ["unread"]}
    assert "20 micro-surges above the ceiling" in of(told, "bram")["notes"][0]["text"]
    assert "1 December 2025" in of(told, "west/dov")["notes"][0]["text"]
    assert of(told, "hana")["notes"][0]["file"] == "activities/torn.fit"
    assert of(told, "gus")["fault"].startswith("athlete.toml: not valid TOML")
    assert of(told, "west/finn")["answer"] == "No session in this week; the last one was on Sunday 26 April 2026."


def test_a_faulty_folder_never_stops_the_others(told: dict[str, Any], club: Path) -> None:
    written = [item["folder"] for item in told["athletes"] if item["page"]]
    assert sorted(written) == ["alba", "bram", "cora", "hana", "jule", "west/dov", "west/edda", "west/finn"]
    assert all((club / item["page"]).is_file() for item in told["athletes"] if item["page"])
    assert of(told, "west/finn")["page"] == "west/finn/reports/week-2026-W17.html"


class Links(HTMLParser):
    """All ways out of a page, and all ids in it."""

    def __init__(self) -> None:
        super().__init__()
        self.hrefs: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.hrefs += [str(found["href"])] if tag == "a" and found.get("href") else []
        self.ids += [str(found["id"])] if found.get("id") else []


def test_the_page_is_private_and_no_link_is_dead(told: dict[str, Any]) -> None:
    page = Path(told["page"])
    assert page.name == "roster-2026-W20.html"
    assert stat.S_IMODE(page.stat().st_mode) == 0o600
    links = Links()
    links.feed(page.read_text(encoding="utf-8"))
    inside = [href for href in links.hrefs if href.startswith("#")]
    outside = [href for href in links.hrefs if not href.startswith("#")]
    assert {href[1:] for href in inside} <= set(links.ids)
    assert len(links.ids) == len(set(links.ids))
    assert [href for href in outside if not (page.parent / unquote(href)).is_file()] == []
    assert sum("reports/week-2026" in href for href in outside) == 8
    assert sum("/sessions/" in href for href in outside) >= 9


def test_text_names_everybody_and_fits_80_columns(club: Path) -> None:
    done = run("roster", club)
    lines = done.stdout.splitlines()
    assert max(map(len, lines[:-1])) <= 80
    assert " ".join(lines[:3]).startswith(
        "One of ten athletes held the band. The others: one folder could not be used, two"
    )
    for name in ("Alba", "Bram", "Cora", "Dov", "Edda", "Finn", "gus", "Hana", "Ines", "Jule"):
        assert re.search(rf"^  {name}\b", done.stdout, re.M), name
    assert "Page:" in lines[-1]


def test_a_week_of_choice(club: Path, tmp_path: Path) -> None:
    """26 April 2026 is the Sunday of ISO week 17 (by hand: 2026 begins on a Thursday, 29 December 2025 is Monday of week 1)."""
    done = run("roster", club, "--ending", "2026-04-22", "--format", "json", "--out", tmp_path / "pages")
    told = json.loads(done.stdout)
    assert told["week"] == "2026-W17"
    assert Path(told["page"]) == tmp_path / "pages" / "roster-2026-W17.html"
    assert of(told, "west/finn")["group"] == "held"
    assert of(told, "alba")["answer"] == "No session in this week or before; the first one is of 14 May 2026."
    assert of(told, "alba")["page"] is None
    links = Links()
    links.feed(Path(told["page"]).read_text(encoding="utf-8"))
    outside = [href for href in links.hrefs if not href.startswith("#")]
    assert outside
    assert [href for href in outside if not (tmp_path / "pages" / unquote(href)).is_file()] == []


def test_an_unforeseen_fault_is_one_athletes_alone(tmp_path: Path) -> None:
    from steadyband.report.roster.work import Task, look_after_all
    from steadyband.review.roster_folders import find_homes

    athlete(tmp_path / "good", "Good", [Ride(1, seconds=900)])
    athlete(tmp_path / "odd", "Odd", [Ride(1, seconds=900)], more='reports = "a\\u0000b"\n')
    seen = {
        item.entry.folder: item.entry
        for item in look_after_all(find_homes(tmp_path).homes, Task(None, tmp_path / "p"), 1)
    }
    assert seen["good"].page is not None
    assert seen["odd"].fault


@pytest.mark.parametrize(
    ("made", "sentence"),
    [
        ([], "expected folders with an athlete.toml"),
        (["athlete.toml"], "is an athlete folder itself"),
        (["a/b/c/athlete.toml"], "expected folders with an athlete.toml"),
        ([".hidden/athlete.toml"], "expected folders with an athlete.toml"),
    ],
)
def test_a_folder_without_athletes_is_told(made: list[str], sentence: str, tmp_path: Path) -> None:
    for name in made:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("", encoding="utf-8")
    done = run("roster", tmp_path)
    assert done.returncode == 2
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr
