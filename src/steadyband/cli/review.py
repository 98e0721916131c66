"""The commands over many sessions: block, history, label, watch, export."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from steadyband.cli.output import TextFormat, console, err, print_bytes, print_json, printable, say
from steadyband.cli.reading import SharedAssets, as_read, ending_option, season_of
from steadyband.ground.errors import UsageError
from steadyband.ground.plain import plain_lines

if TYPE_CHECKING:
    from steadyband.athlete.season import Season

EXIT_UNREADABLE = 1

review_app = typer.Typer(no_args_is_help=True, pretty_exceptions_enable=False)


class TableFormat(StrEnum):
    """Formats of `export`."""

    csv = "csv"
    parquet = "parquet"


Folder = Annotated[Path, typer.Argument(help="The athlete folder.")]


@review_app.command(epilog="Example: steadyband block demo_activities --weeks 4")
def block(
    folder: Folder = Path(),
    weeks: Annotated[int, typer.Option(min=1, max=53, help="How many weeks.")] = 4,
    ending: Annotated[
        date | None,
        ending_option(
            "The last week: 2026-W20, last (the week before this one), this, or a date of it; otherwise the latest with a "
            "session."
        ),
    ] = None,
    format: Annotated[TextFormat, typer.Option(help="For people or for programs.")] = TextFormat.text,
    shared_assets: SharedAssets = False,
) -> None:
    """Reviews some weeks of an athlete folder, prints the summary and writes its page into the reports folder."""
    from steadyband.athlete.folder import open_folder
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.block.page import block_page
    from steadyband.report.common.beside import beside
    from steadyband.review.block import review_block
    from steadyband.review.output import block_to_dict

    home = as_read(open_folder(folder))
    season = season_of(home)
    review = review_block(home, season.sessions, season.failures, weeks, ending)
    if format is TextFormat.text:
        from steadyband.report.block.terminal import block_view

        console().print(block_view(review))
    page = home.athlete.reports / f"block-{review.first_day}-to-{review.last_day}.html"
    write_text_atomically(page, block_page(review, beside(home.athlete.reports, page, shared_assets)))
    if format is TextFormat.json:
        print_json(block_to_dict(review) | {"page": str(page)})
    else:
        console().print(printable(f"Page: {page}"), soft_wrap=True, markup=False)
    _end_with(season, "the page lists them.")


@review_app.command(epilog="Example: steadyband history demo_activities")
def history(folder: Folder = Path()) -> None:
    """Shows the whole season, week by week, and writes its page into the reports folder."""
    from steadyband.athlete.folder import open_folder
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.common.beside import beside
    from steadyband.report.season.page import history_page
    from steadyband.report.season.terminal import history_view
    from steadyband.review.history import history as season_by_weeks

    home = as_read(open_folder(folder))
    season = season_of(home)
    found = season_by_weeks(home, season.sessions, season.failures)
    page = home.athlete.reports / "history.html"
    console().print(history_view(found))
    write_text_atomically(page, history_page(found, beside(home.athlete.reports, page)))
    console().print(printable(f"Page: {page}"), soft_wrap=True, markup=False)
    _end_with(season, "the page lists them.")


@review_app.command(epilog="Example: steadyband export demo_activities --format parquet --out sessions.parquet")
def export(
    folder: Folder = Path(),
    format: Annotated[TableFormat, typer.Option(help="One row a session, as CSV or Parquet.")] = TableFormat.csv,
    out: Annotated[Path | None, typer.Option(help="Write here instead of printing (needed for parquet).")] = None,
) -> None:
    """Writes every session of the folder as one row of a table."""
    if format is TableFormat.parquet and out is None:
        raise UsageError("parquet is not text: expected --out FILE.", hint="Add --out sessions.parquet.")
    from steadyband.athlete.folder import open_folder
    from steadyband.report.season.table import season_as

    home = open_folder(folder)
    season = season_of(home)
    content = season_as(season.sessions, format.value, home.labels)
    if out is None:
        print_bytes(content)
    else:
        from steadyband.ground.writing import write_bytes_atomically

        write_bytes_atomically(out, content)
        err(f"wrote {out}")
    _end_with(season, "they are not in the table.")


@review_app.command(epilog="Example: steadyband label my-training")
def label(
    folder: Folder = Path(),
    ending: Annotated[
        date | None,
        ending_option("Only this week: 2026-W20, last, this, or a date of it; otherwise all, the newest first."),
    ] = None,
) -> None:
    """Goes through the sessions nobody labelled, the newest week first, shows a guess, and adds your answers to sessions.csv."""
    from functools import partial

    from steadyband.athlete.folder import open_folder
    from steadyband.athlete.labelling import append_label, dialogue, unlabelled
    from steadyband.review.weeks import is_same_week

    home = as_read(open_folder(folder))
    sessions = season_of(home).sessions
    found = unlabelled(item for item in sessions if ending is None or is_same_week(item.day, ending))
    if not found:
        typer.echo("Every session is labelled, or its own name tells what it was for.")
        return
    tally = dialogue(
        found,
        ask=_ask,
        say=say,
        store=partial(append_label, home.path / "sessions.csv"),
    )
    typer.echo(f"{tally.stored} stored in {home.path / 'sessions.csv'}, {tally.skipped} skipped, {tally.left} left.")


@review_app.command(epilog="Example: steadyband watch my-training")
def watch(folder: Folder = Path(), shared_assets: SharedAssets = False) -> None:
    """Waits for new recordings and rewrites the page of their week; ends with Ctrl-C."""
    import signal
    import threading
    import time

    from steadyband.athlete.folder import open_folder
    from steadyband.athlete.watch import watch as watch_folder

    home = open_folder(folder)
    activities = home.athlete.activities
    season_of(home, misplaced=False)
    stop = threading.Event()
    for name in (signal.SIGINT, signal.SIGTERM):
        signal.signal(name, lambda *_: stop.set())
    keeper = _PageKeeper(folder, shared_assets)
    err(f"watching {activities}; Ctrl-C ends it.")
    watch_folder(activities, keeper, time.monotonic, stop.wait, stop.is_set)
    err("stopped.")


class _PageKeeper:
    """Rewrites the page of every week that a new file has a session in."""

    def __init__(self, folder: Path, shared: bool = False) -> None:
        self.folder, self.shared = folder, shared

    def __call__(self, arrived: Sequence[Path]) -> None:
        """Rewrites the pages of the weeks that `arrived` belong to; a faulty file is reported and the watch goes on."""
        from steadyband.ground.errors import SteadybandError

        try:
            self._rewrite(arrived)
        except SteadybandError as fault:
            err(str(fault))

    def _rewrite(self, arrived: Sequence[Path]) -> None:
        from steadyband.athlete.folder import open_folder
        from steadyband.report.week.files import write_week
        from steadyband.review.hours import monday_of
        from steadyband.review.repeat_climbs import repeat_climbs
        from steadyband.review.week import review_season

        home = as_read(open_folder(self.folder))
        season = season_of(home, misplaced=False)
        names = {str(path) for path in arrived}
        for failure in season.failures:
            if failure.file in names:
                err(f"{failure.file}: {failure.message}")
        for day in sorted({monday_of(item.day) for item in season.sessions if str(item.path) in names}):
            review = review_season(home, season, day)
            page = write_week(review, repeat_climbs(item.audit for item in season.sessions), self.shared)
            typer.echo(plain_lines(f"{review.answer} {page}"))


def _end_with(season: Season, where: str) -> None:
    if season.failures:
        from steadyband.ground.units import counted

        err(f"{counted(len(season.failures), 'file')} could not be read; {where}")
        raise typer.Exit(EXIT_UNREADABLE)


def _ask(prompt: str) -> str:
    try:
        return input(prompt)
    except KeyboardInterrupt:
        raise EOFError from None
