"""A coach's Sunday evening: one command copies every athlete's week, and each copy says truly what it lacks."""

from __future__ import annotations

import re
import subprocess
import warnings
from html import unescape
from pathlib import Path

import pytest
from roster_club import Ride, athlete, run

SHORT = 1500


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("club")
    alba = athlete(root / "alba", "Alba", [Ride(0, seconds=SHORT)])
    (alba / "weeks.csv").write_text("week,note\n2026-W20,Alba slept in a hut\n", encoding="utf-8")
    athlete(
        root / "west" / "hal",
        "Hal",
        [Ride(1, seconds=SHORT, meter=False), Ride(2, seconds=SHORT, meter=False, heart_rate=178)],
    )
    athlete(root / "finn", "Finn", [Ride(20, seconds=SHORT)])
    broken = athlete(root / "gus", "Gus", [])
    (broken / "athlete.toml").write_text('name = "Gus\n', encoding="utf-8")
    return root


@pytest.fixture(scope="module")
def done(club: Path) -> subprocess.CompletedProcess[str]:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return run("share", "2026-W20", club, "--keep", "notes", "--out", club / "copies")


def shown(page: Path) -> str:
    text = re.sub(r"<(script|style).*?</\1>", " ", page.read_text(encoding="utf-8"), flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_a_copy_each_and_the_faulty_named(club: Path, done: subprocess.CompletedProcess[str]) -> None:
    copies = sorted(path.relative_to(club / "copies").as_posix() for path in (club / "copies").rglob("*.html"))
    assert copies == ["alba-week-2026-W20.html", "west/hal-week-2026-W20.html"]
    assert done.returncode == 1
    assert "gus: no copy." in done.stderr
    assert "1 of 4 athletes" in done.stderr
    assert "finn: no session in 2026-W20" in done.stdout
    assert "Traceback" not in done.stderr


def test_notes_when_asked_without_the_name(club: Path, done: subprocess.CompletedProcess[str]) -> None:
    assert done.returncode == 1
    assert "(left out) slept in a hut" in shown(club / "copies" / "alba-week-2026-W20.html")


def test_the_list_is_true_by_heart_rate_alone(club: Path, done: subprocess.CompletedProcess[str]) -> None:
    """Where heart rate is the load, the copy keeps its means and says so; the power rider's copy has none to keep."""
    told = " ".join(done.stdout.split())
    hal, alba = (
        shown(club / "copies" / "west" / "hal-week-2026-W20.html"),
        shown(club / "copies" / "alba-week-2026-W20.html"),
    )
    assert "2 sessions judged by heart rate alone keep their means in beats" in hal
    assert "mean heart rate, and drift in beats, of 2 sessions judged by heart rate alone" in told
    assert "heart-rate traces and means" not in hal
    assert "heart-rate traces and means" in alba
    assert "judged by heart rate alone" not in alba
    assert not re.search(r"Mean \d+ bpm", alba)
    assert re.search(r"Mean \d+ bpm", hal)


def test_what_was_asked_about_stays_asked(club: Path) -> None:
    """178 beats all along, unlabelled: the copy asks as the athlete's own page does, though it cannot see the beats."""
    run("week", club / "west" / "hal")
    own = shown(club / "west" / "hal" / "reports" / "week-2026-W20.html")
    asked = re.findall(r"was it a hard session\?[^.]*\.", own)
    assert asked
    assert (
        re.findall(r"was it a hard session\?[^.]*\.", shown(club / "copies" / "west" / "hal-week-2026-W20.html"))
        == asked
    )


def test_each_into_the_own_reports_folder(club: Path) -> None:
    run("share", "2026-W20", club)
    assert (club / "alba" / "reports" / "shared" / "week-2026-W20.html").is_file()
    assert "hut" not in shown(club / "alba" / "reports" / "shared" / "week-2026-W20.html")
