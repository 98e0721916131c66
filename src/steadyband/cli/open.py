"""The command `open`: the whole tool in the browser, on this machine alone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from steadyband.cli.output import console, printable, say
from steadyband.ground.errors import UsageError

open_app = typer.Typer()


@open_app.command("open", epilog="Example: steadyband open my-training")
def open_folder_in_browser(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="The athlete folder, or a folder of them; without one the first page asks where to keep it."
        ),
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port to serve on; otherwise any free one.")] = 0,
    browser: Annotated[bool, typer.Option(help="Open the browser, or print the address instead.")] = True,
    launcher: Annotated[
        Path | None,
        typer.Option(metavar="INTO", help="Only write a file to double-click into this folder, such as the desktop."),
    ] = None,
) -> None:
    """Opens an athlete folder in the browser: the week, what waits for you, recordings dropped in, a step test by the clock.

    On this computer only. Ctrl-C ends it, or Close on the page. Where the folder is open already, the browser is shown that run.
    """
    if launcher is not None:
        _write(folder, launcher)
        return
    from steadyband.open.running import Wish, open_in_browser

    open_in_browser(folder, Wish(port, browser), _whole)


def _write(folder: Path | None, into: Path) -> None:
    from steadyband.open.launcher import write_launcher

    if folder is None:
        raise UsageError("expected the folder to open, found none.", hint="steadyband open FOLDER --launcher INTO.")
    say(
        f"wrote {write_launcher(folder, into)}. A double click on it opens {folder}; some desktops ask once whether to trust it."
    )


def _whole(text: str) -> None:
    """Lines as they are: an address that is wrapped could not be clicked."""
    console().print(printable(text), soft_wrap=True, markup=False)
