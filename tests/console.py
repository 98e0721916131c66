"""The console script as the tests run it: in this process, unless a process of its own proves something more.

What only a process shows (terminals, signals, kills, limits of the system, the script itself) starts one by `command`.
"""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import ModuleType

from steadyband.cli.main import main

PLAIN = {"NO_COLOR": "1", "COLUMNS": "80", "PYTHONIOENCODING": "utf-8", "TERM": "dumb"}
"""No colours, 80 columns, UTF-8, whatever the terminal of whoever runs the tests."""
CODE = "import sys; from steadyband.cli.main import main; sys.argv[0] = 'steadyband'; main()"


def command(*arguments: object) -> list[str]:
    """The command line of a process of its own."""
    return [sys.executable, "-c", CODE, *map(str, arguments)]


def run(
    *arguments: object,
    cwd: Path | None = None,
    typed: str = "",
    env: Mapping[str, str] | None = None,
    letters: str = "utf-8",
) -> subprocess.CompletedProcess[str]:
    """One command in this process: its exit status and both streams, as a pipe in the encoding `letters` would get them.

    `typed` is its standard input, `env` is added to PLAIN; folder, environment, streams and arguments are put back afterwards.
    An exception that is not caught is raised, where a process would print a traceback.
    """
    words = list(map(str, arguments))
    out, err = _stream(letters), _stream(letters)
    status: object = 0
    with _standing_in(cwd), _environment(PLAIN | dict(env or {})), _words(words, typed):
        try:
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                main()
        except SystemExit as end:
            status = end.code or 0
    return subprocess.CompletedProcess(words, status if isinstance(status, int) else 1, _text(out), _text(err))


def _stream(letters: str) -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(), encoding=letters, newline="", write_through=True)


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    return stream.buffer.getvalue().decode(stream.encoding)  # type: ignore[attr-defined]


@contextlib.contextmanager
def _standing_in(folder: Path | None) -> Iterator[None]:
    before = Path.cwd()
    os.chdir(folder or before)
    try:
        yield
    finally:
        os.chdir(before)


@contextlib.contextmanager
def _environment(added: Mapping[str, str]) -> Iterator[None]:
    before = {name: os.environ.get(name) for name in added}
    os.environ.update(added)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextlib.contextmanager
def _words(words: list[str], typed: str) -> Iterator[None]:
    argv, stdin, script = sys.argv, sys.stdin, sys.modules["__main__"]
    sys.argv, sys.modules["__main__"] = ["steadyband", *words], ModuleType("__main__")  # typer takes its name from both
    sys.stdin = io.TextIOWrapper(io.BytesIO(typed.encode()), encoding="utf-8")
    try:
        yield
    finally:
        sys.argv, sys.stdin, sys.modules["__main__"] = argv, stdin, script
