"""Reading a whole folder from the command line: the store, a progress bar, and a clean stop on Ctrl-C."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from steadyband.cli.output import err, file_bar
from steadyband.ground.errors import UsageError
from steadyband.ground.sports import sport_named

if TYPE_CHECKING:
    from steadyband.athlete.folder import AthleteFolder
    from steadyband.athlete.season import Season

EXIT_STOPPED = 130


class Sport(StrEnum):
    """A sport as it may be named on the command line; `ground.sports` tells what each means."""

    bike = "bike"
    cycling = "cycling"
    foot = "foot"
    running = "running"


SharedAssets = Annotated[
    bool,
    typer.Option("--shared-assets", help="Keep the file that figures are drawn with once, in assets/ beside the page."),
]


def _one_word(sport: str | None) -> str | None:
    return sport_named(sport) if sport else None


FileSport = Annotated[
    str | None,
    typer.Option(
        "--sport",
        callback=_one_word,
        help="The sport of files that do not name one; bike and cycling, foot and running mean the same.",
    ),
]


def _week_named(text: str) -> date:
    from steadyband.review.weeks import day_of_week

    try:
        return day_of_week(text, datetime.now().astimezone().date())
    except UsageError as fault:
        raise typer.BadParameter(fault.message) from None


def ending_option(help: str) -> Any:
    """The option that names a week, or the last of several."""
    return typer.Option("--ending", parser=_week_named, metavar="WEEK", help=help)


TestOption = Annotated[
    Path | None,
    typer.Option("--test", help="Judge every session of this test's sport by it, whatever the dates."),
]


def judged_by(home: AthleteFolder, test: Path | None) -> AthleteFolder:
    """The folder, its sessions judged by the test named, where one is; its pages then go to a folder of their own."""
    from steadyband.athlete.folder import by_test

    return by_test(home, test) if test else home


def as_read(home: AthleteFolder) -> AthleteFolder:
    """The folder itself; what the command prints and draws from here on follows its athlete's units and clock."""
    from steadyband.ground.reader import write_for

    write_for(home.athlete.reader)
    return home


def season_of(home: AthleteFolder, sport: str | None = None, *, misplaced: bool = True) -> Season:
    """Every session of an athlete folder, with progress and notices on standard error.

    Recordings in the wrong folder are named unless `misplaced` is left to the review. What is known comes from the folder's store. Ctrl-C ends with exit status 130; what is done is kept.
    """
    from steadyband.athlete.folder import recordings_in
    from steadyband.athlete.season import Stopped, load_season
    from steadyband.athlete.store import open_store
    from steadyband.athlete.watch import is_finished_name

    paths = [path for path in recordings_in(home.athlete.activities) if is_finished_name(path)]
    with file_bar() as bar:
        try:
            season = load_season(paths, home, open_store(home, sport), bar, sport)
        except Stopped as stop:
            kept = "; the next run goes on from there" if stop.kept else ""
            typer.echo(f"Stopped with {stop.done} of {stop.total} files done{kept}.", err=True)
            raise typer.Exit(EXIT_STOPPED) from None
    for notice in (*home.label_faults, *season.notices, *(season.misplaced if misplaced else ())):
        err(notice)
    if season.store:
        season.store.tell = err
    return season
