"""Commands around the step test: plan it, enter it, carry it to the field, compare meters and tests."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from steadyband.cli.errors import DATE
from steadyband.cli.output import console, say
from steadyband.cli.reading import SharedAssets, Sport, as_read
from steadyband.ground.errors import RecordingError, UsageError
from steadyband.ground.plain import plain_lines
from steadyband.ground.sports import sport_named

if TYPE_CHECKING:
    from steadyband.athlete.folder import AthleteFolder
    from steadyband.ground.settings import StepTestSettings
    from steadyband.steptest.dialogue.plan import PlanRequest, TestPlan
    from steadyband.steptest.meters import MeterSeries
    from steadyband.steptest.model import ZoneSet

tests_app = typer.Typer()

Day = Annotated[
    datetime | None, typer.Option(formats=["%Y-%m-%d"], metavar=DATE, help="The date it is for; otherwise today.")
]


SportOption = Annotated[Sport | None, typer.Option(help="bike and cycling, foot and running mean the same.")]
MassOption = Annotated[float | None, typer.Option(help="Body mass in kg: sets the step height by bike.")]
SteadyOption = Annotated[
    str | None,
    typer.Option(help="A rough idea of your steady load: 145 (W by bike), 9.2 (km/h) or 6:30 (min/km) by foot."),
]
FromOption = Annotated[
    Path | None, typer.Option("--from-test", help="Your last test of that sport, instead of --steady.")
]


@tests_app.command("plan-test", epilog="Example: steadyband plan-test --sport bike --mass 58 --steady 145")
def plan_test(
    sport: SportOption = None,
    mass: MassOption = None,
    steady: SteadyOption = None,
    from_test: FromOption = None,
    out: Annotated[Path, typer.Option(help="The sheet to print and write on.")] = Path("step-test-plan.html"),
) -> None:
    """Plans a step test: start load, steps, sample times, strips; prints it and writes a sheet to fill in by hand."""
    from steadyband.report.test.terminal import plan_view

    plan = _plan(sport, mass, steady, from_test)
    console().print(plan_view(plan))
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.test.pages import plan_page

    write_text_atomically(out, plan_page(plan))
    console().print(plain_lines(f"\nSheet to print: {out}"), soft_wrap=True, markup=False)
    say("During the test: steadyband enter-test FILE.toml, with the same options.")


@tests_app.command(
    "enter-test",
    epilog="Example: steadyband enter-test tests/2026-06-15-bike.toml --from-test tests/2026-04-20-bike.toml",
)
def enter_test(
    file: Annotated[
        Path, typer.Argument(help="The test file to write or to mend, ending in .toml, in the tests folder.")
    ],
    sport: SportOption = None,
    mass: MassOption = None,
    steady: SteadyOption = None,
    from_test: FromOption = None,
    afterwards: Annotated[bool, typer.Option("--afterwards", help="From paper: no clock.")] = False,
) -> None:
    """Takes baseline and samples as they come, says at once what is amiss, and writes the test file.

    Every entry is saved at once: leave at any time and give the same command again to go on. A finished test is opened
    again to be mended; what stood in it before is kept beside it.
    """
    from steadyband.cli.talk import line_editing, talk
    from steadyband.steptest.dialogue.entering import running_clock
    from steadyband.steptest.dialogue.room import Room

    if file.suffix != ".toml" or file.is_dir():
        raise UsageError(
            f"expected a file name that ends in .toml, found {file}.", hint="Such as tests/2026-06-15-bike.toml."
        )
    today = datetime.now().astimezone().date()
    line_editing()
    room = Room(file, running_clock(), today, _settings(file))
    try:
        finished = talk(room, _preset(file, sport, mass, steady, from_test, None if afterwards else today), console())
    except KeyboardInterrupt:
        console().print(
            plain_lines(f"\nSaved. The same command goes on: steadyband enter-test {file}"),
            soft_wrap=True,
            markup=False,
        )
        raise typer.Exit(130) from None
    if finished:
        _after(file)


@tests_app.command(epilog="Example: steadyband card my-training --workout 90")
def card(
    folder: Annotated[Path, typer.Argument(help="The athlete folder, a folder of tests, or one test.")] = Path(),
    on: Day = None,
    out: Annotated[Path | None, typer.Option(help="The page; otherwise zone-card.html in the reports folder.")] = None,
    workout: Annotated[
        int | None,
        typer.Option(help="Also write a FIT workout of this many minutes for each sport.", metavar="MINUTES"),
    ] = None,
    by_heart_rate: Annotated[
        bool, typer.Option("--by-heart-rate", help="Targets of the workout in heart rate instead of load.")
    ] = False,
) -> None:
    """Writes the zone card to print, bike and run side by side, and on request a workout with steady-band targets."""
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.test.pages import card_page

    home, day = as_read(_folder(folder)), _day(on)
    athlete = home.athlete
    page = card_page(home.zone_sets, day, athlete.settings.steptest, athlete.name)
    place = out or athlete.reports / "zone-card.html"
    write_text_atomically(place, page)
    console().print(plain_lines(f"Card: {place}"), soft_wrap=True, markup=False)
    if workout is not None:
        _workouts(home, day, workout, by_heart_rate, place.parent)


@tests_app.command("compare-meters", epilog="Example: steadyband compare-meters trainer.fit pedals.fit")
def compare_meters(
    first: Annotated[Path, typer.Argument(help="A recording with power, by the meter of the test.")],
    second: Annotated[Path, typer.Argument(help="The same session, recorded by the other meter.")],
    out: Annotated[Path, typer.Option(help="The page with the plot.")] = Path("two-meters.html"),
) -> None:
    """Compares two power meters on one session: offset and slope with 95 % intervals, and a plot."""
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.test.pages import meter_lines, meters_page, offset_lines
    from steadyband.steptest import meters

    same = first.name == second.name
    series = [_power(path, f"{path.parent.name}/{path.name}" if same else path.name) for path in (first, second)]
    found = meters.compare_meters(series[0], series[1])
    for line in meter_lines(found):
        console().print(plain_lines(line), markup=False)
    typer.echo("\n" + offset_lines(found))
    write_text_atomically(out, meters_page(found))
    console().print(plain_lines(f"Page: {out}"), soft_wrap=True, markup=False)


@tests_app.command("tests", epilog="Example: steadyband tests my-training")
def all_tests(
    folder: Annotated[Path, typer.Argument(help="The athlete folder, or a folder of tests.")] = Path(),
    out: Annotated[Path | None, typer.Option(help="The page; otherwise step-tests.html in the reports folder.")] = None,
    shared_assets: SharedAssets = False,
) -> None:
    """Shows the edges of all tests over time, and what changed beyond the ranges."""
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.common.beside import beside
    from steadyband.report.test.pages import history_page
    from steadyband.report.test.terminal import history_view
    from steadyband.steptest.history import history

    home = as_read(_folder(folder))
    console().print(history_view(history(home.zone_sets)))
    place = out or home.athlete.reports / "step-tests.html"
    write_text_atomically(place, history_page(home.zone_sets, beside(place.parent, place, shared_assets)))
    console().print(plain_lines(f"Page: {place}"), soft_wrap=True, markup=False)


@tests_app.command("test-page", epilog="Example: steadyband test-page my-training/tests/2026-04-20-bike.toml")
def page_of_test(
    test: Annotated[Path, typer.Argument(help="A step test: TOML, CSV, .xlsx or .ods.")],
    out: Annotated[Path | None, typer.Option(help="The page; otherwise the test's name in the reports folder.")] = None,
    shared_assets: SharedAssets = False,
) -> None:
    """Writes a test's own report: curve, edges, heart rate, checks, other readings, sources."""
    if test.is_dir():
        raise UsageError(f"expected one step test, found the folder {test}.", hint="Name a file of it.")
    console().print(plain_lines(f"Page: {write_test_page(test, out, shared_assets)}"), soft_wrap=True, markup=False)


