"""Commands about the ground: one session's own page, the same hills again, and a planned way before the ride or run."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from steadyband.cli.output import console, print_json, say
from steadyband.cli.reading import FileSport, SharedAssets, Sport, TestOption, as_read, judged_by, season_of
from steadyband.ground.errors import UsageError
from steadyband.ground.sports import sport_named
from steadyband.recording.formats import formats_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from steadyband.athlete.folder import AthleteFolder
    from steadyband.audit.edges import LoadEdges
    from steadyband.audit.model import Audit
    from steadyband.report.common.view import Table
    from steadyband.review.repeat_climbs import RepeatClimb
    from steadyband.steptest import ZoneSet

terrain_app = typer.Typer()

FolderOption = Annotated[
    Path | None, typer.Option("--athlete", help="The athlete folder; otherwise the one around the file.")
]


class Shape(StrEnum):
    """Formats of `climbs` and `route`."""

    text = "text"
    json = "json"


@terrain_app.command(epilog="Example: steadyband session activities/2026-05-16-hills.fit")
def session(
    file: Annotated[Path, typer.Argument(help=f"A recording, {formats_text()}.")],
    athlete: FolderOption = None,
    sport: FileSport = None,
    hills: Annotated[
        bool, typer.Option(help="Look for the same hills in every recording of the folder, or in this one alone.")
    ] = True,
    test: TestOption = None,
    positions: Annotated[bool, typer.Option(help="Draw the track, or leave every position out.")] = True,
    shared_assets: SharedAssets = False,
) -> None:
    """Writes a session's own page: where the band was lost, the course by band with surges by cause, the same hills before."""
    from steadyband.athlete.own_words import own_words
    from steadyband.athlete.sessions import audit_file
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.common.beside import beside_session
    from steadyband.report.session.page import session_page

    folder = judged_by(_folder(file, athlete, positions), test)
    audits = audit_file(file, folder, sport)
    again = _again(folder, sport) if hills else _repeats(audits)
    for number, audit in enumerate(audits, 1):
        page = folder.athlete.reports / _page_name(audit, file, number if len(audits) > 1 else None)
        words = own_words(folder.labels, audit.info.local_start, audit.info.sport)
        around = beside_session(folder.athlete.reports, page, audit.info.local_start.date(), shared_assets)
        write_text_atomically(page, session_page(audit, again, around, words))
        typer.echo(f"Page: {page}")


def _page_name(audit: Audit, file: Path, number: int | None) -> str:
    part = "" if number is None else f"-{number}"
    stem = file.name.split(".")[0].removeprefix(f"{audit.info.local_start.date()}-")
    return f"session-{audit.info.local_start.date()}-{stem}{part}.html"


@terrain_app.command(epilog="Example: steadyband climbs demo_activities")
def climbs(
    folder: Annotated[Path, typer.Argument(help="The athlete folder.")] = Path(),
    format: Annotated[Shape, typer.Option(help="For people or for programs.")] = Shape.text,
    sport: FileSport = None,
) -> None:
    """Shows the climbs that were ridden or run again: time, load, surges and seconds above the ceiling over the weeks."""
    from steadyband.athlete.folder import open_folder
    from steadyband.review.repeat_climbs import repeat_climbs_to_dict

    found = _again(as_read(open_folder(folder)), sport)
    if format is Shape.json:
        print_json(repeat_climbs_to_dict(found))
        return
    if not found:
        typer.echo("No climb was ridden or run twice where positions may be told.")
    from steadyband.report.session.hills import repeats_table

    for climb in found:
        _show(repeats_table(climb))


