"""A Dask cluster on loopback: a scheduler and workers, each a process of its own, ended by their ids."""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

LOOPBACK = "127.0.0.1"
QUIET = {"DASK_DISTRIBUTED__LOGGING__DISTRIBUTED": "error"}


@dataclass
class Cluster:
    """The scheduler's address, and the processes."""

    address: str
    place: Path
    scheduler: subprocess.Popen[bytes]
    workers: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def add_worker(self, env: dict[str, str] | None = None) -> None:
        """Start one more worker, with no folder in common with anybody."""
        number = len(self.workers)
        options = ["--no-nanny", "--nthreads", "1", "--no-dashboard", "--host", LOOPBACK, "--name", f"worker-{number}"]
        local = self.place / f"worker-{number}"
        local.mkdir()
        command = ["distributed.cli.dask_worker", self.address, *options, "--local-directory", str(local)]
        self.workers.append(_started(command, local, env))

    def wait_for(self, count: int, most_s: float = 40) -> None:
        """Wait until so many workers are there."""
        client = self.client()
        try:
            client.wait_for_workers(count, timeout=most_s)
        finally:
            client.close()

    def client(self) -> Any:
        """A connection to the scheduler."""
        from distributed import Client

        return Client(self.address, timeout=40, set_as_default=False)


def _started(command: list[str], at: Path, env: dict[str, str] | None = None) -> subprocess.Popen[bytes]:
    log = (at / f"{command[0].rsplit('.', 1)[1]}.log").open("wb")
    with log:
        return subprocess.Popen(
            [sys.executable, "-m", *command], cwd=at, env=os.environ | QUIET | (env or {}), stdout=log, stderr=log
        )


@contextlib.contextmanager
def cluster(place: Path, workers: int = 2, env: dict[str, str] | None = None) -> Iterator[Cluster]:
    """A cluster for the time of the block."""
    with socket.socket() as free:
        free.bind((LOOPBACK, 0))
        port = free.getsockname()[1]
    command = ["distributed.cli.dask_scheduler", "--host", LOOPBACK, "--port", str(port), "--no-dashboard"]
    made = Cluster(f"tcp://{LOOPBACK}:{port}", place, _started(command, place))
    try:
        for _ in range(workers):
            made.add_worker(env)
        if workers:
            made.wait_for(workers)
        yield made
    finally:
        for process in (*made.workers, made.scheduler):
            process.terminate()
        deadline = time.monotonic() + 2
        for process in (*made.workers, made.scheduler):
            try:
                process.wait(max(0.1, deadline - time.monotonic()))
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
