"""Interrupted, killed, no room, no right to write, two at once, the clock set back: each with its stated outcome.

The outcomes stand in docs/nothing-lost.md; each test is named there.
"""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import IO, Any

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "review"))

from season_files import make_folder

import console
from steadyband.athlete.folder import open_folder, recordings_in
from steadyband.athlete.labelling import append_label
from steadyband.athlete.model import SessionLabel
from steadyband.athlete.season import Unwatched, load_season
from steadyband.athlete.store import open_store
from steadyband.steptest.dialogue.entering import running_clock

KILLS = int(os.environ.get("STEADYBAND_KILLS", "6"))
COMMAND = [sys.executable, "-c", "from steadyband.cli.main import main; main()"]
ROOT = os.geteuid() == 0


def start(*arguments: object, before: tuple[str, ...] = (), **more: Any) -> subprocess.Popen[str]:
    command = [*before, *COMMAND, *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **more)


def run(*arguments: object, before: tuple[str, ...] = ()) -> tuple[int, str, str]:
    """Status and both streams of a command: in a process of its own where something stands before it."""
    if not before:
        done = console.run(*arguments)
        return done.returncode, done.stdout, done.stderr
    process = start(*arguments, before=before)
    out, err = process.communicate(timeout=120)
    return process.returncode, out, err


def ended_well(end: tuple[int, str, str]) -> bool:
    assert end[0] == 0, end[2]
    return True


def settled(place: Path, rides: int = 8) -> Path:
    home = make_folder(place, rides=rides, seconds=1500)
    long_ago = time.time() - 3600
    for path in (home / "activities").iterdir():
        os.utime(path, (long_ago, long_ago))
    return home


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return settled(tmp_path / "athlete")


def pages(home: Path) -> dict[str, str]:
    """Every page by its place, without the path of the folder and the digests of its content and what it was made from."""
    found = {
        str(path.relative_to(home)): path.read_text(encoding="utf-8") for path in (home / "reports").rglob("*.html")
    }
    plain = {name: text.replace(str(home), "") for name, text in found.items()}
    digests = r'<meta name="made-from" content="\w+">|<!-- whole \w+ -->'
    return {name: re.sub(digests, "", text) for name, text in plain.items()}


def whole(text: str) -> bool:
    return text.startswith("<!doctype html>") and text.rstrip().endswith("</html>")


def leftovers(home: Path) -> list[Path]:
    return [*(home / "reports").rglob(".steadyband-*.tmp"), *(home / ".steadyband").glob("*.part")]


@pytest.mark.kill
def test_week_killed_at_random_moments(home: Path, tmp_path: Path) -> None:
    """After every SIGKILL each page is whole or not there; the next run ends with what an undisturbed folder gets."""
    calm = settled(tmp_path / "calm" / "athlete")
    assert ended_well(run("week", calm))
    chance = random.Random(17)
    for _ in range(KILLS):
        process = start("week", home)
        time.sleep(chance.uniform(0.3, 3.0))
        process.kill()
        process.communicate()
        assert all(whole(text) for text in pages(home).values())
    assert ended_well(run("week", home))
    assert pages(home) == pages(calm)


@pytest.mark.kill
def test_week_interrupted(home: Path) -> None:
    """Ctrl-C: status 130, no traceback; pages are whole or not there; the next run goes on."""
    chance = random.Random(23)
    for _ in range(3):
        process = start("week", home)
        time.sleep(chance.uniform(0.6, 1.6))
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
        assert process.returncode in (0, 130, -signal.SIGINT), err
        if process.returncode == 130:
            assert "Traceback" not in err
            assert not err or "topped" in err
        assert all(whole(text) for text in pages(home).values())
        assert leftovers(home) == []
    assert ended_well(run("week", home))


BIG = """
import os
def big(number):
    return os.urandom(1) * 200_000_000
"""
STOPPED = """
import _thread, threading
from big_results import big
from steadyband.athlete.parallel import spread

if __name__ == "__main__":
    results = spread(big, range(4))
    threading.Timer(1.2, _thread.interrupt_main).start()
    try:
        for _ in results:
            pass
    except KeyboardInterrupt:
        results.close()
"""


@pytest.mark.kill
def test_ctrl_c_while_a_helper_hands_over_its_result(tmp_path: Path) -> None:
    """A helper ended in the middle of a large result once left the program waiting for the rest for ever."""
    (tmp_path / "big_results.py").write_text(BIG, encoding="utf-8")
    (tmp_path / "stopped.py").write_text(STOPPED, encoding="utf-8")
    paths = {**os.environ, "PYTHONPATH": str(tmp_path)}
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, str(tmp_path / "stopped.py")], env=paths, timeout=60, capture_output=True
        )
        assert done.returncode == 0, done.stderr


