"""The limits of one recording hold, and what goes past them never stops the others."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hostile_base import FILE_ID, RECORD, T0, definition, fit, records, ride, write_home
from hostile_gpx import GPXS
from hostile_run import run

from steadyband.athlete import guard, work
from steadyband.ground.errors import RecordingError
from steadyband.recording import limits, read
from steadyband.recording.gpx import activity as gpx

AUDIT = ("audit", "activities", "--tests", "tests", "--format", "json")
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="the hard limits of memory exist on Linux alone")


@pytest.fixture
def home(tmp_path: Path) -> Path:
    write_home(tmp_path)
    (tmp_path / "activities" / "bad.fit").write_bytes(ride(300, T0 + 90_000))
    return tmp_path


def test_counts_are_looked_at_before_the_memory_is_taken() -> None:
    """Four million messages of two bytes took 845 MB before there was a limit (measured); by hand: 8 MB of file."""
    shapes = definition(2, 20, (3, 1, 2)) + definition(3, 21)
    data = fit(FILE_ID, RECORD, records(5), shapes, b"\x02\x64\x03" * 2_600_000, checksum=0)
    with pytest.raises(RecordingError, match=r"at most 4,000,000 messages in one recording, found 4,\d{3},\d{3}"):
        read(data)


def test_time_of_one_recording_is_bounded_in_every_long_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "TIME_MAX_S", -1.0)
    for data in (ride(), *(item_data("gpx-years-apart"), item_data("gpx-many-days"))):
        with pytest.raises(RecordingError, match="of processor time to read, which no real recording does"):
            read(data)


def item_data(name: str) -> bytes:
    made = next(item for item in GPXS if item.name == name).make
    (data,) = [cell.cell_contents for cell in made.__closure__ or () if isinstance(cell.cell_contents, bytes)]  # type: ignore[attr-defined]
    return data


def _never_ends(*_: object) -> None:
    while True:
        pass


def _fills_memory(*_: object) -> None:
    held = []
    while True:
        held.append(np.ones(2**23))


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        pytest.param(_never_ends, "of processor time to read", id="never ends"),
        pytest.param(_fills_memory, "MiB of memory to read", id="fills the memory", marks=LINUX),
    ],
)
@pytest.mark.skipif(not hasattr(__import__("signal"), "setitimer"), reason="this system has no such timer")
def test_what_no_count_foresaw_is_stopped_and_the_others_go_on(
    home: Path, monkeypatch: pytest.MonkeyPatch, fault: Callable[..., None], said: str
) -> None:
    """A reader that never returns, and one that takes all memory there is, stand for a fault nobody thought of."""
    real = work.read
    monkeypatch.setattr(work, "read", lambda data, name: fault() if name == "bad.fit" else real(data, name))
    monkeypatch.setattr(limits, "TIME_MAX_S", 0.5)
    monkeypatch.setattr(limits, "MEMORY_MAX", 2**28)
    done = run(home, *AUDIT)
    assert done.status == 1
    assert "bad.fit: takes more than" in done.err
    assert said in done.err
    assert '"file": "good.fit"' in done.out


@LINUX
def test_the_limit_is_lifted_afterwards() -> None:
    import resource

    before = resource.getrlimit(resource.RLIMIT_DATA)
    with guard.guarded():
        assert resource.getrlimit(resource.RLIMIT_DATA)[0] != before[0]
    assert resource.getrlimit(resource.RLIMIT_DATA) == before
    with pytest.raises(RecordingError, match="memory"), guard.guarded():
        raise MemoryError
    assert resource.getrlimit(resource.RLIMIT_DATA) == before


def test_a_recording_of_many_sessions_is_bounded_in_all(tmp_path: Path) -> None:
    """By hand: 30 sessions of a day less a second are 30 days, more than the 14 that are laid out."""
    with pytest.raises(RecordingError, match="at most 14 days over all sessions in one recording, found 30"):
        read(item_data("gpx-long-sessions"))
    assert gpx.sniff(item_data("gpx-long-sessions"))


LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_DATA, (2**30, 2**30))
resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
sys.argv = ["steadyband", *sys.argv[1:]]
from steadyband.cli.main import main
main()
"""


@LINUX
@pytest.mark.parametrize(
    "name",
    ["gpx-billion-laughs", "gpx-too-much-markup", "fit-tiny-messages", "fit-records-without-end", "packed-gzip-bomb",
     "packed-zip-sparse-8-gib", "packed-zip-of-zip-bombs", "place-sparse-64-gib", "test-xlsx-far-cell",
     "test-ods-value-repeated", "test-csv-million-columns", "athlete-hex-endless"],
)  # fmt: skip
@pytest.mark.kill
def test_within_a_gibibyte_and_a_minute(name: str, tmp_path: Path) -> None:
    """The worst of the corpus in a process that the system holds to 1 GiB of data and 60 s of processor time."""
    from make_hostile import CORPUS

    item = next(item for item in CORPUS if item.name == name)
    item.write(tmp_path)
    command = [sys.executable, "-c", LIMITED, *item.command]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == item.status, done.stderr[-1000:]
    assert "Traceback" not in done.stderr
