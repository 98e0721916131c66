"""A Dask cluster as an executor: the extra `dask`, a scheduler's address, and sentences for what can go wrong with it.

A cluster runs what it is sent by pickle, and its workers see the recordings: only a cluster of your own will do.
"""

from __future__ import annotations

import contextlib
import logging
import pickle
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from concurrent.futures import TimeoutError as StillWaitingError
from typing import Any

from steadyband.ground.errors import ExecutorError, RecordingError, UsageError

CONNECT_S = 10
"""Longest wait for a scheduler's answer."""
LOOK_S = 15.0
"""While a result is awaited, how often it is looked whether any worker is left."""
PATIENCE = 8
"""Times in a row without a worker after which the run ends: a restarted worker needs some seconds."""
AHEAD_MAX = 64
"""Most recordings given away at a time, however many workers there are: their bytes wait in memory."""
LARGEST = 2**30
"""Bytes of one task above which Dask warns; a recording has 64 MiB at most."""


class DaskExecutor:
    """Gives work to the workers of a Dask cluster; a worker that dies costs time, never a result.

    `ahead` says how many recordings are given away at a time. Close it, or use it in a `with` block.
    """

    def __init__(self, address: str) -> None:
        client_class, self._killed = _parts()
        self._address = address
        self._log = logging.getLogger("distributed.client")
        self._log_level = self._log.level
        self._log.setLevel(logging.ERROR)
        with _quiet():
            try:
                self._client = client_class(address, timeout=CONNECT_S, set_as_default=False)
            except (OSError, ValueError, ImportError) as fault:
                raise ExecutorError(
                    f"expected a Dask scheduler at {address}, found none ({_first_line(fault)}).",
                    hint="Start one with `dask scheduler`, and workers with `dask worker tcp://HOST:PORT`.",
                ) from fault
        cores = sum(self._client.ncores().values())
        if not cores:
            self.close()
            raise ExecutorError(
                f"the Dask scheduler at {address} has no workers.", hint=f"Start some with `dask worker {address}`."
            )
        self._executor = self._client.get_executor(pure=False)
        self.ahead = min(AHEAD_MAX, 2 * cores + 2)

    def __enter__(self) -> DaskExecutor:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """End the connection; what is under way for it on the cluster is dropped."""
        with _quiet():
            self._client.close()
        self._log.setLevel(self._log_level)

    def submit(self, fn: Callable[..., Any], /, *args: Any) -> _DaskJob:
        """Have `fn(*args)` done by a worker. Raises ExecutorError where the connection is lost."""
        import dask

        with dask.config.set({"distributed.admin.large-graph-warning-threshold": LARGEST}):
            try:
                return _DaskJob(self, self._executor.submit(pickle.loads, pickle.dumps(_Call(fn, args))))
            except (OSError, RuntimeError) as fault:
                raise self._gone(fault) from fault

    def _gone(self, fault: BaseException) -> ExecutorError:
        return ExecutorError(
            f"the connection to the Dask scheduler at {self._address} was lost ({_first_line(fault)}); what was done is kept.",
            hint="Look whether it still runs, and run again.",
        )

    def has_workers(self) -> bool:
        """True while a worker is connected to the scheduler. Raises ExecutorError where the scheduler does not answer."""
        try:
            return bool(self._client.ncores())
        except (OSError, RuntimeError, CancelledError) as fault:
            raise self._gone(fault) from fault

    def meaning_of(self, fault: BaseException) -> BaseException:
        """What a fault that a task came back with means to us."""
        if isinstance(fault, self._killed):
            return RecordingError("each worker that was given this recording was lost.", hint="Run again.")
        if isinstance(fault, CancelledError):
            return self._gone(fault)
        if _is_missing(fault):
            return ExecutorError(
                f"a worker of the Dask scheduler at {self._address} could not load steadyband ({_first_line(_root(fault))}).",
                hint="Install the same steadyband on every worker, restart them, and run again.",
            )
        return fault


class _Call:
    """A call that is made by unpacking it.

    What travels is bytes, and the task is `pickle.loads`: a worker without steadyband then fails at the task, with a reason. A
    worker that cannot unpack the task itself loses its connection and takes on the same task for ever (distributed 2026.8).
    """

    def __init__(self, fn: Callable[..., Any], args: tuple[Any, ...]) -> None:
        self._fn, self._args = fn, args

    def __reduce__(self) -> tuple[Callable[..., Any], tuple[Any, ...]]:
        return self._fn, self._args


class _DaskJob:
    """One task on the cluster."""

    def __init__(self, cluster: DaskExecutor, future: Any) -> None:
        self._cluster, self._future = cluster, future

    def result(self) -> Any:
        """The result; raises what the task raised, or what it means to us."""
        empty = 0
        while not self._is_done():
            empty = 0 if self._cluster.has_workers() else empty + 1
            if empty >= PATIENCE:
                raise ExecutorError(
                    "every worker of the Dask cluster is gone; what was done is kept.",
                    hint="Start workers and run again.",
                )
        if self._future.cancelled():
            raise self._cluster.meaning_of(CancelledError("the task was dropped"))
        fault = self._future.exception()
        if fault is None:
            return self._future.result()
        meant = self._cluster.meaning_of(fault)
        raise meant from (None if meant is fault else fault)

    def _is_done(self) -> bool:
        try:
            self._future.exception(timeout=LOOK_S)
        except StillWaitingError:
            return False
        except CancelledError:
            return True
        return True

    def cancel(self) -> None:
        """Drop the task."""
        self._future.cancel()


def check_installed() -> None:
    """Raises UsageError where the extra `dask` is not installed."""
    _parts()


def _parts() -> tuple[Any, type[Exception]]:
    try:
        from distributed import Client
        from distributed.scheduler import KilledWorker
    except ImportError as fault:
        raise UsageError(
            "--dask needs the package distributed, which is not installed.",
            hint='Install it with: python -m pip install "steadyband[dask]"',
        ) from fault
    return Client, KilledWorker


def _is_missing(fault: BaseException) -> bool:
    """True where a worker could not make a call: its steadyband is missing or too different."""
    root = _root(fault)
    return isinstance(root, ImportError) or (isinstance(root, AttributeError) and "Can't get attribute" in str(root))


def _root(fault: BaseException) -> BaseException:
    while fault.__cause__ is not None:
        fault = fault.__cause__
    return fault


def _first_line(fault: BaseException) -> str:
    return (str(fault).strip().splitlines() or [type(fault).__name__])[0]


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Without Dask's own warnings on versions (ours are checked with every task) and its log of broken connections."""
    logger = logging.getLogger("distributed")
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        logger.setLevel(before)
