"""What somebody types first: --version, and demo for those who have no recordings at hand yet."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from steadyband.cli.week import week

demo_app = typer.Typer(no_args_is_help=True, pretty_exceptions_enable=False)

INVENTED = "This athlete is invented, and so are both step tests and every recording."
NEXT = (("block", "four weeks at once"), ("tests", "both step tests"), ("card", "a zone card to print"))


@demo_app.command(epilog="Example: steadyband demo steadyband-demo")
def demo(
    folder: Annotated[Path, typer.Argument(help="A new folder; nothing that exists is replaced.")] = Path(
        "steadyband-demo"
    ),
) -> None:
    """Writes the folder of an invented athlete anywhere and reviews its latest week: page, summary, what to do next."""
    from steadyband.athlete.demo import write_demo

    count = write_demo(folder)
    typer.echo(f"wrote {folder}: {count} files\n{INVENTED}\n")
    week(folder)
    typer.echo("\n" + _what_next(folder))


def _what_next(folder: Path) -> str:
    commands = [(f"steadyband {name} {shlex.quote(str(folder))}", meaning) for name, meaning in NEXT]
    width = max(len(command) for command, _ in commands)
    return "\n".join(
        (
            "Next: open that page in a browser. Then try, on the same folder:",
            *(f"  {command:<{width}}  {meaning}" for command, meaning in commands),
            "A folder of your own begins with `steadyband init my-training`.",
            "Delete the demo's folder when you are done.",
        )
    )


def _print_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"steadyband {version('steadyband')}")
        raise typer.Exit


def show_version(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Show the version and end.")
    ] = False,
) -> None:
    """Did the endurance sessions stay in the steady band of the latest step test?"""