def test_no_room_for_the_page(home: Path) -> None:
    """A limit of 100 kB a file stands in for a full disk: one sentence, status 2, the old page as it was, no litter."""
    if shutil.which("prlimit") is None:
        pytest.skip("needs prlimit")
    assert ended_well(run("week", home))
    old = pages(home)
    (home / "sessions.csv").write_text("date,time,intent,sport,note\n2026-05-02,,hard,,\n", encoding="utf-8")
    code, _, err = run("week", home, before=("prlimit", "--fsize=100000", "--"))
    assert code == 2, err
    assert "File too large" in err
    assert "untouched" in err
    assert "Traceback" not in err
    assert pages(home) == old
    assert leftovers(home) == []


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """The folder's entries cannot change: by its permissions, for root by a file attribute."""
    if ROOT:
        if (
            shutil.which("chattr") is None
            or subprocess.run(["chattr", "+i", str(folder)], capture_output=True).returncode
        ):
            pytest.skip("root may write anywhere here")
    else:
        folder.chmod(0o555)
    try:
        yield
    finally:
        if ROOT:
            subprocess.run(["chattr", "-i", str(folder)], check=True)
        else:
            folder.chmod(0o700)


def test_a_store_that_cannot_be_written(home: Path) -> None:
    """The review is complete, with one sentence on standard error."""
    (home / ".steadyband").mkdir(mode=0o700)
    with read_only(home / ".steadyband"):
        code, out, err = run("week", home)
    assert code == 0, err
    assert len(err.strip().splitlines()) == 1
    assert "could not be written" in err
    assert "results are complete" in err
    assert "Page:" in out
    assert all(whole(text) for text in pages(home).values())
    again = run("week", home)
    assert again[0] == 0
    assert again[2] == ""


def test_an_athlete_folder_that_cannot_be_written(home: Path) -> None:
    """Without reports and store there is nothing to write to: the audit still prints, the week says what to try."""
    with read_only(home):
        code, out, _ = run("audit", home / "activities" / "ride-000.fit")
        assert code == 0
        assert "ride-000.fit" in out
        for summary in ("week", "block", "history"):
            code, out, err = run(summary, home)
            assert code == 2
            assert "held the band" in out or "could be judged" in out, summary
            assert "Page:" not in out
            assert "Traceback" not in err
            assert "reports" in err
        assert "Choose a folder that you may write to" in err
        code, _, err = run("enter-test", home / "2026-06-01-bike.toml", "--sport", "bike")
        assert code == 2
        assert "Traceback" not in err
        assert "Choose a folder" in err
    assert not (home / "reports").exists()


@pytest.mark.kill
def test_two_weeks_at_once(home: Path, tmp_path: Path) -> None:
    """Both end well and write the same pages; what each worked out is kept once."""
    both = [start("week", home), start("week", home)]
    ends = [process.communicate(timeout=120) for process in both]
    assert [process.returncode for process in both] == [0, 0], ends
    calm = settled(tmp_path / "calm" / "athlete")
    assert ended_well(run("week", calm))
    assert pages(home) == pages(calm)


def say(process: subprocess.Popen[str], line: str) -> None:
    assert process.stdin is not None
    process.stdin.write(f"{line}\n")
    process.stdin.flush()


def read_until(stream: IO[str] | None, word: str) -> str:
    assert stream is not None
    told = ""
    while word not in told:
        letter = stream.read(1)
        assert letter, told
        told += letter
    return told


@pytest.mark.kill
def test_two_enter_tests_on_one_file(tmp_path: Path) -> None:
    """The second names the process that has it open and changes nothing; a killed first holds nobody up, its entries stay."""
    file = tmp_path / "tests" / "2026-06-01-bike.toml"
    options = ("--sport", "bike", "--mass", "74", "--steady", "200", "--afterwards")
    first = start("enter-test", file, *options, stdin=subprocess.PIPE, bufsize=0)
    try:
        read_until(first.stdout, "> ")
        draft = file.with_name(file.name + ".draft")
        before = draft.read_bytes()
        code, _, err = run("enter-test", file, *options)
        assert code == 2
        assert "Traceback" not in err
        assert f"process {first.pid}" in err
        assert "Go on there" in err
        assert draft.read_bytes() == before
        first.send_signal(signal.SIGKILL)
    finally:
        first.kill()
        first.communicate()
    again = start("enter-test", file, *options, stdin=subprocess.PIPE)
    out, err = again.communicate("quit\n", timeout=60)
    assert again.returncode == 0, err
    assert "Going on with" in out
    assert [path.name for path in file.parent.iterdir()] == [draft.name]