def write_test_page(test: Path, out: Path | None = None, shared: bool = False) -> Path:
    """Writes the report page of one test and returns its path (the reports folder of the athlete around it by default)."""
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.common.beside import beside
    from steadyband.report.test.pages import step_test_page

    home = as_read(_folder(test))
    place = out or home.athlete.reports / f"{test.stem}.html"
    write_text_atomically(place, step_test_page(home.zone_sets[0], beside(place.parent, place, shared)))
    return place


def _folder(path: Path) -> AthleteFolder:
    from steadyband.athlete.folder import loose_folder, open_folder

    return open_folder(path) if (path / "athlete.toml").is_file() else loose_folder(path)


def _settings(file: Path) -> StepTestSettings:
    from steadyband.athlete.athlete import NAME, read_athlete
    from steadyband.athlete.folder import folder_around
    from steadyband.ground.settings import StepTestSettings

    around = folder_around(file)
    return read_athlete(around / NAME).settings.steptest if around else StepTestSettings()


def _zone_set(test: Path) -> ZoneSet:
    if not test.is_file():
        raise UsageError(f"expected a step-test file, found none at {test}.", hint="Check the path.")
    return as_read(_folder(test)).zone_sets[0]


def _request(sport: Sport | None, mass: float | None, steady: str | None, from_test: Path | None) -> PlanRequest:
    from steadyband.steptest.dialogue.plan import PlanRequest
    from steadyband.steptest.dialogue.questions import read_load

    last = _zone_set(from_test) if from_test else None
    if sport is None and last is None:
        raise UsageError("expected a sport, found none.", hint="Add --sport bike or --sport foot.")
    name = sport_named(sport.value) if sport else last.test.sport if last else ""
    if name == "cycling":
        return PlanRequest(name, "W", mass, read_load(steady, "W") if steady else None, last)
    unit: Any = "min/km" if steady and ":" in steady else "km/h"
    return PlanRequest(name, unit, mass, read_load(steady, unit) if steady else None, last)


