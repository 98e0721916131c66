"""The command `roster`: all athletes of a coach on one page, worst first."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from steadyband.cli.output import TextFormat, console, err, print_json, printable
from steadyband.cli.reading import EXIT_STOPPED, SharedAssets, ending_option
from steadyband.ground.errors import UsageError

if TYPE_CHECKING:
    from steadyband.report.roster.work import Seen, Task
    from steadyband.review.roster_folders import Homes
    from steadyband.review.roster_model import Roster

EXIT_UNREADABLE = 1

roster_app = typer.Typer()


@roster_app.command(epilog="Example: steadyband roster my-athletes")
def roster(
    folder: Annotated[
        Path, typer.Argument(help="A folder of athlete folders, or of clubs of athlete folders.")
    ] = Path(),
    ending: Annotated[
        date | None,
        ending_option(
            "2026-W20, last (the week before this one), this, or a date of the week; otherwise the latest with a session of "
            "anybody."
        ),
    ] = None,
    format: Annotated[TextFormat, typer.Option(help="For people or for programs.")] = TextFormat.text,
    out: Annotated[
        Path | None, typer.Option(help="The folder of the roster's page; otherwise reports/ in the folder given.")
    ] = None,
    shared_assets: SharedAssets = False,
    processes: Annotated[
        int | None, typer.Option(min=1, max=1024, help="Athletes worked on at a time; otherwise one a core.")
    ] = None,
    dask: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="Audit recordings on your own Dask cluster, such as tcp://HOST:8786 (needs the extra dask).",
        ),
    ] = None,
) -> None:
    """Shows all athletes of a folder for one week, worst first, and writes the page of each and one of all.

    An athlete whose folder is faulty is named with the reason; the others are done all the same. The page of all is for
    the coach alone: it names several people.
    """
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.roster.page import FOLDER, roster_page, roster_place
    from steadyband.report.roster.work import Task
    from steadyband.review.output import roster_to_dict
    from steadyband.review.roster import make_roster
    from steadyband.review.roster_folders import find_homes
    from steadyband.review.roster_since import NAME, last_run, remembered, with_changes

    if dask is not None:
        _check_cluster(dask)
    homes = find_homes(folder)
    place = (out or folder / FOLDER).resolve()
    task = Task(ending, place / "roster.html", shared_assets, dask or "")
    seen = _seen(homes, task, processes)
    found = make_roster(folder, (item.entry for item in seen), task.ending, homes.left_alone)
    before = last_run(place / NAME)
    if before is None and (place / NAME).exists():
        err(f"{place / NAME} is not what the last run wrote, so this run cannot tell what changed; it is written anew.")
    found = with_changes(found, before)
    page = roster_place(found, place)
    write_text_atomically(page, roster_page(found, seen, page))
    write_text_atomically(place / NAME, remembered(found))
    if format is TextFormat.json:
        print_json(roster_to_dict(found) | {"page": str(page)})
    else:
        from steadyband.report.roster.terminal import roster_view

        console().print(roster_view(found))
        console().print(printable(f"Page: {page}"), soft_wrap=True, markup=False)
    _end_with(found)


def _check_cluster(address: str) -> None:
    from steadyband.athlete.cluster import DaskExecutor, check_installed

    if "://" not in address:
        raise UsageError(f"--dask: expected an address such as tcp://HOST:8786, found {address!r}.")
    check_installed()
    DaskExecutor(address).close()


def _seen(homes: Homes, task: Task, processes: int | None) -> list[Seen]:
    """Every athlete, with progress and notices on standard error; Ctrl-C ends with exit status 130."""
    from rich.progress import Progress

    from steadyband.report.roster.work import look_after_all

    seen: list[Seen] = []
    total = len(homes.homes)
    work = look_after_all(homes.homes, task, processes)
    with Progress(console=console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as progress:
        bar = progress.add_task("athletes", total=total)
        try:
            for item in work:
                seen.append(item)
                progress.advance(bar)
        except KeyboardInterrupt:
            err(f"Stopped with {len(seen)} of {total} athletes done; the next run goes on from there.")
            raise typer.Exit(EXIT_STOPPED) from None
        finally:
            work.close()
    _tell(seen)
    return seen


def _tell(seen: Iterable[Seen]) -> None:
    for item in sorted(seen, key=lambda one: one.entry.folder):
        for notice in item.notices:
            err(f"{item.entry.folder}: {notice}")


def _end_with(found: Roster) -> None:
    if found.failed:
        err(f"{found.failed} of {len(found.places)} athletes have a folder or a file that could not be used.")
        raise typer.Exit(EXIT_UNREADABLE)
