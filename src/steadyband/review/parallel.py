"""Work spread over every core: a few pieces ahead, results as they come, and nothing left running afterwards."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing.connection import wait as wait_for_any
from types import ModuleType
from typing import Any, TypeVar

from steadyband.errors import RecordingError

PARALLEL_FROM = 6
"""Fewer files than this are read in one process: starting others would cost more (measured, see DEVELOPERS.md)."""
AHEAD = 3
"""Pieces queued for each worker: results wait in memory no longer than that."""

Piece = TypeVar("Piece")
Result = TypeVar("Result")
_known: tuple[bytes, Callable[[Any], Any]] | None = None


def spread(work: Callable[[Piece], Result], pieces: Sequence[Piece]) -> Iterator[Result]:
    """`work(piece)` of each piece in processes of its own, in no given order; closing the iterator ends them.

    The processes are fresh ones: a copy of one that has started threads (polars) may never wake up. `work` is packed
    once and travels with each piece. Raises what `work` raises, and RecordingError where a process was ended from
    outside.
    """
    fresh = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(_cores(), mp_context=fresh, initializer=_settle)
    try:
        yield from _in_turn(pool, pickle.dumps(work), pieces)
    except BrokenProcessPool as fault:
        raise RecordingError(
            "a helper process was ended from outside (too little memory?); what was done is kept.", hint="Run again."
        ) from fault
    finally:
        _stop(pool)


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def worth_spreading(count: int) -> bool:
    """True where that many files are done sooner by several processes."""
    return count >= PARALLEL_FROM and _cores() > 1


def _in_turn(pool: ProcessPoolExecutor, work: bytes, pieces: Sequence[Piece]) -> Iterator[Any]:
    waiting = iter(pieces)
    running = _submitted(pool, work, islice(waiting, AHEAD * _cores()))
    while running:
        done, running = wait(running, return_when=FIRST_COMPLETED)
        running |= _submitted(pool, work, islice(waiting, len(done)))
        for job in done:
            yield job.result()


def _submitted(pool: ProcessPoolExecutor, work: bytes, pieces: Iterable[Piece]) -> set[Future[Any]]:
    with _main_hidden(), _interrupt_held():
        return {pool.submit(_run, work, piece) for piece in pieces}


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


def _stop(pool: ProcessPoolExecutor) -> None:
    """End the workers now: they hold nothing that is not made again."""
    workers = list((pool._processes or {}).values())
    pool.shutdown(wait=False, cancel_futures=True)
    for worker in workers:
        with contextlib.suppress(OSError, ValueError):
            worker.terminate()


def _settle() -> None:
    """In a worker: Ctrl-C is the parent's to handle, and without the parent there is nothing left to do."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait_for_any([sentinel])
    os._exit(1)


def _run(work: bytes, piece: Any) -> Any:
    global _known
    if _known is None or _known[0] != work:
        _known = (work, pickle.loads(work))
    return _known[1](piece)
