"""The command `share`: a copy of a page for somebody else, without positions, names and heart-rate traces."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from steadyband.cli.errors import EXIT_UNREADABLE
from steadyband.cli.output import console, err, printable, say
from steadyband.cli.reading import as_read, season_of
from steadyband.ground.errors import UsageError

if TYPE_CHECKING:
    from steadyband.report.share.copy import SharedCopy, Target
    from steadyband.review.roster_folders import Home, Homes

share_app = typer.Typer()

SHARED = "shared"
"""Where in the reports folder copies for others lie."""


class Kept(StrEnum):
    """What a copy may keep."""

    positions = "positions"
    names = "names"
    notes = "notes"
    heart_rate = "heart-rate"


@share_app.command(epilog="Example: steadyband share 2026-W20 demo_activities")
def share(
    what: Annotated[str, typer.Argument(help="A page that steadyband wrote, or a week such as 2026-W20.")],
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="The athlete folder, or a folder of them; otherwise the one around the page, or this folder."
        ),
    ] = None,
    keep: Annotated[list[Kept] | None, typer.Option(help="Leave this in the copy; may be given several times.")] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="The copy, or the folder of all copies; otherwise shared/ in the reports folder."),
    ] = None,
) -> None:
    """Writes a copy of a page without positions, names, notes and heart-rate traces, and says what was removed.

    The copy is made anew from the folder, and searched for every removed value before it is written. With a week and a
    folder of athlete folders, each athlete's week is copied into the own reports folder, or all into the folder --out.
    """
    from steadyband.athlete.folder import open_folder
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.share.copy import shared_copy, target_of

    target = target_of(what)
    if target.kind == "week" and (homes := _club(folder or Path())) is not None:
        _share_all(homes, target, keep or (), out)
        return
    home = as_read(open_folder(folder or _around(what)))
    made = shared_copy(home, season_of(home), target, keep or ())
    place = out or home.athlete.reports / SHARED / target.file_name
    write_text_atomically(place, made.page)
    _say(made)
    console().print(printable(f"Shared copy: {place}"), soft_wrap=True, markup=False)


def _club(folder: Path) -> Homes | None:
    """The athlete folders below a folder that is none itself; None where there are none."""
    from steadyband.athlete.athlete import NAME
    from steadyband.review.roster_folders import find_homes

    if (folder / NAME).is_file():
        return None
    try:
        return find_homes(folder)
    except UsageError:
        return None


def _share_all(homes: Homes, target: Target, keep: Sequence[str], out: Path | None) -> None:
    """One copy an athlete; a folder that cannot be used is named and the others are done."""
    from steadyband.ground.errors import NothingToReviewError, SteadybandError

    failed = 0
    for home in homes.homes:
        try:
            if home.fault:
                raise SteadybandError(home.fault)
            place, made = _share_one(home, target, keep, out)
            _list(
                f"{home.name}: {place}", (f"removed: {'; '.join(made.removed)}", f"still in it: {'; '.join(made.kept)}")
            )
            if made.alike:
                _list("  most likely a word or number of the report itself:", made.alike)
        except NothingToReviewError:
            say(f"{home.name}: no session in {target.which[0]}, so there is nothing to copy.")
        except SteadybandError as refused:
            failed += 1
            err(f"{home.name}: no copy. {refused}")
    for sentence in homes.left_alone:
        err(sentence)
    say("Each copy was searched for every removed value before it was written; none was found.")
    if failed:
        err(f"{failed} of {len(homes.homes)} athletes have a folder or a page that could not be used.")
        raise typer.Exit(EXIT_UNREADABLE)


def _share_one(home: Home, target: Target, keep: Sequence[str], out: Path | None) -> tuple[Path, SharedCopy]:
    from steadyband.athlete.folder import open_folder
    from steadyband.ground.reader import written_for
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.share.copy import shared_copy

    folder = open_folder(home.path)
    with written_for(folder.athlete.reader):
        made = shared_copy(folder, season_of(folder), target, keep)
    own = folder.athlete.reports / SHARED / target.file_name
    place = out / f"{home.name}-{target.file_name}" if out else own
    write_text_atomically(place, made.page)
    return place, made


def _around(what: str) -> Path:
    from steadyband.athlete.folder import folder_around

    path = Path(what)
    if not path.is_file():
        return Path()
    home = folder_around(path)
    if home is None:
        raise UsageError(
            f"no athlete.toml in any folder around {path}, so there is nothing to make the copy from.",
            hint=f"Name the athlete folder: `steadyband share {what} FOLDER`.",
        )
    return home


def _say(made: SharedCopy) -> None:
    _list("Removed:", made.removed)
    _list("Still in it:", made.kept)
    say("The copy was searched for every removed value before it was written; none was found.")
    if made.alike:
        _list("In the page all the same, and most likely a word or number of the report itself:", made.alike)


def _list(head: str, lines: Sequence[str]) -> None:
    from rich.padding import Padding

    say(head)
    for line in lines:
        console().print(Padding(printable(line), (0, 0, 0, 2), expand=False), markup=False)