def _plan(sport: Sport | None, mass: float | None, steady: str | None, from_test: Path | None) -> TestPlan:
    from steadyband.steptest.dialogue import plan

    request = _request(sport, mass, steady, from_test)
    return plan.plan_test(request, request.last.settings) if request.last else plan.plan_test(request)


def _preset(
    file: Path, sport: Sport | None, mass: float | None, steady: str | None, from_test: Path | None, today: date | None
) -> dict[str, Any]:
    from steadyband.steptest.dialogue.questions import day_in_name

    found: dict[str, Any] = {"live": today is not None}
    if today is not None and day_in_name(file.name) in (None, today):
        found["date"] = today.isoformat()
    if sport is not None:
        found["sport"] = sport_named(sport.value)
    if mass is not None:
        found["mass_kg"] = mass
    return found | (_planned(sport, mass, steady, from_test) if steady or from_test else {})


def _planned(sport: Sport | None, mass: float | None, steady: str | None, from_test: Path | None) -> dict[str, Any]:
    from steadyband.steptest.dialogue.plan import answers_of

    return answers_of(_plan(sport, mass, steady, from_test), _zone_set(from_test) if from_test else None)


def _after(file: Path) -> None:
    from steadyband.athlete.folder import folder_around
    from steadyband.steptest.sentences import zone_sentences

    for line in zone_sentences(_zone_set(file)):
        console().print(plain_lines(f"  {line}"), markup=False)
    home = folder_around(file) or file.parent
    console().print(
        plain_lines(f"\nNext: steadyband test-page {file}\nand for the card to print: steadyband card {home}"),
        soft_wrap=True,
        markup=False,
    )


def _workouts(home: AthleteFolder, day: date, minutes: int, by_heart_rate: bool, folder: Path) -> None:
    from steadyband.steptest.choose import choose

    settings = home.athlete.settings.steptest
    for sport in sorted({item.test.sport for item in home.zone_sets}):
        choice = choose(home.zone_sets, sport, day, settings)
        if choice.zone_set is None:
            console(stderr=True).print(plain_lines(f"No workout for {sport}: {choice.reason}"), markup=False)
            continue
        _workout(choice.zone_set, minutes, by_heart_rate, folder)


def _workout(zone_set: ZoneSet, minutes: int, by_heart_rate: bool, folder: Path) -> None:
    from steadyband.ground.writing import write_bytes_atomically
    from steadyband.steptest.workout import steady_workout, workout_fit

    made = steady_workout(zone_set, minutes, by_heart_rate=by_heart_rate)
    day = zone_set.test.date
    path = folder / f"steady-{minutes}-min-{made.sport}.fit"
    write_bytes_atomically(path, workout_fit(made, datetime(day.year, day.month, day.day, tzinfo=UTC)))
    console().print(plain_lines(f"Workout: {path}"), soft_wrap=True, markup=False)
    for note in made.notes:
        console().print(plain_lines(f"  {note}"), markup=False)


def _power(path: Path, name: str) -> MeterSeries:
    from steadyband.recording import read, to_rows
    from steadyband.steptest.meters import MeterSeries

    rows = [to_rows(session) for session in read(path).sessions]
    powered = [item for item in rows if item.has("power_w")]
    if not powered:
        raise RecordingError(
            "expected a recording with power, found none.", file=str(path), hint="Export one that has it."
        )
    longest = max(powered, key=len)
    return MeterSeries(name, longest.start_s, longest.channels["power_w"])


def _day(on: datetime | None) -> date:
    return on.date() if on else datetime.now().astimezone().date()
