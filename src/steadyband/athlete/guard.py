"""Hard limits around one recording, where the system can hold a process to them.

Linux: the process may take MEMORY_MAX of data more than it has (RLIMIT_DATA), so that an allocation past it fails here
instead of bringing the machine down. Linux and macOS, in a main thread: a timer of processor time ends what takes longer
than TIME_MAX_S. Windows has neither; there the counts and `check_time` of `recording.limits` stand alone.
"""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

from steadyband.recording import limits


class _Expired(BaseException):
    """The timer has run out: no reader may take this for a fault of the file and go on."""


_held = threading.Lock()
_STATUS = Path("/proc/self/status")


@contextlib.contextmanager
def guarded() -> Iterator[None]:
    """One recording is read and audited inside.

    Raises RecordingError where it takes too much memory or processor time; what was taken is given back.
    """
    try:
        with _bounded_memory(), _bounded_time(), limits.timed():
            yield
    except MemoryError:
        raise limits.too_big() from None
    except _Expired:
        raise limits.too_slow() from None


@contextlib.contextmanager
def _bounded_memory() -> Iterator[None]:
    """The limit is the process's, so of several threads the first one sets it and takes it away again."""
    used = _data_used()
    if used is None or not _held.acquire(blocking=False):
        yield
        return
    import resource

    before = resource.getrlimit(resource.RLIMIT_DATA)
    try:
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_DATA, (_least(used + limits.MEMORY_MAX, *before), before[1]))
        yield
    finally:
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_DATA, before)
        _held.release()


def _least(*sizes: int) -> int:
    return min(size for size in sizes if size >= 0)


def _data_used() -> int | None:
    """Bytes that count for RLIMIT_DATA (proc(5): VmData); None where the system does not say."""
    try:
        lines = _STATUS.read_text(encoding="ascii", errors="replace").splitlines()
    except OSError:
        return None
    found = next((line.split()[1] for line in lines if line.startswith("VmData:")), None)
    return None if found is None else int(found) * 1024


@contextlib.contextmanager
def _bounded_time() -> Iterator[None]:
    """A timer of processor time, unless somebody else uses it."""
    if not _is_timer_free():
        yield
        return
    signal.signal(signal.SIGPROF, _expired)
    signal.setitimer(signal.ITIMER_PROF, limits.TIME_MAX_S * 1.5)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, signal.SIG_DFL)


def _is_timer_free() -> bool:
    return (
        hasattr(signal, "setitimer")
        and threading.current_thread() is threading.main_thread()
        and signal.getsignal(signal.SIGPROF) is signal.SIG_DFL
    )


def _expired(number: int, frame: FrameType | None) -> None:
    raise _Expired
