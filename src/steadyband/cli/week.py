"""The main job: one week of an athlete folder."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from steadyband.cli.errors import EXIT_UNREADABLE
from steadyband.cli.output import TextFormat, console, err, print_json, printable
from steadyband.cli.reading import SharedAssets, TestOption, as_read, ending_option, judged_by, season_of
from steadyband.ground.errors import NothingToReviewError

week_app = typer.Typer(no_args_is_help=True, pretty_exceptions_enable=False)


@week_app.command(epilog="Example: steadyband week demo_activities --ending 2026-05-17")
def week(
    folder: Annotated[Path, typer.Argument(help="The athlete folder.")] = Path(),
    ending: Annotated[
        date | None,
        ending_option(
            "2026-W20, last (the week before this one), this, or a date of the week; otherwise the latest with a session."
        ),
    ] = None,
    test: TestOption = None,
    format: Annotated[TextFormat, typer.Option(help="For people or for programs.")] = TextFormat.text,
    shared_assets: SharedAssets = False,
) -> None:
    """Reviews one week of an athlete folder, prints the summary and writes its page and its sessions' pages.

    They go into the reports folder; the sessions' own pages into its sessions/, drawn with one shared file in its assets/.
    With --test they go into a folder of their own in the reports folder.
    """
    from steadyband.athlete.folder import open_folder
    from steadyband.review.week import review_season

    home = as_read(judged_by(open_folder(folder), test))
    season = season_of(home, misplaced=False)
    try:
        review = review_season(home, season, ending)
    except NothingToReviewError:
        for line in season.misplaced:
            err(line)
        raise

    from steadyband.report.week.files import write_week
    from steadyband.review.output import week_to_dict
    from steadyband.review.repeat_climbs import repeat_climbs
    from steadyband.review.sentences import counted_files

    if format is TextFormat.text:
        from steadyband.report.week.terminal import week_view

        console().print(week_view(review))
    page = write_week(review, repeat_climbs(item.audit for item in season.sessions), shared_assets)
    if format is TextFormat.json:
        print_json(week_to_dict(review) | {"page": str(page)})
    else:
        console().print(printable(f"Page: {page}"), soft_wrap=True, markup=False)
    if season.failures:
        season.keep_named(review.name)
        pages = " and ".join(sorted({f"week-{week}.html" for week, _ in review.named_before}))
        listed = "the page lists them" if review.unreadable else f"{pages} lists them"
        err(f"{counted_files(len(season.failures))} could not be read; {listed}.")
        raise typer.Exit(EXIT_UNREADABLE)
