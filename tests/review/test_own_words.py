"""What an athlete writes into sessions.csv and weeks.csv: shown beside the verdict, never part of it, shared only when asked."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from console import run
from demo_home import copy_read
from steadyband.athlete.model import SessionLabel
from steadyband.athlete.own_words import OwnWords, own_words, read_week_notes, week_note
from steadyband.ground.errors import AthleteFileError
from steadyband.report.common.own_words import felt_text

NOTE = 'wind <b>on</b> the pass & "Moor tracks" again, '
WORD = "gorse" * 60
LABELS = f"""date,time,intent,sport,note,effort,sleep,illness
2026-05-16,,endurance,cycling,"{NOTE.replace('"', '""')}{WORD}","7","6,5",cold
2026-05-17,,endurance,running,,3,8,no
"""
WEEKS = 'week,note\n2026-W20,"Travelled on Monday.\nSlept badly, all week"\n2026-W19,before\n'


@pytest.fixture(scope="module")
def home(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = copy_read(read_demo, tmp_path_factory.mktemp("told") / "home")
    (place / "sessions.csv").unlink()
    (place / "sessions.csv").write_text(LABELS, encoding="utf-8")
    (place / "weeks.csv").write_text(WEEKS, encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def week(home: Path) -> dict[str, Any]:
    done = run("week", home, "--format", "json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    page = Path(found["page"])
    own = next((page.parent / "sessions").glob("2026-05-16-*.html"))
    found["pages"] = [page.read_text(encoding="utf-8"), own.read_text(encoding="utf-8")]
    return found


def of(week: dict[str, Any], day: str) -> dict[str, Any]:
    found: dict[str, Any] = next(item for item in week["sessions"] if item["start"].startswith(day))
    return found


def test_told_beside_the_verdict(week: dict[str, Any], home: Path) -> None:
    assert week["note"] == "Travelled on Monday.\nSlept badly, all week"
    assert of(week, "2026-05-16")["told"] == {"note": NOTE + WORD, "effort": 7.0, "sleep_h": 6.5, "illness": "cold"}
    assert of(week, "2026-05-17")["told"] == {"note": None, "effort": 3.0, "sleep_h": 8.0, "illness": None}
    assert of(week, "2026-05-14")["told"] is None
    before = of(week, "2026-05-16")
    (home / "sessions.csv").write_text(LABELS.replace('"7","6,5",cold', ",,"), encoding="utf-8")
    silent = json.loads(run("week", home, "--format", "json").stdout)
    (home / "sessions.csv").write_text(LABELS, encoding="utf-8")
    assert {**before, "told": None} == {**of(silent, "2026-05-16"), "told": None}
    assert silent["answer"] == week["answer"]


def test_on_the_pages_of_week_and_session(week: dict[str, Any]) -> None:
    for text in week["pages"]:
        assert "wind &lt;b&gt;on&lt;/b&gt; the pass &amp; &#34;Moor tracks&#34; again" in text
        assert "effort as felt 7 of 10, slept 6.5 h, ill (cold)" in text
        assert "overflow-wrap: anywhere" in text
    assert "<p>Travelled on Monday.</p><p>Slept badly, all week</p>" in week["pages"][0]


def test_in_the_terminal(week: dict[str, Any], home: Path) -> None:
    shown = run("week", home).stdout
    assert "Note on the week: Travelled on Monday." in shown
    assert "The athlete told: effort as felt 7 of 10, slept 6.5 h, ill (cold)." in shown
    assert max(len(line) for line in shown.splitlines() if "gorse" not in line and "Page:" not in line) <= 80


def test_shared_only_when_asked(week: dict[str, Any], home: Path, tmp_path: Path) -> None:
    quiet = run("share", "2026-W20", home, "--out", tmp_path / "quiet.html")
    assert quiet.returncode == 0, quiet.stderr
    text = (tmp_path / "quiet.html").read_text(encoding="utf-8")
    assert [word for word in ("gorse", "Travelled", "felt 7", "ill (cold)", "slept 6.5") if word in text] == []
    assert "the athlete’s own notes, effort, sleep and illness" in text
    assert "notes of the athlete in all, with effort, sleep and illness as told" in " ".join(quiet.stdout.split())
    kept = run("share", "2026-W20", home, "--keep", "notes", "--out", tmp_path / "kept.html")
    assert kept.returncode == 0, kept.stderr
    text = (tmp_path / "kept.html").read_text(encoding="utf-8")
    assert "gorse" in text
    assert "Travelled on Monday." in text
    assert "ill (cold)" in text
    assert "the athlete’s own notes" not in text


def test_a_name_in_a_note_is_not_shared(read_demo: Path, tmp_path: Path) -> None:
    home = copy_read(read_demo, tmp_path / "home")
    athlete = home / "athlete.toml"
    name = next(line for line in athlete.read_text(encoding="utf-8").splitlines() if line.startswith("name"))
    word = name.split('"')[1].split()[-1]
    (home / "weeks.csv").write_text(
        f"week;note\n2026-W20;{word} lost the 2026-05-16-moor-tracks.fit at 61.1234 N\n", "utf-8"
    )
    done = run("share", "2026-W20", home, "--keep", "notes", "--out", tmp_path / "kept.html")
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "kept.html").read_text(encoding="utf-8")
    assert "(left out) lost the recording " in text
    assert " at (left out) N" in text


def test_a_row_with_the_time_goes_first() -> None:
    day = date(2026, 5, 16)
    rows = [
        SessionLabel(day, None, "easy", None, "all day", sleep_h=7),
        SessionLabel(day, "08:05", "easy", None, "morning", effort=2),
        SessionLabel(day, "17:00", "hard", None, "evening", effort=9),
        SessionLabel(day, None, "easy", "running", "not mine"),
    ]
    found = own_words(rows, datetime(2026, 5, 16, 8, 0, tzinfo=UTC), "cycling")
    assert found == OwnWords("morning\nall day", 2, 7, "")
    assert not own_words(rows, datetime(2026, 5, 15, 8, 0, tzinfo=UTC), "cycling")


@pytest.mark.parametrize(
    ("row", "place"),
    [("2026-05-16,easy,11,,", "effort"), ("2026-05-16,easy,hard,,", "effort"), ("2026-05-16,easy,,25,", "sleep")],
)
def test_a_number_out_of_range_is_named(row: str, place: str, read_demo: Path, tmp_path: Path) -> None:
    home = copy_read(read_demo, tmp_path / "home")
    (home / "sessions.csv").unlink()
    (home / "sessions.csv").write_text(f"date,intent,effort,sleep,illness\n{row}\n", encoding="utf-8")
    done = run("week", home)
    assert f"line 2, {place}" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "text",
    ["week,remark\n2026-W20,x\n", "week,note\n2026-20,x\n", "week,note\n2026-W54,x\n", "week,note\n2026-W20,a,b\n"],
)
def test_a_faulty_weeks_file_is_named(text: str, tmp_path: Path) -> None:
    (tmp_path / "weeks.csv").write_text(text, encoding="utf-8")
    with pytest.raises(AthleteFileError, match=r"weeks\.csv"):
        read_week_notes(tmp_path / "weeks.csv")


def test_what_is_read_of_weeks(tmp_path: Path) -> None:
    (tmp_path / "weeks.csv").write_text("week;note\n2026-W20;one; two\n".replace("; two", ""), encoding="utf-8")
    assert week_note(read_week_notes(tmp_path / "weeks.csv"), "2026-W20") == "one"
    assert read_week_notes(tmp_path / "none.csv") == ()


def test_words_for_what_was_felt() -> None:
    assert felt_text(OwnWords()) == ""
    assert felt_text(OwnWords(effort=6.5)) == "effort as felt 6.5 of 10"
