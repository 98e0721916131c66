"""Work spread over processes: all of it, in any order, without running the caller's script again, and no hang."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from steadyband.athlete import cores
from steadyband.athlete.cores import worth_spreading
from steadyband.athlete.parallel import spread
from steadyband.ground.errors import RecordingError, UsageError


def double(number: int) -> int:
    return 2 * number


def die(number: int) -> int:
    if number == 3:
        os._exit(9)
    return number


def refuse(number: int) -> int:
    raise UsageError(f"not {number}")


def test_every_piece_is_done_once() -> None:
    assert sorted(spread(double, range(40))) == list(range(0, 80, 2))
    assert list(spread(double, [])) == []


def test_an_error_of_the_work_comes_through() -> None:
    with pytest.raises(UsageError, match="not"):
        list(spread(refuse, range(8)))


@pytest.mark.kill
def test_a_process_that_is_ended_from_outside_costs_a_sentence() -> None:
    with pytest.raises(RecordingError, match="ended from outside"):
        list(spread(die, range(20)))


@pytest.mark.kill
def test_closing_ends_the_work_at_once() -> None:
    work = spread(time.sleep, [0.0, *[30.0] * 20])
    next(work)
    started = time.perf_counter()
    work.close()  # type: ignore[attr-defined]
    assert time.perf_counter() - started < 5


def test_a_few_files_or_one_core_stay_in_one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 4)
    assert not worth_spreading(5)
    assert worth_spreading(6)
    monkeypatch.setattr(cores, "cores", lambda: 1)
    assert not worth_spreading(1000)


def test_a_script_without_a_guard_is_not_run_again(tmp_path: Path) -> None:
    script = tmp_path / "plain.py"
    script.write_text(
        "from operator import neg\nfrom steadyband.athlete.parallel import spread\nprint(sorted(spread(neg, range(9))))\n",
        encoding="utf-8",
    )
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout == f"{list(range(-8, 1))}\n"
    assert done.stderr == ""
