"""The program, as `steadyband` and as `python -m steadyband`: Ctrl-C ends it in one line from the first moment on."""

import os
import signal

EXIT_STOPPED = 130


def main() -> None:
    """Runs the command named on the line and ends the process with the exit status of the contract."""
    heeded = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if heeded:
        signal.signal(signal.SIGINT, _end_now)
    from steadyband.cli.main import main as command

    stop = _Stop()
    if heeded:
        signal.signal(signal.SIGINT, stop)
    try:
        command()
    except Exception:
        if not stop.came:
            raise
        # An import that was interrupted may fail in words of its own.
        _end_now()
    except KeyboardInterrupt:
        _end_now()
    finally:
        # Python notes a Ctrl-C that came within an `exec`, as dataclasses and typing use, and would end by the signal
        # though it was answered; the next `exec` takes the note back.
        exec("")


class _Stop:
    """Ctrl-C while a command works: it may keep what is done."""

    came = False

    def __call__(self, *_: object) -> None:
        self.came = True
        raise KeyboardInterrupt


def _end_now(*_: object) -> None:
    """Nothing is under way that could be lost, and what is being imported may take an exception for its own."""
    os.write(2, b"Stopped.\n")
    os._exit(EXIT_STOPPED)


if __name__ == "__main__":
    main()
