"""The roster on a real Dask cluster of separate worker processes: the same result, also when a worker is killed."""

from __future__ import annotations

import dataclasses
import json
import os
import pickle
import shutil
import signal
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from roster_club import Ride, athlete, run
from roster_cluster import Cluster, cluster

import steadyband
from steadyband.athlete import cluster as dask_room
from steadyband.athlete.cluster import DaskExecutor
from steadyband.athlete.executor import Here
from steadyband.athlete.folder import open_folder, recordings_in
from steadyband.athlete.measuring import unpacked
from steadyband.athlete.work import Outcome, Product, outcomes
from steadyband.ground.errors import ExecutorError
from steadyband.recording.archives import Source

pytest.importorskip("distributed", reason="the extra dask is not installed")
pytestmark = pytest.mark.cluster

RECORDINGS = 20


@pytest.fixture(scope="module")
def dask_cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    with cluster(tmp_path_factory.mktemp("cluster")) as made:
        yield made


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three athletes with many short rides, one of them with a damaged file as well."""
    root = tmp_path_factory.mktemp("cluster-club")
    for number, name in enumerate(("Asa", "Boris", "Chiara")):
        rides = [Ride(day, power=149 + 2 * number, seconds=1300) for day in range(RECORDINGS)]
        home = athlete(root / name.lower(), name, rides)
        (home / "activities" / "torn.fit").write_bytes(b"\x0e\x20\x00\x00\x00\x00\x00\x00.FIT")
    return root


def forget(club: Path) -> None:
    """Take away everything that earlier runs kept or wrote."""
    for path in [*club.rglob(".steadyband"), *club.rglob("reports")]:
        shutil.rmtree(path)


class Killer(threading.Thread):
    """Kills a worker with SIGKILL once it holds tasks while others are done; goes on watching the tasks until told to stop."""

    def __init__(self, where: Cluster, number: int) -> None:
        super().__init__(daemon=True)
        self.victim = where.workers[number]
        self.client = where.client()
        workers = self.client.scheduler_info()["workers"]
        self.address = next(place for place, told in workers.items() if told["name"] == f"worker-{number}")
        self.over = threading.Event()
        self.held: set[str] = set()
        self.before: set[str] = set()
        self.after: set[str] = set()

    def run(self) -> None:
        while not self.over.wait(0.01):
            at_work = {place: set(keys) for place, keys in self.client.processing().items()}
            now = set().union(*at_work.values())
            if self.held:
                self.after |= now - self.before
                continue
            self.before |= now
            if len(self.before - now) >= 6 and at_work.get(self.address):
                os.kill(self.victim.pid, signal.SIGKILL)
                self.held = at_work[self.address]

    def end(self) -> None:
        """Stop watching."""
        self.over.set()
        self.join(10)
        self.client.close()


def test_the_same_bytes_from_processes_and_from_a_cluster_that_loses_a_worker(
    dask_cluster: Cluster, club: Path
) -> None:
    pool = run("roster", club, "--format", "json", "--processes", "2")
    assert pool.returncode == 1, pool.stderr
    assert [item["endurance"]["judged"] for item in json.loads(pool.stdout)["athletes"]] == [6, 6, 6]
    forget(club)

    killer = Killer(dask_cluster, 0)
    killer.start()
    spread = run("roster", club, "--format", "json", "--processes", "2", "--dask", dask_cluster.address)
    killer.end()

    assert killer.victim.wait(10) == -signal.SIGKILL
    assert killer.held, "it held tasks when it died"
    assert killer.after, "and there was work left to do"
    assert spread.stdout.encode() == pool.stdout.encode()
    assert spread.stderr == pool.stderr


def test_any_executor_gives_what_one_process_gives(club: Path, dask_cluster: Cluster) -> None:
    """Threads, processes, a future that only knows `result`, and the cluster: the same audits, arrays and all."""
    home = open_folder(club / "asa")
    sources = [Source(path) for path in recordings_in(home.athlete.activities)][:6]
    here = plain_words(outcomes(sources, home, None, Here()))
    with ThreadPoolExecutor(2) as threads, ProcessPoolExecutor(2, mp_context=get_context("spawn")) as processes:
        assert plain_words(outcomes(sources, home, None, threads)) == here
        assert plain_words(outcomes(sources, home, None, processes)) == here
    assert plain_words(outcomes(sources, home, None, Slow())) == here
    with DaskExecutor(dask_cluster.address) as spread:
        assert plain_words(outcomes(sources, home, None, spread)) == here


class Slow:
    """An executor of our own: work is done when its result is asked for, after a round through pickle."""

    def submit(self, fn: Callable[..., Any], /, *args: Any) -> Any:
        packed = pickle.dumps((fn, args))

        class Later:
            def result(self) -> Any:
                work, given = pickle.loads(packed)
                return pickle.loads(pickle.dumps(work(*given)))

            def cancel(self) -> None:
                """Nothing runs."""

        return Later()


def plain_words(found: Iterable[Sequence[Outcome[Product]]]) -> list[Any]:
    """Outcomes by source as text and bytes, every array as its bytes: they come in no given order."""
    outcomes = sorted((outcome for batch in found for outcome in batch), key=lambda outcome: outcome.source.path)
    return [_words(outcome) for outcome in outcomes]


def _words(value: Any) -> Any:
    if isinstance(value, bytes):
        return _words(unpacked(value))
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, np.ndarray):
        return (str(value.dtype), value.tobytes())
    if dataclasses.is_dataclass(value):
        return [(item.name, _words(getattr(value, item.name))) for item in dataclasses.fields(value)]
    if isinstance(value, tuple | list):
        return [_words(item) for item in value]
    if isinstance(value, Mapping):
        return [(key, _words(item)) for key, item in value.items()]
    return repr(value)


def test_a_worker_with_another_version_is_refused(tmp_path: Path, club: Path) -> None:
    """A copy of the package with one line more stands for another version."""
    shutil.copytree(Path(steadyband.__file__).parent, tmp_path / "other" / "steadyband")
    with (tmp_path / "other" / "steadyband" / "ground" / "slope.py").open("a", encoding="utf-8") as module:
        module.write("\nOTHER = 1\n")
    forget(club)
    with cluster(tmp_path, 1, {"PYTHONPATH": str(tmp_path / "other")}) as made:
        done = run("roster", club, "--dask", made.address)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "would give other numbers: its code is" in done.stderr
    assert "Install the same steadyband, Python and packages on every worker" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_worker_without_steadyband_is_told(tmp_path: Path, club: Path) -> None:
    """A worker whose import of the package fails."""
    (tmp_path / "none" / "steadyband").mkdir(parents=True)
    (tmp_path / "none" / "steadyband" / "__init__.py").write_text("raise ImportError('no steadyband here')", "utf-8")
    home = open_folder(club / "asa")
    sources = [Source(path) for path in recordings_in(home.athlete.activities)][:2]
    with (
        cluster(tmp_path, 1, {"PYTHONPATH": str(tmp_path / "none")}) as made,
        DaskExecutor(made.address) as spread,
        pytest.raises(ExecutorError, match="could not load steadyband"),
    ):
        list(outcomes(sources, home, None, spread))


def test_no_scheduler_and_no_workers_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dask_room, "CONNECT_S", 1)
    with pytest.raises(ExecutorError, match=r"expected a Dask scheduler at tcp://127\.0\.0\.1:9, found none"):
        DaskExecutor("tcp://127.0.0.1:9")
    with cluster(tmp_path, 0) as made:
        monkeypatch.setattr(dask_room, "CONNECT_S", 20)
        with pytest.raises(ExecutorError, match="has no workers"):
            DaskExecutor(made.address)
