"""Recordings given to any executor of the `concurrent.futures` kind: their bytes travel, so workers need no common disk.

Every task carries the versions it was made with; a worker with others refuses it rather than give other numbers.
"""

from __future__ import annotations

import importlib.metadata
import pickle
import platform
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor
from dataclasses import replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Protocol, TypeVar

from steadyband.athlete.folder import AthleteFolder
from steadyband.ground.errors import ExecutorError, RecordingError
from steadyband.steptest.model import ZoneSet

AHEAD = 16
"""Recordings given away at a time where the executor does not say (`ahead`): their bytes and results wait in memory."""
PACKAGES = ("numpy", "fitdecode", "fit-tool", "gpxpy")
"""Packages besides the standard library that have a hand in an audit's numbers."""

Key = TypeVar("Key")
Stamp = tuple[tuple[str, str], ...]


class Job(Protocol):
    """What `submit` returns: waits for the result, or raises what the work raised."""

    def result(self) -> Any:
        """The result, once it is there."""

    def cancel(self) -> Any:
        """Drop the work where it has not begun."""


class Executor(Protocol):
    """Anything that does work elsewhere or later, like `concurrent.futures.Executor`."""

    def submit(self, fn: Callable[..., Any], /, *args: Any) -> Job:
        """Have `fn(*args)` done; function, arguments and result are pickled where other processes do it."""


class Here:
    """No executor at all: everything is done in this process, when it is asked for."""

    def submit(self, fn: Callable[..., Any], /, *args: Any) -> Job:
        """The work, done when its result is asked for."""
        return _Later(fn, args)


class _Later:
    def __init__(self, fn: Callable[..., Any], args: tuple[Any, ...]) -> None:
        self._fn, self._args = fn, args

    def result(self) -> Any:
        return self._fn(*self._args)

    def cancel(self) -> bool:
        return True


def inputs_only(folder: AthleteFolder) -> AthleteFolder:
    """The folder with nothing but what an audit depends on: no name, paths, plan or notes leave this process with it."""
    nowhere = Path()
    athlete = replace(folder.athlete, name="", reports=nowhere, tests=nowhere, activities=nowhere, plan=())
    labels = tuple(label.judging_part for label in folder.labels)
    zone_sets, named = (tuple(map(_judging_part, sets)) for sets in (folder.zone_sets, folder.named))
    bare = replace(folder, path=nowhere, athlete=athlete, labels=labels, week_notes=(), label_faults=())
    return replace(bare, zone_sets=zone_sets, named=named)


def _judging_part(zones: ZoneSet) -> ZoneSet:
    """The zone set without what only people read: notes, and the sentences of checks that block nothing."""
    test = replace(zones.test, note="", position="", analyser="")
    return replace(zones, test=test, checks=tuple(check for check in zones.checks if check.severity == "block"))


def through(
    executor: Executor, work: Callable[..., Any], jobs: Iterable[tuple[Key, tuple[Any, ...]]]
) -> Iterator[tuple[Key, Any]]:
    """(key, `work(*args)`) of each (key, args), in order, a few ahead at a time; closing the iterator drops the rest.

    A RecordingError takes the place of a result whose worker was lost time and again. Raises what `work` raises, and
    ExecutorError where the executor broke down or a worker has other versions.
    """
    packed, versions = pickle.dumps(work), stamp()
    waiting: deque[tuple[Key, Job]] = deque()
    try:
        for key, args in jobs:
            waiting.append((key, executor.submit(done_by_a_worker, versions, packed, *args)))
            if len(waiting) >= getattr(executor, "ahead", AHEAD):
                yield _first(waiting)
        while waiting:
            yield _first(waiting)
    finally:
        for _, job in waiting:
            job.cancel()


def _first(waiting: deque[tuple[Key, Job]]) -> tuple[Key, Any]:
    key, job = waiting.popleft()
    try:
        return key, job.result()
    except RecordingError as lost:
        return key, lost
    except BrokenExecutor as fault:
        raise ExecutorError(
            "a worker process was ended from outside (too little memory?); what was done is kept.", hint="Run again."
        ) from fault


def done_by_a_worker(asked: Stamp, work: bytes, *args: Any) -> Any:
    """In a worker: the unpacked `work` on `args`. Raises ExecutorError where this worker's versions are not those asked for."""
    own = stamp()
    if own != asked:
        raise ExecutorError(
            f"a worker on {platform.node() or 'another machine'} would give other numbers: {_differences(asked, own)}.",
            hint="Install the same steadyband, Python and packages on every worker, restart them, and run again.",
        )
    return _unpacked(work)(*args)


@lru_cache(maxsize=8)
def _unpacked(work: bytes) -> Callable[..., Any]:
    made: Callable[..., Any] = pickle.loads(work)
    return made


@cache
def stamp() -> Stamp:
    """Names and versions of everything that has a hand in an audit's numbers."""
    from steadyband.athlete.store.keys import code_digest

    return (
        ("steadyband", _version("steadyband")),
        ("its code", code_digest()[:12]),
        ("Python", ".".join(platform.python_version_tuple()[:2])),
        *((name, _version(name)) for name in PACKAGES),
    )


def _version(name: str) -> str:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return "not installed"


def _differences(asked: Stamp, own: Stamp) -> str:
    here, there = dict(asked), dict(own)
    told = [
        f"{name} is {there.get(name, 'unknown')} there and {here.get(name, 'unknown')} here"
        for name in dict.fromkeys((*here, *there))
        if here.get(name) != there.get(name)
    ]
    return "; ".join(told)
