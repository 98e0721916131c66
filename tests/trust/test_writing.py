"""Files are written whole or not at all, for their owner alone, and never over what is not ours to replace."""

from __future__ import annotations

import multiprocessing
import os
import random
import shutil
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from steadyband.ground.errors import SteadybandError
from steadyband.ground.locking import HeldError, held, lock_path
from steadyband.ground.writing import make_private_folder, write_bytes_atomically, write_text_atomically

KILLS = int(os.environ.get("STEADYBAND_KILLS", "20"))
"""How often the writer is killed; the figure in docs/nothing-lost.md is from a run with more."""
PAGE = "<!doctype html>"
WRITER = """
import sys
from pathlib import Path
from steadyband.ground.writing import write_text_atomically
print("ready", flush=True)
number = 0
while True:
    number += 1
    write_text_atomically(Path(sys.argv[1]), f"<!doctype html>{number}:" + f"{number % 10}" * 2_000_000)
"""


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.kill
def test_killed_in_the_middle_of_a_write_leaves_a_whole_file(tmp_path: Path) -> None:
    """SIGKILL at random moments of a loop that does nothing but write 2 MB: the file is one of the versions, never a part."""
    path, chance, inside = tmp_path / "week.html", random.Random(5), 0
    for _ in range(KILLS):
        command = [sys.executable, "-c", WRITER, str(path)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(chance.uniform(0.005, 0.05))
            process.kill()
        if path.exists():
            number, _, body = path.read_text(encoding="utf-8").removeprefix(PAGE).partition(":")
            assert body == str(int(number) % 10) * 2_000_000
        inside += bool(list(tmp_path.glob(".steadyband-*.tmp")))
    assert path.exists()
    assert inside, "no kill fell into a write: the test shows nothing"


def test_what_killed_runs_left_is_taken_away_an_hour_later(tmp_path: Path) -> None:
    old, young, foreign = (tmp_path / name for name in (".steadyband-a.tmp", ".steadyband-b.tmp", "notes.tmp"))
    for path in (old, young, foreign):
        path.write_bytes(b"half")
    os.utime(old, (time.time() - 3700, time.time() - 3700))
    os.utime(foreign, (0, 0))
    write_text_atomically(tmp_path / "week.html", PAGE)
    assert sorted(path.name for path in tmp_path.iterdir()) == [".steadyband-b.tmp", "notes.tmp", "week.html"]


@pytest.mark.parametrize("umask", [0o000, 0o077, 0o777])
def test_files_and_folders_are_private_whatever_the_umask(tmp_path: Path, umask: int) -> None:
    before = os.umask(umask)
    try:
        write_text_atomically(tmp_path / "a" / "b" / "week.html", PAGE)
    finally:
        os.umask(before)
    assert [mode(tmp_path / part) for part in ("a", "a/b", "a/b/week.html")] == [0o700, 0o700, 0o600]


def test_a_folder_that_is_there_keeps_its_permissions(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    make_private_folder(tmp_path)
    write_text_atomically(tmp_path / "week.html", PAGE)
    assert mode(tmp_path) == 0o755


def athlete(place: Path) -> Path:
    for part in ("activities", "tests"):
        (place / part).mkdir(parents=True)
    (place / "athlete.toml").write_text('time_zone = "UTC"\n', encoding="utf-8")
    return place


OWN = {
    "athlete.toml": b'name = "x"\n',
    "sessions.csv": b"date,time,intent,sport,note\n2026-05-12,,hard,cycling,mine\n",
    "plan.csv": b"week,sport,band,hours\n",
    "activities/notes.csv": b"a,b\n",
    "tests/2026-04-20.csv": b"a,b\n",
    "elsewhere.fit": b"\x0e\x20\x54\x08\x00\x10\x00\x00.FIT" + bytes(9000),
    "elsewhere.gpx": b'<?xml version="1.0"?><gpx version="1.1"></gpx>',
    "elsewhere.gz": b"\x1f\x8b\x08" + bytes(100),
    "elsewhere.ods": b"PK\x03\x04" + bytes(100),
    "other.parquet": b"PAR1" + bytes(100),
    "page.html": b"<!DOCTYPE html><p>mine",
}


@pytest.mark.parametrize("name", OWN)
def test_what_is_not_ours_is_never_replaced(tmp_path: Path, name: str) -> None:
    """A table is never written over an athlete's own file, a recording, a spreadsheet or a page, whatever --out says."""
    path = athlete(tmp_path / "home") / name
    path.write_bytes(OWN[name])
    with pytest.raises(SteadybandError, match="it is left as it is") as caught:
        write_bytes_atomically(path, b"date,start\n2026-05-12,1\n")
    assert "--out" in str(caught.value)
    assert path.read_bytes() == OWN[name]


def test_a_recording_is_not_replaced_by_a_workout(tmp_path: Path) -> None:
    """Both are FIT files: what is larger than a workout can be is a recording."""
    path = tmp_path / "steady.fit"
    path.write_bytes(OWN["elsewhere.fit"])
    with pytest.raises(SteadybandError, match="a FIT file is there already"):
        write_bytes_atomically(path, OWN["elsewhere.fit"][:500])
    path.write_bytes(OWN["elsewhere.fit"][:700])
    write_bytes_atomically(path, OWN["elsewhere.fit"][:500])
    assert path.stat().st_size == 500


@pytest.mark.parametrize("kind", ["folder", "pipe", "device"])
def test_only_plain_files_are_replaced(tmp_path: Path, kind: str) -> None:
    """By root, a rename would take the place of /dev/null itself."""
    path = Path(os.devnull) if kind == "device" else tmp_path / kind
    if kind == "folder":
        path.mkdir()
    if kind == "pipe":
        os.mkfifo(path)
    with pytest.raises(SteadybandError, match="it is left as it is"):
        write_text_atomically(path, PAGE)
    if kind == "device":
        assert stat.S_ISCHR(path.stat().st_mode)


def test_a_link_is_replaced_and_never_followed(tmp_path: Path) -> None:
    """Otherwise a link laid into a shared reports folder would let a page land in any file of the athlete's."""
    other, link = tmp_path / "other.html", tmp_path / "week.html"
    other.write_text("untouched", encoding="utf-8")
    link.symlink_to(other)
    write_text_atomically(link, PAGE)
    assert other.read_text(encoding="utf-8") == "untouched"
    assert not link.is_symlink()
    assert link.read_text(encoding="utf-8") == PAGE


def test_a_lock_is_held_by_one(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    with held(path) as locked:
        assert locked
        with pytest.raises(HeldError, match=f"process {os.getpid()}"), held(path):
            pytest.fail("held twice")
        assert mode(lock_path(path)) == 0o600
    assert not lock_path(path).exists()
    with held(path):
        pass


def test_a_lock_of_a_killed_process_holds_nobody_up(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    code = "import sys, time; from pathlib import Path; from steadyband.ground.locking import held\nwith held(Path(sys.argv[1])):\n    print('held', flush=True)\n    time.sleep(600)"
    with subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        with pytest.raises(HeldError, match=f"process {process.pid}"), held(path):
            pass
        process.send_signal(signal.SIGKILL)
    assert lock_path(path).exists()
    with held(path) as locked:
        assert locked


def count_up(path: Path) -> None:
    for _ in range(25):
        with held(path, wait_s=60):
            number = int(path.read_text(encoding="utf-8"))
            path.write_text(str(number + 1), encoding="utf-8")


@pytest.mark.kill
def test_no_two_processes_are_inside_at_once(tmp_path: Path) -> None:
    """Four processes add one 25 times each by reading and writing: without the lock some of the 100 would be lost."""
    path = tmp_path / "number"
    path.write_text("0", encoding="utf-8")
    fresh = multiprocessing.get_context("spawn")
    workers = [fresh.Process(target=count_up, args=(path,)) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(120)
    assert [worker.exitcode for worker in workers] == [0] * 4
    assert path.read_text(encoding="utf-8") == "100"


def test_a_file_system_without_locks_is_told_not_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import errno
    import fcntl

    def none(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(fcntl, "flock", none)
    with held(tmp_path / "x") as locked:
        assert not locked


@pytest.mark.skipif(os.geteuid() != 0 or shutil.which("mount") is None, reason="only root may mount a small disk")
def test_a_disk_that_is_really_full(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)], capture_output=True)
    if made.returncode:
        pytest.skip("mounting is not allowed here")
    try:
        path = disk / "week.html"
        write_text_atomically(path, PAGE + "old")
        with pytest.raises(SteadybandError, match=r"No space left on device.*Make room on the disk"):
            write_text_atomically(path, PAGE + "x" * 1_000_000)
        assert path.read_text(encoding="utf-8") == PAGE + "old"
        assert [item.name for item in disk.iterdir()] == ["week.html"]
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        with pytest.raises(SteadybandError, match="Read-only file system"):
            write_text_atomically(path, PAGE)
    finally:
        subprocess.run(["umount", str(disk)], check=True)
