"""Reading a whole folder from the command line: the store, a progress bar, and a clean stop on Ctrl-C."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from rich.progress import Progress

    from steadyband.review import AthleteFolder
    from steadyband.review.season import Season

EXIT_STOPPED = 130


def season_of(home: AthleteFolder, sport: str | None = None) -> Season:
    """Every session of an athlete folder, with progress and notices on standard error.

    What is known comes from the folder's store. Ctrl-C ends with exit status 130; what is done is kept.
    """
    from rich.console import Console
    from rich.progress import Progress, TextColumn, TimeRemainingColumn

    from steadyband.review import recordings_in
    from steadyband.review.season import Stopped, load_season
    from steadyband.review.store import open_store
    from steadyband.review.watch import is_finished_name

    paths = [path for path in recordings_in(home.athlete.activities) if is_finished_name(path)]
    shown = (
        *Progress.get_default_columns()[:2],
        TextColumn("{task.completed}/{task.total} files"),
        TimeRemainingColumn(),
    )
    quiet = not sys.stderr.isatty()
    with Progress(*shown, console=Console(stderr=True), transient=True, disable=quiet) as progress:
        try:
            season = load_season(paths, home, open_store(home, sport), _Bar(progress), sport)
        except Stopped as stop:
            kept = "; the next run goes on from there" if stop.kept else ""
            typer.echo(f"Stopped with {stop.done} of {stop.total} files done{kept}.", err=True)
            raise typer.Exit(EXIT_STOPPED) from None
    for notice in season.notices:
        typer.echo(notice, err=True)
    return season


class _Bar:
    """Moves a progress bar by files."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._task = progress.add_task("reading recordings", total=None)

    def begin(self, to_read: int, known: int) -> None:
        """So many files must be read; the known ones cost nothing."""
        self._progress.update(self._task, total=to_read)

    def advance(self, files: int) -> None:
        """So many more files are done."""
        self._progress.advance(self._task, files)
