"""Work spread over every core: a few pieces ahead, results as they come, and nothing left running afterwards."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing.connection import wait as wait_for_any
from types import ModuleType
from typing import Any, TypeVar

from steadyband.athlete.cores import cores
from steadyband.ground.errors import RecordingError

AHEAD = 3
"""Pieces queued for each worker: results wait in memory no longer than that."""

ENDED = "the process was ended from outside"
_NO_MORE: Any = object()

Piece = TypeVar("Piece")
Result = TypeVar("Result")
_known: tuple[bytes, Callable[[Any], Any]] | None = None


def spread(work: Callable[[Piece], Result], pieces: Iterable[Piece]) -> Iterator[Result]:
    """`work(piece)` of each piece in processes of its own, in no given order; closing the iterator ends them.

    The processes are fresh ones: a copy of one that has started threads (polars) may never wake up. `work` is packed
    once and travels with each piece. Raises what `work` raises, and RecordingError where a process was ended from
    outside.
    """
    pool = _pool(cores())
    try:
        yield from _in_turn(pool, pickle.dumps(work), pieces)
    except BrokenProcessPool as fault:
        raise RecordingError(
            "a helper process was ended from outside (too little memory?); what was done is kept.", hint="Run again."
        ) from fault
    finally:
        _stop(pool)


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
    work: bytes, waiting: Iterator[Piece], count: int, lost: list[Piece]
) -> Iterator[tuple[Piece, Any | BaseException]]:
    """The pieces that one pool gets done; those under way when it broke go to `lost`."""
    pool = _pool(count)
    running: dict[Future[Any], Piece] = {}
    try:
        _fill(pool, work, waiting, running, (count + 1, lost))
        while running:
            for job in wait(running, return_when=FIRST_COMPLETED).done:
                piece, fault = running.pop(job), job.exception()
                if isinstance(fault, BrokenProcessPool):
                    lost.append(piece)
                else:
                    yield piece, job.result() if fault is None else fault
            _fill(pool, work, waiting, running, (count + 1, lost))
    finally:
        _stop(pool)


def _fill(
    pool: ProcessPoolExecutor,
    work: bytes,
    waiting: Iterator[Piece],
    running: dict[Future[Any], Piece],
    limits: tuple[int, list[Piece]],
) -> None:
    most, lost = limits
    while len(running) < most and not lost:
        piece = next(waiting, _NO_MORE)
        if piece is _NO_MORE:
            return
        try:
            with _main_hidden(), _interrupt_held():
                running[pool.submit(_run, work, piece)] = piece
        except BrokenProcessPool:
            lost.append(piece)


def _pool(count: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"), initializer=_settle)


def _in_turn(pool: ProcessPoolExecutor, work: bytes, pieces: Iterable[Piece]) -> Iterator[Any]:
    waiting = iter(pieces)
    running = _submitted(pool, work, islice(waiting, AHEAD * cores()))
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
    """End the workers now: they hold nothing that is not made again.

    One that is ended in the middle of handing over a result leaves a part of it in the pipe. The pool's own thread would
    wait for the rest for ever, and the program with it, as long as this process keeps its end for writing open.
    """
    workers = list((pool._processes or {}).values())
    results: Any = getattr(pool, "_result_queue", None)
    pool.shutdown(wait=False, cancel_futures=True)
    for worker in workers:
        with contextlib.suppress(OSError, ValueError):
            worker.terminate()
    with contextlib.suppress(OSError, AttributeError):
        results._writer.close()


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
