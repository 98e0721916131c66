"""One dialogue at a time on a test that is being entered, on a clock that nobody can set back meanwhile."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from steadyband.ground.errors import SteadybandError, UsageError
from steadyband.ground.locking import HeldError, held
from steadyband.ground.writing import make_private_folder


def running_clock() -> Callable[[], float]:
    """Tells Unix seconds that run on evenly from now, whatever is done to the computer's clock; sleep of the computer counts."""
    begun, since = time.time(), _ticks()
    return lambda: begun + _ticks() - since


def _ticks() -> float:
    kind = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if kind is None else time.clock_gettime(kind)


@contextmanager
def alone(test_file: Path) -> Iterator[bool]:
    """Inside the block no other `enter-test` can open the same test; False where the disk knows no locks.

    A dialogue that was killed holds nobody up: the system drops its lock with it. Raises UsageError naming the process
    that has the test open, SteadybandError where the folder cannot be written to.
    """
    stack = ExitStack()
    try:
        make_private_folder(test_file.parent)
        locked = stack.enter_context(held(test_file))
    except HeldError as busy:
        raise UsageError(
            f"{test_file} is being entered in another window ({busy.holder}); nothing was changed.",
            hint="Go on there, or type `quit` there and give this command again.",
        ) from busy
    except OSError as fault:
        raise SteadybandError(
            f"expected to write into this folder, but the system said: {fault.strerror or fault}.",
            file=str(test_file.parent),
            hint="Choose a folder that you may write to.",
        ) from fault
    with stack:
        yield locked
