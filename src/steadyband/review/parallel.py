"""Work spread over every core: a few pieces ahead, results as they come, and nothing left running afterwards."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing.connection import wait as wait_for_any
from typing import Any, TypeVar

from steadyband.errors import RecordingError

PARALLEL_FROM = 6
"""Fewer files than this are read in one process: starting others would cost more (measured, see DEVELOPERS.md)."""
AHEAD = 3
"""Pieces queued for each worker: results wait in memory no longer than that."""

Piece = TypeVar("Piece")
Result = TypeVar("Result")
_work: Callable[[Any], Any] | None = None


def spread(work: Callable[[Piece], Result], pieces: Sequence[Piece]) -> Iterator[Result]:
    """`work(piece)` of each piece in processes of its own, in no given order; closing the iterator ends them.

    The processes are fresh ones: a copy of one that has started threads (polars) may never wake up. `work` is handed to
    each of them once. Raises what `work` raises, and RecordingError where a process was ended from outside.
    """
    fresh = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(_cores(), mp_context=fresh, initializer=_settle, initargs=(work,))
    try:
        yield from _in_turn(pool, pieces)
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


def _in_turn(pool: ProcessPoolExecutor, pieces: Sequence[Piece]) -> Iterator[Any]:
    waiting = iter(pieces)
    running: set[Future[Any]] = {pool.submit(_run, piece) for piece in islice(waiting, AHEAD * _cores())}
    while running:
        done, running = wait(running, return_when=FIRST_COMPLETED)
        running |= {pool.submit(_run, piece) for piece in islice(waiting, len(done))}
        for job in done:
            yield job.result()


def _stop(pool: ProcessPoolExecutor) -> None:
    """End the workers now: they hold nothing that is not made again."""
    workers = list((pool._processes or {}).values())
    pool.shutdown(wait=False, cancel_futures=True)
    for worker in workers:
        with contextlib.suppress(OSError, ValueError):
            worker.terminate()


def _settle(work: Callable[[Any], Any]) -> None:
    """In a worker: Ctrl-C is the parent's to handle, and without the parent there is nothing left to do."""
    global _work
    _work = work
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait_for_any([sentinel])
    os._exit(1)


def _run(piece: Any) -> Any:
    assert _work is not None
    return _work(piece)
