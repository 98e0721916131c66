"""The command line: reads arguments, calls the rooms, turns errors into a line and the next thing to try.

Heavy packages are imported inside the commands, so that help and errors come at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from steadyband.cli.demo import demo_app, show_version
from steadyband.cli.errors import EXIT_UNREADABLE, Commands, run
from steadyband.cli.open import open_app
from steadyband.cli.output import TextFormat, console, err, file_bar, print_bytes, print_json
from steadyband.cli.reading import FileSport, TestOption, as_read, judged_by
from steadyband.cli.review import review_app
from steadyband.cli.roster import roster_app
from steadyband.cli.share import share_app
from steadyband.cli.steptest import tests_app
from steadyband.cli.terrain import terrain_app
from steadyband.cli.week import week_app
from steadyband.ground.errors import UsageError
from steadyband.ground.reader import Reader, written_for
from steadyband.recording.formats import formats_text

if TYPE_CHECKING:
    from steadyband.athlete.folder import AthleteFolder
    from steadyband.athlete.model import Failure
    from steadyband.audit.model import Audit

app = typer.Typer(
    cls=Commands,
    rich_markup_mode=None,
    help="Did the endurance sessions stay in the steady band of the latest step test?",
    epilog="Example: steadyband demo",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.add_typer(tests_app)
app.add_typer(week_app)
app.add_typer(review_app)
app.add_typer(terrain_app)
app.add_typer(demo_app)
app.add_typer(share_app)
app.add_typer(roster_app)
app.add_typer(open_app)
app.callback()(show_version)


class AuditFormat(StrEnum):
    """Formats of `audit`."""

    text = "text"
    json = "json"
    csv = "csv"
    parquet = "parquet"
    geojson = "geojson"


@app.command(epilog="Example: steadyband zones tests/2026-04-20-bike.toml")
def zones(
    test: Annotated[Path, typer.Argument(help="A step test: TOML, CSV, .xlsx or .ods.")],
    format: Annotated[TextFormat, typer.Option(help="For people or for programs.")] = TextFormat.text,
) -> None:
    """Shows the steps, checks, band edges with their ranges and heart-rate limits of one step test."""
    from steadyband.athlete.folder import loose_folder
    from steadyband.steptest.output import zone_set_to_dict

    for zone_set in as_read(loose_folder(test)).zone_sets:
        if format is TextFormat.json:
            print_json(zone_set_to_dict(zone_set))
        else:
            from steadyband.report.test.terminal import zones_view
            from steadyband.steptest.sentences import zone_sentences

            console().print(zones_view(zone_set, zone_sentences(zone_set)))


@app.command(epilog="Example: steadyband audit ride.fit --tests tests --format json")
def audit(
    files: Annotated[
        list[Path], typer.Argument(help=f"Recordings ({formats_text()}, plain or gzip), or folders of them.")
    ],
    tests: Annotated[
        Path | None, typer.Option(help="A test file or a folder of them; otherwise the athlete folder around the file.")
    ] = None,
    test: TestOption = None,
    format: Annotated[AuditFormat, typer.Option(help="For people, or by the output contract.")] = AuditFormat.text,
    out: Annotated[Path | None, typer.Option(help="Write here instead of printing (needed for parquet).")] = None,
    sport: FileSport = None,
    explain: Annotated[bool, typer.Option("--explain", help="Say on standard error how each file was read.")] = False,
    no_positions: Annotated[
        bool, typer.Option("--no-positions", help="Leave every position out of the output.")
    ] = False,
) -> None:
    """Audits recordings: time in each band, surges above the ceiling, drift, and the verdict."""
    if format is AuditFormat.parquet and out is None:
        raise UsageError("parquet is not text: expected --out FILE.", hint="Add --out sessions.parquet.")
    if format is AuditFormat.text and out is not None:
        raise UsageError(
            "text is for people and is printed; --out needs a format for programs.", hint="Add --format json."
        )
    paths = _files(files)
    audits: list[Audit] = []
    readers: list[Reader] = []
    failures: list[Failure] = []
    for folder, members in _by_folder(paths, tests, test):
        found, refused = _audit_all(members, folder, sport)
        audits += found
        readers += [folder.athlete.reader] * len(found)
        failures += refused
    if format is AuditFormat.text:
        _print_audits(audits, readers)
    else:
        _write_audits(audits, readers, format, out, positions=not no_positions)
    if explain:
        _explain(audits)
    if failures:
        for failure in failures:
            err(f"{failure.file}: {failure.message}")
        err(f"{len(failures)} of {len(paths)} files could not be read.")
        raise typer.Exit(EXIT_UNREADABLE)


@app.command(epilog="Example: steadyband init my-training")
def init(folder: Annotated[Path, typer.Argument(help="A new folder, or one without these files.")]) -> None:
    """Writes a commented starter folder: athlete.toml with this machine's time zone, tests/, activities/, sessions.csv, reports/."""
    from steadyband.athlete.starter import write_starter
    from steadyband.athlete.zones import machine_zone

    zone = machine_zone()
    for path in write_starter(folder, zone or "UTC"):
        typer.echo(f"wrote {path}")
    known = f"{zone}, that of this machine" if zone else "UTC, as this machine does not tell its own"
    typer.echo(
        f"time zone: {known}. Days and weeks are counted in it; change time_zone in athlete.toml if you live elsewhere."
    )
    typer.echo(
        f"Next: put your step test into {folder / 'tests'} (`steadyband plan-test`, `steadyband enter-test`, or by hand from\n"
        f"the template), put recordings into {folder / 'activities'}, then `steadyband week {folder}`."
    )


