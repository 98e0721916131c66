"""The main job: one week of an athlete folder."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from steadyband.cli.errors import DATE, EXIT_UNREADABLE
from steadyband.cli.output import TextFormat, console, err, print_json, printable
from steadyband.cli.reading import SharedAssets, TestOption, as_read, judged_by, season_of

week_app = typer.Typer(no_args_is_help=True, pretty_exceptions_enable=False)


@week_app.command(epilog="Example: steadyband week demo_activities --ending 2026-05-17")
def week(
    folder: Annotated[Path, typer.Argument(help="The athlete folder.")] = Path(),
    ending: Annotated[
        datetime | None,
        typer.Option(
            formats=["%Y-%m-%d"], metavar=DATE, help="A date of the week; otherwise the latest with a session."
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
    season = season_of(home)
    review = review_season(home, season, ending.date() if ending else None)

    from steadyband.report.week.files import write_week
    from steadyband.review.output import week_to_dict
    from steadyband.review.repeat_climbs import repeat_climbs

    if format is TextFormat.text:
        from steadyband.report.week.terminal import week_view

        console().print(week_view(review))
    page = write_week(review, repeat_climbs(item.audit for item in season.sessions), shared_assets)
    if format is TextFormat.json:
        print_json(week_to_dict(review) | {"page": str(page)})
    else:
        console().print(printable(f"Page: {page}"), soft_wrap=True, markup=False)
    if season.failures:
        err(f"{len(season.failures)} files could not be read; the page lists them.")
        raise typer.Exit(EXIT_UNREADABLE)