@pytest.mark.kill
def test_two_labels_at_once_lose_no_row(tmp_path: Path) -> None:
    """Two processes add forty rows each to one sessions.csv: all eighty are there, and the row typed by hand."""
    path = tmp_path / "sessions.csv"
    path.write_text("date,time,intent,sport,note\n2026-01-01,,easy,,by hand\n", encoding="utf-8")
    code = (
        "import sys; from datetime import date, timedelta; from pathlib import Path\n"
        "from steadyband.athlete.labelling import append_label\nfrom steadyband.athlete.model import SessionLabel\n"
        "for n in range(40):\n"
        "    append_label(Path(sys.argv[1]), SessionLabel(date(2026, 2, 1) + timedelta(n), sys.argv[2], 'easy'))\n"
    )
    both = [subprocess.Popen([sys.executable, "-c", code, str(path), at]) for at in ("07:00", "18:00")]
    assert [process.wait(120) for process in both] == [0, 0]
    lines = path.read_text(encoding="utf-8").splitlines()
    assert len(lines) == 82
    assert len(set(lines)) == 82
    assert lines[1] == "2026-01-01,,easy,,by hand"
    assert sorted(item.name for item in tmp_path.iterdir()) == ["sessions.csv"]


@pytest.mark.kill
def test_watch_beside_week(home: Path) -> None:
    """`week` runs while `watch` does: both write whole pages, and `watch` ends well on Ctrl-C."""
    spare = (home / "activities" / "ride-007.fit").rename(home.parent / "late.fit")
    watching = start("watch", home)
    assert watching.stderr is not None
    assert watching.stdout is not None
    try:
        assert "watching" in watching.stderr.readline()
        assert ended_well(run("week", home))
        shutil.copy(spare, home / "activities" / "ride-007.fit")
        told = watching.stdout.readline()
        assert "week-" in told
        assert ended_well(run("week", home))
        assert all(whole(text) for text in pages(home).values())
        watching.send_signal(signal.SIGINT)
        watching.communicate(timeout=60)
    finally:
        watching.kill()
    assert watching.returncode == 0
    assert leftovers(home) == []


class Counted(Unwatched):
    """How many files a run had to read."""

    def begin(self, to_read: int, known: int) -> None:
        self.to_read = to_read


def season(home: Path) -> tuple[int, list[str]]:
    folder, counted = open_folder(home), Counted()
    found = load_season(recordings_in(folder.athlete.activities), folder, open_store(folder), counted)
    return counted.to_read, [item.audit.info.intent for item in found.sessions]


def test_the_clock_set_back_between_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A run dated a year before the last one still counts as the newer: its results are used, and not made again."""
    home = settled(tmp_path / "athlete", rides=3)
    assert season(home) == (3, ["endurance"] * 3)
    append_label(home / "sessions.csv", SessionLabel(date(2026, 4, 24), None, "hard"))
    now = time.time_ns()
    monkeypatch.setattr(time, "time_ns", lambda: now - 365 * 86_400 * 10**9)
    assert season(home) == (0, ["hard", "endurance", "endurance"])
    assert season(home) == (0, ["hard", "endurance", "endurance"])


def test_the_clock_set_back_during_a_step_test(monkeypatch: pytest.MonkeyPatch) -> None:
    """Minutes of a test run on evenly when somebody sets the computer's clock back by an hour."""
    clock = running_clock()
    first = clock()
    assert abs(first - time.time()) < 5
    real = time.time()
    monkeypatch.setattr(time, "time", lambda: real - 3600)
    assert 0 <= clock() - first < 5


def test_the_table_of_outcomes_names_its_tests() -> None:
    """docs/nothing-lost.md: every test it names exists in tests/trust, and every test here is named."""
    here = Path(__file__).resolve()
    doc = (here.parents[2] / "docs" / "nothing-lost.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(test_\w+)`", doc))
    defined = {
        name
        for path in here.parent.parent.rglob("test_*.py")
        for name in re.findall(r"^def (test_\w+)", path.read_text("utf-8"), re.M)
    }
    mine = set(re.findall(r"^def (test_\w+)", here.read_text(encoding="utf-8"), re.M)) - {
        "test_the_table_of_outcomes_names_its_tests"
    }
    assert named <= defined
    assert mine <= named