@terrain_app.command(epilog="Example: steadyband route sunday.gpx --athlete demo_activities")
def route(
    file: Annotated[Path, typer.Argument(help="A planned way (GPX route or track with heights) or an old recording.")],
    athlete: FolderOption = None,
    by: Annotated[Sport, typer.Option(help="bike and cycling, foot and running mean the same.")] = Sport.bike,
    format: Annotated[Shape, typer.Option(help="For people or for programs.")] = Shape.text,
    out: Annotated[Path | None, typer.Option(help="The page; otherwise it goes to the reports folder.")] = None,
    positions: Annotated[bool, typer.Option(help="Draw the way from above, or leave every position out.")] = True,
    shared_assets: SharedAssets = False,
) -> None:
    """Says of a planned way where the band can be held, where the hill forces it out, and what gear and time it takes."""
    from steadyband.audit.route import course_of, plan_route, plan_to_dict
    from steadyband.ground.writing import write_text_atomically
    from steadyband.recording.planned import read_planned
    from steadyband.report.common.assets import share_plotly
    from steadyband.report.common.beside import Beside
    from steadyband.report.common.words import Loads
    from steadyband.report.route.page import route_page

    folder = _folder(file, athlete, positions)
    zones = _zones(folder, sport_named(by.value))
    way = read_planned(file)
    terrain = folder.athlete.settings.terrain
    plan = plan_route(
        course_of(way.along_m, way.height_m, terrain),
        _edges(zones),
        sport_named(by.value),
        folder.athlete.rider,
        terrain,
    )
    page = out or folder.athlete.reports / f"route-{file.name.split('.')[0]}.html"
    privacy = folder.athlete.privacy_m if folder.athlete.positions else None
    loads = Loads(zones.test.load_unit)
    around = Beside(share_plotly(page.parent, page) if shared_assets else "")
    write_text_atomically(page, route_page(plan, way, loads, _basis(zones), privacy, beside=around))
    if format is Shape.json:
        print_json(plan_to_dict(plan) | {"file": way.file, "test": zones.test.file, "page": str(page)})
        return
    from steadyband.report.route import view as route_view

    say(route_view.answer_text(plan))
    for table in (route_view.paces_table(plan, loads), route_view.stretches_table(plan), route_view.climbs_table(plan)):
        if table:
            _show(table)
    for line in (*route_view.notes(plan, loads), _basis(zones)):
        say(line)
    typer.echo(f"Page: {page}")


def _basis(zones: ZoneSet) -> str:
    from steadyband.report.common.words import date_text
    from steadyband.steptest.sentences import override_note

    note = override_note(zones)
    return f"By the test of {date_text(zones.test.date)} ({zones.test.file})." + (f" {note}" if note else "")


def _edges(zones: ZoneSet) -> LoadEdges:
    from steadyband.audit.edges import edges_for
    from steadyband.ground.units import is_speed

    edges = edges_for(zones, "flat_equivalent_speed" if is_speed(zones.test.load_unit) else "power", None)
    if zones.edges.ceiling is None:
        raise UsageError(
            f"the ceiling of {zones.test.file} is open, so no hill can be held against it.",
            hint="Test again to a higher last step.",
        )
    return edges


def _zones(folder: AthleteFolder, sport: str) -> ZoneSet:
    """The latest usable test of a sport: a planned way has no date of its own."""
    from steadyband.steptest import choose

    dates = [zones.test.date for zones in folder.zone_sets if zones.test.sport == sport]
    if not dates:
        raise UsageError(
            f"no step test for {sport} in {folder.athlete.tests}.", hint="Put one there, or name another --by."
        )
    choice = choose(folder.zone_sets, sport, max(dates), folder.athlete.settings.steptest)
    if choice.zone_set is None:
        raise UsageError(choice.reason or f"no usable step test for {sport}.")
    return choice.zone_set


def _folder(file: Path, athlete: Path | None, positions: bool) -> AthleteFolder:
    import dataclasses

    from steadyband.athlete.folder import folder_around, open_folder

    home = athlete or folder_around(file)
    if home is None:
        raise UsageError(
            f"no athlete.toml in any folder around {file}.", hint="Name the athlete folder with --athlete FOLDER."
        )
    folder = as_read(open_folder(home))
    if positions:
        return folder
    return dataclasses.replace(folder, athlete=dataclasses.replace(folder.athlete, positions=False))


def _again(folder: AthleteFolder, sport: str | None) -> tuple[RepeatClimb, ...]:
    from steadyband.ground.units import counted

    season = season_of(folder, sport)
    if season.failures:
        typer.echo(f"Left out: {counted(len(season.failures), 'file')} that could not be read.", err=True)
    return _repeats([item.audit for item in season.sessions])


def _repeats(audits: Sequence[Audit]) -> tuple[RepeatClimb, ...]:
    from steadyband.review.repeat_climbs import repeat_climbs

    return repeat_climbs(audits)


def _show(table: Table) -> None:
    from steadyband.report.common.fitted import Fitted

    console().print("", Fitted(table), sep="\n")
    if table.note:
        say(table.note)
