"""Work spread over processes of this machine: a few pieces ahead, results as they come, and nothing left running afterwards."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from functools import partial
from multiprocessing.connection import wait as wait_for_any
from types import ModuleType
from typing import Any, TypeVar

from steadyband.athlete.cores import cores
from steadyband.athlete.executor import each, unpacked_work
from steadyband.ground.errors import RecordingError

AHEAD = 3
"""Pieces queued for each worker: results wait in memory no longer than that."""

ENDED = "the process was ended from outside"

Piece = TypeVar("Piece")
Result = TypeVar("Result")


class Cores:
    """Processes of this machine as an executor: fresh ones, since a copy of one that has started threads (polars) may never
    wake up. They are ended when it is closed, or its `with` block is left."""

    def __init__(self, processes: int) -> None:
        context = multiprocessing.get_context("spawn")
        self._pool = ProcessPoolExecutor(processes, mp_context=context, initializer=_settle)

    def __enter__(self) -> Cores:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def submit(self, fn: Callable[..., Any], /, *args: Any) -> Future[Any]:
        """Have `fn(*args)` done. Raises BrokenProcessPool where one of the processes was ended from outside."""
        with _main_hidden(), _interrupt_held():
            return self._pool.submit(fn, *args)

    def close(self) -> None:
        """End the processes now: they hold nothing that is not made again.

        One that is ended in the middle of handing over a result leaves a part of it in the pipe. The pool's own thread would
        wait for the rest for ever, and the program with it, as long as this process keeps its end for writing open.
        """
        workers = list((self._pool._processes or {}).values())
        results: Any = getattr(self._pool, "_result_queue", None)
        self._pool.shutdown(wait=False, cancel_futures=True)
        for worker in workers:
            with contextlib.suppress(OSError, ValueError):
                worker.terminate()
        with contextlib.suppress(OSError, AttributeError):
            results._writer.close()


def spread(work: Callable[[Piece], Result], pieces: Iterable[Piece]) -> Iterator[Result]:
    """`work(piece)` of each piece in processes of its own, in no given order; closing the iterator ends them.

    `work` is packed once and travels with each piece. Raises what `work` raises, and RecordingError where a process was ended
    from outside.
    """
    for _, found in _on_cores(pickle.dumps(work), pieces, cores(), AHEAD * cores()):
        if isinstance(found, BrokenProcessPool):
            raise RecordingError(
                "a helper process was ended from outside (too little memory?); what was done is kept.",
                hint="Run again.",
            ) from found
        if isinstance(found, BaseException):
            raise found
        yield found


def spread_apart(
    work: Callable[[Piece], Result], pieces: Iterable[Piece], processes: int | None = None
) -> Iterator[tuple[Piece, Result | BaseException]]:
    """(piece, `work(piece)`, or what it raised) of each piece in processes of its own, in no given order.

    What happens to one piece never stops another. Where a process is ended from outside, every piece that was under way is
    done once more, alone in a process; one that loses that process too comes with BrokenProcessPool. `pieces` is taken
    from as processes become free; `processes` is the number of cores by default. Closing the iterator ends the work.
    """
    packed, waiting, count = pickle.dumps(work), iter(pieces), processes or cores()
    while True:
        lost: list[Piece] = []
        yield from _round(packed, waiting, count, lost)
        if not lost:
            return
        for piece in lost:
            again: list[Piece] = []
            yield from _round(packed, iter([piece]), 1, again)
            yield from ((one, BrokenProcessPool(ENDED)) for one in again)


def _round(
    work: bytes, pieces: Iterable[Piece], count: int, lost: list[Piece]
) -> Iterator[tuple[Piece, Any | BaseException]]:
    """The pieces that one set of processes gets done; those under way when one was ended go to `lost`."""
    with closing(_on_cores(work, pieces, count, count + 1)) as done:
        for piece, found in done:
            if isinstance(found, BrokenProcessPool):
                lost.append(piece)
            else:
                yield piece, found


def _on_cores(work: bytes, pieces: Iterable[Piece], count: int, ahead: int) -> Generator[tuple[Piece, Any]]:
    """(piece, its result or fault) as they are done, in `count` processes; after one was ended no more pieces are taken."""
    jobs = ((piece, (piece,)) for piece in pieces)
    with (
        Cores(count) as pool,
        closing(each(partial(pool.submit, unpacked_work, work), jobs, ahead, cancel=False)) as done,
    ):
        yield from done


@contextlib.contextmanager
def _main_hidden() -> Iterator[None]:
    """Processes started inside do not run the caller's script again: nothing in it is needed there."""
    own = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = own


@contextlib.contextmanager
def _interrupt_held() -> Iterator[None]:
    """Processes started inside never see Ctrl-C, not even while they still start; here it comes a moment later."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _settle() -> None:
    """In a worker: Ctrl-C is the parent's to handle, and without the parent there is nothing left to do."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait_for_any([sentinel])
    os._exit(1)
