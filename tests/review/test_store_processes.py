"""Runs that are killed, run at once or find the disk full: the next one comes to the result of an undisturbed one."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest
from season_files import make_folder

pytestmark = pytest.mark.kill

RUN = """
import hashlib, sys
from datetime import date
from pathlib import Path
from steadyband.audit.model import Audit
from steadyband.athlete import open_folder, recordings_in
from steadyband.athlete import season as season_module, work
from steadyband.athlete.season import Stopped, load_season
from steadyband.athlete import codec
from steadyband.athlete.store import open_store

season_module.FLUSH = 2
work.AT_ONCE = 1


class Told:
    def judging(self, files):
        print("judging", files, flush=True)

    def begin(self, to_read, known):
        print("to read", to_read, "known", known, flush=True)

    def advance(self, files):
        print("done", files, flush=True)


def main():
    folder = open_folder(Path(sys.argv[1]))
    try:
        season = load_season(recordings_in(folder.athlete.activities), folder, open_store(folder), Told())
    except Stopped as stop:
        print("stopped", stop.done, stop.total, stop.kept, flush=True)
        sys.exit(130)
    made = hashlib.sha256()
    for audit in season.audits(date(2000, 1, 1), date(2100, 1, 1)):
        made.update(codec.dump(audit, Audit))
        for name in audit.traces.__slots__:
            made.update(getattr(audit.traces, name).tobytes())
    print("result", len(season.entries), made.hexdigest())
    print(*("notice " + text for text in season.notices), sep="\\n")


if __name__ == "__main__":
    main()
"""
RIDES = 14


@pytest.fixture(scope="module")
def script(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("script") / "run.py"
    path.write_text(RUN, encoding="utf-8")
    return path


def fresh(place: Path) -> Path:
    home = make_folder(place, RIDES, seconds=1500)
    long_ago = time.time() - 3600
    for path in (home / "activities").iterdir():
        os.utime(path, (long_ago, long_ago))
    return home


def start(script: Path, home: Path, *before: str) -> subprocess.Popen[str]:
    command: Sequence[str] = [*before, sys.executable, str(script), str(home)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True)


def finished(process: subprocess.Popen[str]) -> list[str]:
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    assert err == ""
    return out.splitlines()


def result(lines: Sequence[str]) -> str:
    (line,) = [line for line in lines if line.startswith("result")]
    return line


@pytest.fixture(scope="module")
def undisturbed(script: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    return result(finished(start(script, fresh(tmp_path_factory.mktemp("calm") / "athlete"))))


def test_killed_at_random_moments(script: Path, undisturbed: str, tmp_path: Path) -> None:
    home = fresh(tmp_path / "athlete")
    chance = random.Random(11)
    for _ in range(4):
        process = start(script, home)
        assert process.stdout is not None
        for _ in range(chance.randint(1, 6)):  # killed within the work, not while Python starts
            process.stdout.readline()
        time.sleep(chance.uniform(0, 0.05))
        process.kill()
        process.communicate()
    assert result(finished(start(script, home))) == undisturbed
    last = finished(start(script, home))
    assert last[0] == f"to read 0 known {RIDES}"
    assert result(last) == undisturbed


def test_killed_parents_leave_no_process_behind(script: Path, tmp_path: Path) -> None:
    process = start(script, fresh(tmp_path / "athlete"))
    assert process.stdout is not None
    process.stdout.readline()
    process.stdout.readline()
    process.kill()
    process.communicate()
    for _ in range(100):
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    pytest.fail("helper processes outlived the killed run by 10 s")


def test_two_runs_at_once(script: Path, undisturbed: str, tmp_path: Path) -> None:
    home = fresh(tmp_path / "athlete")
    both = [start(script, home), start(script, home)]
    assert [result(finished(process)) for process in both] == [undisturbed, undisturbed]
    last = finished(start(script, home))
    assert last[0] == f"to read 0 known {RIDES}"
    assert result(last) == undisturbed


def test_ctrl_c_ends_with_what_is_done(script: Path, undisturbed: str, tmp_path: Path) -> None:
    home = fresh(tmp_path / "athlete")
    process = start(script, home)
    assert process.stdout is not None
    process.stdout.readline()
    process.stdout.readline()
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert process.returncode == 130, err
    assert "Traceback" not in err
    assert out.splitlines()[-1].startswith("stopped")
    again = finished(start(script, home))
    assert result(again) == undisturbed
    assert int(again[0].split()[-1]) >= 1


def test_no_room_for_files(script: Path, undisturbed: str, tmp_path: Path) -> None:
    """A limit on the size of files stands in for a full disk: the system refuses to write on in the same way."""
    home = fresh(tmp_path / "athlete")
    limited = ("prlimit", "--fsize=20000", "--")
    lines = finished(start(script, home, *limited))
    assert result(lines) == undisturbed
    notices = [line for line in lines if line.startswith("notice")]
    assert len(notices) == 1
    assert "could not be written (File too large)" in notices[0]
    assert not list((home / ".steadyband").glob("*.part"))


def test_a_full_disk_leaves_the_old_files(script: Path, undisturbed: str, tmp_path: Path) -> None:
    """Judged again under another setting, with room for less than a session's judged part."""
    home = fresh(tmp_path / "athlete")
    finished(start(script, home))
    old = {path.name: path.read_bytes() for path in (home / ".steadyband").iterdir()}
    (home / "athlete.toml").write_text('time_zone = "UTC"\n[settings.bands]\nwindow_s = 61\n', encoding="utf-8")
    changed = finished(start(script, home, "prlimit", "--fsize=200", "--"))
    assert result(changed) != undisturbed
    assert {path.name: path.read_bytes() for path in (home / ".steadyband").iterdir()} == old
