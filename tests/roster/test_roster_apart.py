"""Nothing of one athlete reaches another's page: planted marks, paths that lead astray, links, and texts that are code."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from roster_club import Ride, athlete, run

from steadyband.review.roster_folders import find_homes

NAMES = ("Quillon", "Vesper", "Zephra")


def marks(number: int) -> dict[str, str]:
    """Texts that belong to one athlete alone."""
    name = NAMES[number]
    return {
        "athlete": f"{name} Marrowby",
        "folder": f"{name.lower()}-home",
        "workout": f"{name} over the weir",
        "test": f"2026-04-20-{name.lower()}-garage.toml",
        "note": f"{name} wept at step three",
        "latitude": f"{61 + number}.2",
    }


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("apart")
    for number in range(len(NAMES)):
        own = marks(number)
        rides = [Ride(day, surges=25, workout=own["workout"], lat=61.2 + number) for day in (1, 3)]
        home = athlete(root / own["folder"], own["athlete"], rides, more="privacy_m = 0\n")
        test = max((home / "tests").glob("*bike*.toml"))
        test.write_text(
            f'note = "{own["note"]}"\n' + re.sub(r"^note = .*$", "", test.read_text("utf-8"), flags=re.M), "utf-8"
        )
        test.rename(home / "tests" / own["test"])
    done = run("roster", root, "--processes", "1", "--shared-assets")
    assert done.returncode == 0, done.stderr
    return root


def pages(home: Path) -> str:
    """Everything written for one athlete."""
    found = [path.read_text("utf-8") for path in home.rglob("*.html")]
    assert len(found) == 3, "the week and two sessions"
    return "".join(found)


@pytest.mark.parametrize("number", range(len(NAMES)))
def test_no_mark_of_one_on_anothers_page(club: Path, number: int) -> None:
    own = pages(club / marks(number)["folder"])
    for name in ("athlete", "test", "workout"):
        assert marks(number)[name] in own, f"the mark {name} was planted, and the search finds it"
    for other in set(range(len(NAMES))) - {number}:
        found = {name for name, mark in marks(other).items() if mark in own and name != "latitude"}
        assert found == set()
        assert NAMES[other].lower() not in own.lower()


def test_the_roster_page_keeps_each_in_the_own_section(club: Path) -> None:
    text = (club / "reports" / "roster-2026-W20.html").read_text("utf-8")
    sections = re.findall(r"<article.*?</article>", text, re.S)
    assert len(sections) == len(NAMES)
    for number, section in enumerate(sections):
        assert NAMES[number] in section
        assert not any(other.lower() in section.lower() for other in NAMES if other != NAMES[number])
    assert "61.2" not in text, "no position on the roster"


def test_the_stores_are_apart(club: Path) -> None:
    import zlib

    for number in range(len(NAMES)):
        places = (club / marks(number)["folder"] / ".steadyband").glob("sessions*.rows")
        text = b"".join(zlib.decompress(path.read_bytes()) for path in places).decode("utf-8", "replace")
        assert marks(number)["test"] in text
        assert not any(marks(other)["test"] in text for other in range(len(NAMES)) if other != number)


@pytest.mark.parametrize("setting", ["reports", "tests", "activities"])
@pytest.mark.parametrize("leads_to", ["../bela/{}", "../bela", "{root}/shared"])
def test_paths_that_lead_to_another_athlete_are_refused(setting: str, leads_to: str, tmp_path: Path) -> None:
    to = leads_to.format(setting, root=tmp_path.as_posix())
    athlete(tmp_path / "arno", "Arno", [], more=f'{setting} = "{to}"\n')
    more = f'{setting} = "{to}"\n' if "shared" in leads_to else ""
    athlete(tmp_path / "bela", "Bela", [], more=more)
    athlete(tmp_path / "cleo", "Cleo", [])
    homes = {home.name: home.fault for home in find_homes(tmp_path).homes}
    assert "where files of bela belong" in homes["arno"]
    assert bool(homes["bela"]) is ("shared" in leads_to)
    assert homes["cleo"] == ""


@pytest.mark.parametrize("setting", ["tests", "activities"])
def test_a_path_that_holds_another_athlete_is_refused(setting: str, tmp_path: Path) -> None:
    athlete(tmp_path / "arno", "Arno", [], more=f'{setting} = ".."\n')
    athlete(tmp_path / "bela", "Bela", [])
    homes = {home.name: home.fault for home in find_homes(tmp_path).homes}
    assert setting in homes["arno"]
    assert homes["bela"] == ""


def test_a_link_to_another_athletes_activities_is_refused(tmp_path: Path) -> None:
    home = athlete(tmp_path / "arno", "Arno", [])
    athlete(tmp_path / "bela", "Bela", [Ride(1, seconds=120)])
    (home / "activities").rmdir()
    (home / "activities").symlink_to(tmp_path / "bela" / "activities")
    (tmp_path / "again").symlink_to(tmp_path / "bela")
    found = find_homes(tmp_path)
    assert [(item.name, bool(item.fault)) for item in found.homes] == [("arno", True), ("bela", False)]
    assert len(found.left_alone) == 1
    assert "again is a link" in found.left_alone[0]


@pytest.mark.parametrize(
    ("name", "leads_to"),
    [
        (".steadyband", "bela"),
        (".steadyband", "elsewhere"),
        ("reports", "bela"),
        ("reports/sessions", "bela"),
        ("reports/sessions", "elsewhere"),
    ],
)
def test_a_link_in_the_place_of_a_folder_that_is_written_to_is_refused(
    name: str, leads_to: str, tmp_path: Path
) -> None:
    home = athlete(tmp_path / "club" / "arno-at-home", "Arno", [Ride(1, seconds=1500)])
    athlete(tmp_path / "club" / "bela", "Bela", [Ride(1, seconds=1500)])
    target = {"bela": tmp_path / "club" / "bela" / name, "elsewhere": tmp_path / "elsewhere"}[leads_to]
    target.mkdir(parents=True)
    (home / name).parent.mkdir(exist_ok=True)
    (home / name).symlink_to(target)
    done = run("week", home)
    assert done.returncode == 2
    assert "a link that leads to" in " ".join(done.stderr.split())
    assert list(target.iterdir()) == []
    club = run("roster", tmp_path / "club")
    told = " ".join(club.stdout.split())
    assert "a link that leads to" in told or "where files of bela belong" in told
    if leads_to == "elsewhere":
        assert list(target.iterdir()) == []
    assert not any(
        "arno-at-home" in path.read_text("utf-8").lower() for path in (tmp_path / "club" / "bela").rglob("*.html")
    )


def test_names_that_are_code_stay_text(tmp_path: Path) -> None:
    athlete(tmp_path / "<b>x", "<script>alert(1)</script> \x1b[2J".replace("\x1b", "\\u001b"), [Ride(1, seconds=900)])
    done = run("roster", tmp_path)
    page = (tmp_path / "reports" / "roster-2026-W20.html").read_text("utf-8")
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page
    assert "\x1b" not in done.stdout + page