@app.command(epilog="Example: steadyband schema > audit.schema.json")
def schema() -> None:
    """Prints the JSON Schema of one line of `audit --format json`."""
    from steadyband.told import contract_schema

    print_json(contract_schema(), indent=2)


@app.command(epilog="Example: steadyband settings my-training")
def settings(
    folder: Annotated[
        Path | None, typer.Argument(help="An athlete folder; without one the defaults are shown.")
    ] = None,
) -> None:
    """Shows every setting of the method with its value, default, allowed range, meaning and source."""
    from steadyband.athlete.folder import open_folder
    from steadyband.ground.settings import Settings
    from steadyband.report.settings.terminal import settings_view

    console().print(settings_view(open_folder(folder).athlete.settings if folder else Settings()))


def main() -> None:
    """The console script: errors become one or two lines on standard error and an exit status by the contract."""
    run(app)


def _files(given: Sequence[Path]) -> list[Path]:
    from steadyband.athlete.folder import left_alone_in, recordings_in

    for sentence in (text for item in given for text in left_alone_in(item)):
        err(sentence)
    return [path for item in given for path in (recordings_in(item) if item.is_dir() else [item])]


def _by_folder(paths: Sequence[Path], tests: Path | None, test: Path | None) -> list[tuple[AthleteFolder, list[Path]]]:
    from steadyband.athlete.folder import folder_around, loose_folder, open_folder

    if tests is not None:
        return [(judged_by(loose_folder(tests), test), list(paths))]
    around: dict[Path, list[Path]] = {}
    loose: list[Path] = []
    for path in paths:
        home = folder_around(path)
        if home is None and test is not None:
            loose.append(path)
            continue
        if home is None:
            raise UsageError(
                f"no athlete.toml in any folder around {path}, so there is no test to judge it by.",
                hint="Name the test with --test FILE.",
            )
        around.setdefault(home, []).append(path)
    found = [(judged_by(open_folder(home), test), members) for home, members in around.items()]
    return [*found, (judged_by(loose_folder(test), test), loose)] if test and loose else found


def _audit_all(
    paths: Sequence[Path], folder: AthleteFolder, sport: str | None
) -> tuple[tuple[Audit, ...], tuple[Failure, ...]]:
    from steadyband.athlete.work import audit_all

    with file_bar() as bar:
        bar.begin(len(paths), 0)
        return audit_all(paths, folder, sport, bar.advance)


def _print_audits(audits: Sequence[Audit], readers: Sequence[Reader]) -> None:
    from steadyband.report.session.terminal import audit_view

    for item, reader in zip(audits, readers, strict=True):
        with written_for(reader):
            console().print(audit_view(item))


def _write_audits(
    audits: Sequence[Audit], readers: Sequence[Reader], format: AuditFormat, out: Path | None, *, positions: bool
) -> None:
    from steadyband.report.common.tables import audits_as

    content = audits_as(audits, format.value, positions=positions, readers=readers)
    if out is None:
        print_bytes(content)
        return
    from steadyband.ground.writing import write_bytes_atomically

    write_bytes_atomically(out, content)
    err(f"wrote {out}")


def _explain(audits: Sequence[Audit]) -> None:
    reasons = {item.info.file: next(_fallbacks(item), None) for item in audits}
    for file, reason in reasons.items():
        err(f"{file}: {reason or 'read by the columnar reader.'}")
    slow = sum(reason is not None for reason in reasons.values())
    err(f"{slow} of {len(reasons)} files went through the reference library.")


def _fallbacks(item: Audit) -> Iterator[str]:
    return (note.numbers["text"] for note in item.quality.notes if note.code == "fallback")
