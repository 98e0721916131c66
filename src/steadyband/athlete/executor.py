"""Work given to any executor of the `concurrent.futures` kind, on this machine or another: `each` is the one way it is done.

To other machines the bytes of recordings travel, so workers need no common disk.

Every task carries the versions it was made with; a worker with others refuses it rather than give other numbers.
"""

from __future__ import annotations

import importlib.metadata
import pickle
import platform
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, wait
from contextlib import closing
from dataclasses import replace
from functools import cache, lru_cache, partial
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
    """(key, `work(*args)`) of each (key, args), a few ahead at a time; closing the iterator drops the rest.

    A RecordingError takes the place of a result whose worker was lost time and again. Raises what `work` raises, and
    ExecutorError where the executor broke down or a worker has other versions.
    """
    submit = partial(executor.submit, done_by_a_worker, stamp(), pickle.dumps(work))
    with closing(each(submit, jobs, getattr(executor, "ahead", AHEAD))) as done:
        for key, found in done:
            if isinstance(found, BrokenExecutor):
                raise ExecutorError(
                    "a worker process was ended from outside (too little memory?); what was done is kept.",
                    hint="Run again.",
                ) from found
            if isinstance(found, BaseException) and not isinstance(found, RecordingError):
                raise found
            yield key, found


def each(
    submit: Callable[..., Job], jobs: Iterable[tuple[Key, tuple[Any, ...]]], ahead: int, cancel: bool = True
) -> Generator[tuple[Key, Any]]:
    """(key, the result of `submit(*args)`, or what it raised) of each (key, args): how all work is given to others.

    At most `ahead` are under way. Futures come as they are done, other jobs in order. Once the executor is broken no more is
    taken from `jobs`. Closing the iterator drops what has not begun, unless whoever owns the executor ends it himself.
    """
    left, broken = iter(jobs), False
    waiting: list[tuple[Key, Job]] = []
    try:
        while True:
            while not broken and len(waiting) < ahead and (one := next(left, None)) is not None:
                try:
                    waiting.append((one[0], submit(*one[1])))
                except BrokenExecutor as fault:
                    broken = True
                    yield one[0], fault
            if not waiting:
                return
            key, job = waiting.pop(_first_done([job for _, job in waiting]))
            found = _found(job)
            broken = broken or isinstance(found, BrokenExecutor)
            yield key, found
    finally:
        for _, job in waiting if cancel and not broken else ():  # one broken down gives its jobs their fault by itself
            job.cancel()


def _first_done(jobs: Sequence[Job]) -> int:
    futures: list[Future[Any]] = [job for job in jobs if isinstance(job, Future)]
    if len(futures) < len(jobs):
        return 0
    done = wait(futures, return_when=FIRST_COMPLETED).done
    return next(number for number, job in enumerate(jobs) if job in done)


def _found(job: Job) -> Any:
    if isinstance(job, Future):
        fault = job.exception()
        return job.result() if fault is None else fault
    try:
        return job.result()
    except Exception as fault:  # noqa: BLE001 whatever the work raised is its result
        return fault


def done_by_a_worker(asked: Stamp, work: bytes, *args: Any) -> Any:
    """In a worker: the unpacked `work` on `args`. Raises ExecutorError where this worker's versions are not those asked for."""
    own = stamp()
    if own != asked:
        raise ExecutorError(
            f"a worker on {platform.node() or 'another machine'} would give other numbers: {_differences(asked, own)}.",
            hint="Install the same steadyband, Python and packages on every worker, restart them, and run again.",
        )
    return unpacked_work(work, *args)


def unpacked_work(work: bytes, *args: Any) -> Any:
    """In another process: the unpacked `work` on `args`; it is unpacked once."""
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
