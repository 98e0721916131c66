"""Every error the package raises on purpose.

SteadybandError
├── RecordingError (ValueError)        a recording could not be used
│   ├── UnknownFormatError             neither FIT nor GPX
│   ├── NotAnActivityError             a FIT file of another kind
│   ├── NoTimedTrackError              nothing in it carries a time
│   └── DamagedRecordingError          damaged before the first usable record
├── TestFileError (ValueError)         a step-test file is faulty
├── AthleteFileError (ValueError)      athlete.toml, sessions.csv, weeks.csv or plan.csv is faulty
├── NothingToReviewError (LookupError) no session in the folder or the week
├── ExecutorError (RuntimeError)       the processes or the cluster that do the work cannot do it
└── UsageError (ValueError)            wrong options or arguments

Each message says what was expected, what was found, where, and what to try next, in one or two sentences.
"""

from __future__ import annotations

from steadyband.ground.plain import cut, plain

MESSAGE_MAX, PLACE_MAX = 1200, 120
"""Longest message and place shown [characters]: a hostile file may hold a key or a value of any length."""


class SteadybandError(Exception):
    """Base of all errors raised on purpose; `file` and `place` say where, `hint` what to try next.

    Text from files may stand in all of them, so what a terminal would obey is written out.
    """

    def __init__(self, message: str, *, file: str = "", place: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = cut(plain(message), MESSAGE_MAX)
        self.file = file
        self.place = cut(plain(place), PLACE_MAX)
        self.hint = plain(hint)

    def __str__(self) -> str:
        where = ", ".join(part for part in (plain(self.file), self.place) if part)
        text = f"{where}: {self.message}" if where else self.message
        return f"{text} {self.hint}" if self.hint else text

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.message, self.file, self.place, self.hint))


def _rebuild(kind: type[SteadybandError], message: str, file: str, place: str, hint: str) -> SteadybandError:
    return kind(message, file=file, place=place, hint=hint)


class RecordingError(SteadybandError, ValueError):
    """A recording could not be used."""


class UnknownFormatError(RecordingError):
    """The bytes are neither FIT nor GPX."""


class NotAnActivityError(RecordingError):
    """A FIT file that holds no activity."""


class NoTimedTrackError(RecordingError):
    """A file without one timed record."""


class DamagedRecordingError(RecordingError):
    """Damaged before the first usable record."""


class TestFileError(SteadybandError, ValueError):
    """A step-test file is faulty; `place` names the line, key, step or value."""

    __test__ = False


class AthleteFileError(SteadybandError, ValueError):
    """athlete.toml, sessions.csv, weeks.csv or plan.csv is faulty."""


class NothingToReviewError(SteadybandError, LookupError):
    """No session in the folder or the week asked for."""


class ExecutorError(SteadybandError, RuntimeError):
    """The processes or the cluster that recordings are given to cannot do the work."""


class UsageError(SteadybandError, ValueError):
    """Wrong options or arguments."""
