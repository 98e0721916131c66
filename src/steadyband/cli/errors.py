"""From the shell to the commands and back: one reader a command, errors in one or two lines, exit status by the contract."""

from __future__ import annotations

import contextlib
import os
import re
import sys
import warnings
from collections.abc import Iterator
from typing import Any

import typer
from typer.core import TyperGroup

from steadyband.cli.output import err, speak_plainly
from steadyband.ground.errors import RecordingError, SteadybandError
from steadyband.ground.reader import Reader, written_for

EXIT_DONE, EXIT_UNREADABLE, EXIT_USAGE, EXIT_STOPPED = 0, 1, 2, 130
DATE = "DATE"
"""How help names a date."""

_USAGE: type[Exception] = next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "UsageError")


PLAINER = (
    ("Value error, ", ""),
    ("does not match the formats? '%Y-%m-%d'", "is no date such as 2026-05-17"),
    (r"Input should be a valid integer\b.*", "expected a whole number"),
    (r"Input should be a valid number\b.*", "expected a number"),
    (r"Input should be greater than or equal to (\S+)", r"expected at least \1"),
    (r"Input should be less than or equal to (\S+)", r"expected at most \1"),
)
"""What people read instead of the parser's words."""

TOPICS = {
    "To begin": ("open", "demo", "init"),
    "Sessions and weeks": ("week", "session", "label", "block", "history", "watch", "audit"),
    "Step tests": ("plan-test", "enter-test", "zones", "test-page", "card", "tests", "compare-meters"),
    "Hills": ("route", "climbs"),
    "Sharing, data and settings": ("share", "roster", "export", "schema", "settings"),
}
"""The commands as help lists them."""


class Commands(TyperGroup):
    """All commands; what one of them chose for its reader ends with it, and whoever stops reading its output ends it well."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """The commands by what they are for, each with the whole first sentence of its help."""
        named = [name for names in TOPICS.values() for name in names]
        others = [name for name in self.list_commands(ctx) if name not in named]
        for topic, names in {**TOPICS, "More": others}.items():
            found = [(name, self.get_command(ctx, name)) for name in names]
            rows = [(name, _first_sentence(command.help or "")) for name, command in found if command is not None]
            if rows:
                with formatter.section(topic):
                    formatter.write_dl(rows)

    def make_context(self, *args: Any, **kwargs: Any) -> Any:
        """Reads the line."""
        with _told_when_stopped():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: Any) -> Any:
        """Runs the command named on the line."""
        try:
            with _told_when_stopped(), written_for(Reader()):
                done = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise typer.Exit(EXIT_DONE) from None
        return done


@contextlib.contextmanager
def _told_when_stopped() -> Iterator[None]:
    """Ctrl-C that a command leaves to others: one line, and the exit status for it."""
    try:
        yield
    except KeyboardInterrupt:
        err("Stopped.")
        raise typer.Exit(EXIT_STOPPED) from None


def run(app: typer.Typer) -> None:
    """The console script: ends the process with the exit status of the contract."""
    speak_plainly()
    _without_warnings()
    sys.exit(status_of(app))


def _without_warnings() -> None:
    """Warnings of libraries are for developers: none is shown here or in helper processes, unless Python was asked for them."""
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
        os.environ.setdefault("PYTHONWARNINGS", "ignore")


def status_of(app: typer.Typer) -> int:
    """Runs the command named on the line of this process; its exit status, errors told on standard error."""
    try:
        return app(standalone_mode=False) or EXIT_DONE
    except RecordingError as fault:
        err(str(fault))
        return EXIT_UNREADABLE
    except SteadybandError as fault:
        err(str(fault))
    except typer.Abort:
        err("Stopped.")
        return EXIT_STOPPED
    except OSError as fault:
        err(
            f"{fault.filename or 'a file'}: {fault.strerror or fault}. Check the path, its permissions and the room on the disk."
        )
    except _USAGE as fault:
        _misused(fault)
    return EXIT_USAGE


def _first_sentence(text: str) -> str:
    first = " ".join(text.split("\n\n")[0].split())
    return first[:1].upper() + first[1:]


def _misused(fault: Any) -> None:
    """Wrong options or arguments, as the parser found them."""
    if type(fault).__name__ == "NoArgsIsHelpError":
        fault.show()
        return
    command = fault.ctx.command_path if fault.ctx else "steadyband"
    words = " ".join(fault.format_message().split())
    for pattern, plainer in PLAINER:
        words = re.sub(pattern, plainer, words)
    found = _typed(fault)
    told = f", found {found!r}" if found and found not in words else ""
    stop = "" if words.endswith("?") and not told else "."
    err(f"{words.rstrip('.')}{told}{stop} Try `{command} --help`.")


def _typed(fault: Any) -> str:
    """What stands behind the option on the line, where the fault names an option."""
    names = getattr(getattr(fault, "param", None), "opts", ())
    places = [number for number, word in enumerate(sys.argv[:-1]) if word in names]
    return sys.argv[places[0] + 1] if places else ""
