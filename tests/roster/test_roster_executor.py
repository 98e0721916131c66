"""The work on one recording is a pure function of bytes; athletes are spread so that none takes another down."""

from __future__ import annotations

import builtins
import os
import pickle
import shutil
import signal
import socket
import subprocess
import sys
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest
from roster_club import Ride, athlete, run

from console import PLAIN, command
from steadyband.athlete import executor, guard
from steadyband.athlete.cluster import check_installed
from steadyband.athlete.executor import Here, done_by_a_worker, inputs_only, stamp, through
from steadyband.athlete.folder import open_folder
from steadyband.athlete.parallel import spread_apart
from steadyband.athlete.work import audit_bytes
from steadyband.ground.errors import ExecutorError, RecordingError, UsageError


def test_bytes_zone_sets_and_settings_are_all_it_sees(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No file is opened, no clock read and no host asked; names, paths and notes are not even there."""
    home = athlete(tmp_path / "ada", "Ada Private", [Ride(1, seconds=1300)])
    (home / "sessions.csv").write_text("date,time,intent,sport,note\n2026-05-15,,endurance,,Ada was ill\n", "utf-8")
    folder = open_folder(home)
    data = (home / "activities" / "ada-000.fit").read_bytes()
    first = audit_bytes(data, "ada-000.fit", folder)
    bare = inputs_only(folder)
    assert b"Private" not in pickle.dumps(bare)
    assert b"was ill" not in pickle.dumps(bare)
    assert str(tmp_path).encode() not in pickle.dumps(bare)

    def forbidden(*_: Any, **__: Any) -> Any:
        raise AssertionError("the work looked outside")

    with monkeypatch.context() as shut:
        shut.setattr(guard, "_data_used", lambda: None)
        for module, name in ((builtins, "open"), (os, "open"), (socket, "socket"), (Path, "open"), (Path, "stat")):
            shut.setattr(module, name, forbidden)
        second = audit_bytes(data, "ada-000.fit", bare)
    assert first.products[0].condensed.audit.verdict.in_band is not None
    assert pickle.dumps(first.products[0].condensed.strip) == pickle.dumps(second.products[0].condensed.strip)
    assert repr(first) == repr(second)


def test_a_faulty_recording_is_a_result(tmp_path: Path) -> None:
    folder = open_folder(athlete(tmp_path / "ada", "Ada", []))
    found = audit_bytes(b"neither FIT nor GPX", "notes.txt", folder)
    assert found.products == ()
    assert found.fault is not None
    assert found.fault.foreign


def test_other_versions_are_refused() -> None:
    other = tuple((name, "0.0" if name == "numpy" else value) for name, value in stamp())
    with pytest.raises(ExecutorError, match=r"would give other numbers: numpy is .+ there and 0\.0 here"):
        done_by_a_worker(other, pickle.dumps(len), b"x")
    assert done_by_a_worker(stamp(), pickle.dumps(len), b"four") == 4


class Recorder:
    """Counts what is given away and dropped."""

    ahead = 4

    def __init__(self, fault: BaseException | None = None) -> None:
        self.given = self.dropped = 0
        self.fault = fault

    def submit(self, fn: Any, /, *args: Any) -> Any:
        self.given += 1
        job: Future[Any] = Future()
        job.add_done_callback(lambda done: setattr(self, "dropped", self.dropped + done.cancelled()))
        if self.fault is not None:
            job.set_exception(self.fault)
        elif self.given < 4:
            job.set_result(fn(*args))
        return job


def test_only_a_few_are_under_way_and_closing_drops_them() -> None:
    counting = Recorder()
    found = through(counting, len, ((number, (b"x" * number,)) for number in range(1000)))
    assert [next(found), next(found)] == [(0, 0), (1, 1)]
    assert counting.given == 5
    found.close()  # type: ignore[attr-defined]
    assert counting.dropped == 2


def test_a_lost_worker_costs_one_recording_and_a_broken_executor_the_run() -> None:
    lost = RecordingError("each worker that was given this recording was lost.")
    assert list(through(Recorder(lost), len, [("a", (b"",))])) == [("a", lost)]
    with pytest.raises(ExecutorError, match="ended from outside"):
        list(through(Recorder(BrokenProcessPool("gone")), len, [("a", (b"",))]))


def test_here_does_it_when_asked() -> None:
    assert list(through(Here(), len, [("a", (b"abc",))])) == [("a", 3)]


def test_an_athlete_through_any_executor_is_the_same_athlete(tmp_path: Path) -> None:
    from steadyband.report.roster.work import Task, look_after
    from steadyband.review.roster_folders import find_homes

    athlete(tmp_path / "ada", "Ada", [Ride(day, seconds=1300) for day in (1, 2, 3)])
    (home,) = find_homes(tmp_path).homes
    task = Task(None, tmp_path / "reports" / "roster.html")
    with ThreadPoolExecutor(2) as threads:
        spread = look_after(home, task, threads)
    shutil.rmtree(home.path / ".steadyband")
    here = look_after(home, task)
    assert spread.entry.judged == 3
    assert (spread.entry, spread.row) == (here.entry, here.row)


def killing(number: int) -> int:
    """3 always takes its process down, 5 raises, the others are done."""
    if number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    if number == 5:
        raise KeyError("odd")
    return 10 * number


@pytest.mark.kill
def test_one_piece_that_ends_its_process_stops_no_other() -> None:
    found = dict(spread_apart(killing, range(12), 2))
    assert {number: value for number, value in found.items() if number not in (3, 5)} == {
        number: 10 * number for number in range(12) if number not in (3, 5)
    }
    assert isinstance(found[3], BrokenProcessPool)
    assert isinstance(found[5], KeyError)


def test_pieces_are_taken_as_they_are_needed() -> None:
    taken: list[int] = []

    def pieces() -> Any:
        for number in range(100):
            taken.append(number)
            yield number

    work = spread_apart(abs, pieces(), 1)
    next(work)
    assert len(taken) <= 4
    work.close()  # type: ignore[attr-defined]


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match="not installed"):
        check_installed()
    monkeypatch.undo()
    athlete(tmp_path / "ada", "Ada", [])
    (tmp_path / "none" / "distributed").mkdir(parents=True)
    (tmp_path / "none" / "distributed" / "__init__.py").write_text("raise ImportError", "utf-8")
    done = subprocess.run(
        command("roster", tmp_path, "--dask", "tcp://127.0.0.1:9"),
        env=os.environ | PLAIN | {"PYTHONPATH": str(tmp_path / "none")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert 'python -m pip install "steadyband[dask]"' in done.stderr


def test_an_address_is_expected(tmp_path: Path) -> None:
    athlete(tmp_path / "ada", "Ada", [])
    done = run("roster", tmp_path, "--dask", "somewhere")
    assert done.returncode == 2
    assert "expected an address such as tcp://HOST:8786" in done.stderr


def test_the_public_seam_is_typed() -> None:
    assert executor.through.__doc__
    assert audit_bytes.__annotations__["data"] == "bytes"
