"""What stands around a page while it is open in the browser, and the few pages that only the browser has."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from importlib.resources import files
from typing import TYPE_CHECKING

from markupsafe import Markup

from steadyband.athlete.athlete import NAME
from steadyband.athlete.condensed import Condensed
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.own_words import own_words
from steadyband.athlete.season import Season
from steadyband.audit.model import INTENTS
from steadyband.ground.reader import written_for
from steadyband.ground.said import Said
from steadyband.ground.units import day_words, duration_text, time_of_day
from steadyband.open import owner
from steadyband.open.desk import Desk, names_of
from steadyband.open.missing import MissingError
from steadyband.open.starting import Start
from steadyband.report.common import pages
from steadyband.report.common.beside import Beside, Link, Served
from steadyband.report.common.words import Loads, age_text, capital, counted, session_word, sport_word
from steadyband.review.hours import monday_of, tests_in_force
from steadyband.review.model import week_name
from steadyband.review.roster_folders import Home
from steadyband.steptest.dialogue.plan import CAUTIONS, TestPlan
from steadyband.steptest.dialogue.room import INTRO
from steadyband.steptest.dialogue.talk import HELP
from steadyband.steptest.model import ZoneSet
from steadyband.told.reasons import looks_text

if TYPE_CHECKING:
    from jinja2 import Environment

    from steadyband.report.common.view import Plot, Table

ASKED_AT_ONCE = 1
"""Sessions to label that are shown on the first page at a time: the week is what it is for."""
FAILURES_SHOWN = 60
HERE = "<!-- what waits -->"
"""Holds the place of what stands above the sheet of the first page."""
PARTS = (
    ("home", "This week", ""),
    ("block", "Block", "block"),
    ("season", "Season", "season"),
    ("hills", "Hills", "hills"),
    ("tests", "Tests", "tests"),
    ("athlete", "Athlete", "athlete"),
)
"""Parts of the bar: what they are called in the code and on the page, and where they lie below the athlete's own path."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where an athlete's pages lie: `root` is the run's path, `at` the athlete's own below it; `name` is shown to a coach."""

    root: str
    at: str
    name: str = ""
    several: bool = False

    @property
    def plotly(self) -> str:
        """The script that draws figures."""
        return f"{self.root}plotly.js"


@dataclass(frozen=True, slots=True)
class Card:
    """One session to label."""

    name: str
    title: str
    facts: str
    guess: str


@dataclass(frozen=True, slots=True)
class Panel:
    """What stands above the week: sessions to label and how many more, files that could not be read, tests, what was just done."""

    cards: Sequence[Card] = ()
    more: int = 0
    failures: Sequence[tuple[str, str]] = ()
    tests: Sequence[str] = ()
    done: str = ""
    busy: bool = False
    stopped: str = ""
    fault: str = ""


@functools.lru_cache(maxsize=1)
def engine() -> Environment:
    """The report's template engine with this room's templates beside its own."""
    from jinja2 import ChoiceLoader, PackageLoader

    own = pages.environment()
    loaders = [loader for loader in (own.loader, PackageLoader("steadyband.open", "templates")) if loader is not None]
    return own.overlay(loader=ChoiceLoader(loaders))


@functools.lru_cache(maxsize=8)
def carried_text(name: str) -> str:
    """A script or style sheet of this room."""
    return files("steadyband.open").joinpath("templates", name).read_text(encoding="utf-8")


def around(place: Place, here: str, desk: Desk | None = None, panel: Panel | None = None, note: str = "") -> Served:
    """What is put around every page: the bar, on the first page what waits, and one style and script."""
    before = (
        engine()
        .get_template("bar.html.j2")
        .render(
            place=place,
            parts=[(name, f"{place.at}{path}", key == here) for key, name, path in PARTS] if place.at else [],
            panel=panel,
            note=note,
            intents=INTENTS,
            version=desk.version if desk else 0,
        )
    )
    return Served(before, carried_text("open.css"), carried_text("open.js"))


def beside(place: Place, here: str, desk: Desk, season: Season | None = None, links: Sequence[Link] = ()) -> Beside:
    """What a page may count on when it is served."""
    names = names_of(season) if season else {}
    return Beside(
        plotly=place.plotly,
        links=tuple(links),
        sessions={name: f"{place.at}session/{name}" for name in names},
        served=around(place, here, desk),
    )


def panel_of(desk: Desk, today: date) -> Panel:
    """What waits for the athlete."""
    reading, home = desk.reading, desk.home
    if home is None or desk.season is None:
        return Panel(busy=reading.busy, stopped=_stopped(desk), fault=reading.fault)
    with written_for(home.athlete.reader):
        asked = desk.to_label()
        return Panel(
            cards=[_card(name, item) for name, item in asked[:ASKED_AT_ONCE]],
            more=max(0, len(asked) - ASKED_AT_ONCE),
            failures=[(item.file, item.message) for item in desk.season.failures[:FAILURES_SHOWN]],
            tests=_tests_due(home, desk.season, today),
            done=_just_done(desk),
            busy=reading.busy,
            stopped=_stopped(desk),
            fault=reading.fault,
        )


def _stopped(desk: Desk) -> str:
    reading = desk.reading
    return (
        f"Stopped with {reading.done} of {reading.total} files read; what is done is kept." if reading.stopped else ""
    )


def _card(name: str, item: Condensed) -> Card:
    info = item.audit.info
    titled = f" “{info.name}”" if info.name else ""
    looks = looks_text(Said(item.guess.looks, item.guess.numbers))
    return Card(
        name,
        f"{day_words(item.day)}, {time_of_day(info.local_start)}: what was this {session_word(info.sport)} for?",
        f"{duration_text(item.audit.seconds.active)}{titled}; {looks}.",
        item.guess.intent or "",
    )


def _just_done(desk: Desk) -> str:
    if not desk.labelled:
        return ""
    name, row = desk.labelled[-1]
    item = desk.named().get(name)
    what = f"{day_words(item.day)}’s {session_word(item.audit.info.sport)}" if item else name
    return f"{what} is labelled {row.intent}." if row.intent else f"{what} has a note more."


def _tests_due(home: AthleteFolder, season: Season, today: date) -> list[str]:
    audits = [item.audit for item in season.sessions]
    told = []
    for item in tests_in_force(home, audits, today):
        if item.zone_set is None:
            told.append(f"{capital(sport_word(item.sport))}: {item.reason or 'no usable step test.'}")
        elif item.freshness != "current" and item.age_days is not None:
            told.append(f"{capital(sport_word(item.sport))}: the step test is {age_text(item.age_days)}.")
    return told or (
        []
        if home.zone_sets
        else [
            "No step test yet: without one, nothing can be judged. Plan one, take it, type it in from paper, or drop its file here."
        ]
    )


def week_view(place: Place, desk: Desk, home: AthleteFolder, season: Season, week: str) -> str:
    """The week's sheet as the report has it, with the weeks before and after; without a name the latest."""
    from steadyband.report.week.page import week_page
    from steadyband.review.week import review_season

    review = review_season(home, season, _monday(desk, week))
    found = beside(place, "week", desk, season, _weeks_around(place, desk, review.first_day))
    found = replace(found, served=around(place, "week", desk, note=note_form(place, "week", review.name)))
    if not week and found.served is not None:
        found = replace(found, served=replace(found.served, before=HERE))
    return week_page(review, found)


def home_view(place: Place, desk: Desk, today: date) -> str:
    """The first page: what comes in and what waits, then the sheet of the latest week. The sheet is kept, the rest is of now."""
    sheet = desk.page("home", lambda home, season: week_view(place, desk, home, season, "")).decode()
    note = note_form(place, "week", week_name(desk.weeks()[-1]))
    return sheet.replace(HERE, around(place, "home", desk, panel_of(desk, today), note).before, 1)


def _weeks_around(place: Place, desk: Desk, first: date) -> list[Link]:
    weeks = desk.weeks()
    before = [day for day in weeks if day < first][-1:]
    after = [day for day in weeks if day > first][:1]
    told = [(day, "before") for day in before] + [(day, "after") for day in after]
    links = [Link(f"The week {word}: {_week_text(day)}", f"{place.at}week/{week_name(day)}") for day, word in told]
    return [*links, Link("Its block of four weeks", f"{place.at}block/{week_name(first)}")]


def _monday(desk: Desk, week: str) -> date | None:
    """The Monday of a week that holds a session, by its name."""
    named = {week_name(day): day for day in desk.weeks()}
    if week and week not in named:
        raise MissingError(week)
    return named.get(week)


def _week_text(day: date) -> str:
    year, number, _ = day.isocalendar()
    return f"week {number} of {year}"


def block_view(place: Place, desk: Desk, home: AthleteFolder, season: Season, week: str) -> str:
    """The block that ends with a week, or with the latest."""
    from steadyband.report.block.page import block_page
    from steadyband.review.block import review_block

    review = review_block(home, season.sessions, season.failures, 4, _monday(desk, week))
    weeks = [day for day in desk.weeks() if review.first_day <= day <= review.last_day]
    links = [Link(capital(_week_text(day)), f"{place.at}week/{week_name(day)}") for day in weeks]
    earlier = [day for day in desk.weeks() if day < review.first_day][-1:]
    links = [Link("The block before", f"{place.at}block/{week_name(day)}") for day in earlier] + links
    return block_page(review, beside(place, "block", desk, season, links))


def season_view(place: Place, desk: Desk, home: AthleteFolder, season: Season, _: str) -> str:
    """The whole season."""
    from steadyband.report.season.page import history_page
    from steadyband.review.history import history

    return history_page(history(home, season.sessions, season.failures), beside(place, "season", desk, season))


def session_view(place: Place, desk: Desk, home: AthleteFolder, season: Season, name: str) -> str:
    """A session's own page. Raises MissingError where there is none of that name."""
    from steadyband.report.common.beside import session_names
    from steadyband.report.session.page import session_page
    from steadyband.review.repeat_climbs import repeat_climbs

    named = names_of(season)
    if name not in named:
        raise MissingError(name)
    day = named[name].day
    audits = season.audits(day, day)
    audit = audits[session_names(audits).index(name)]
    again = repeat_climbs(item.audit for item in season.sessions)
    links = [Link(capital(_week_text(day)), f"{place.at}week/{week_name(monday_of(day))}")]
    with written_for(home.athlete.reader):
        found = beside(place, "session", desk, season, links)
        found = replace(found, served=around(place, "", desk, note=note_form(place, "session", name)))
        words = own_words(home.labels, audit.info.local_start, audit.info.sport)
        return session_page(audit, again, found, words)


def hills_view(place: Place, desk: Desk, home: AthleteFolder, season: Season, _: str) -> str:
    """The climbs that were ridden or run again."""
    from steadyband.report.session.hills import repeats_table
    from steadyband.report.session.overlay import overlay_plot
    from steadyband.review.repeat_climbs import repeat_climbs

    with written_for(home.athlete.reader):
        found: list[tuple[Table, Plot | None]] = []
        for climb in repeat_climbs(item.audit for item in season.sessions):
            unit = climb.latest.unit
            loads = Loads("W" if unit == "W" else "bpm" if unit == "bpm" else "km/h")
            found.append((repeats_table(climb), overlay_plot(climb, climb.latest.ceiling, loads)))
        answer = (
            f"{capital(counted(len(found), 'climb'))} ridden or run again."
            if found
            else "No climb was ridden or run twice where positions may be told."
        )
        plots = [drawn for _, drawn in found if drawn]
        values = {"title": "Hills", "answer": answer, "climbs": found}
        return page("hills.html.j2", values, beside(place, "hills", desk), plots)


def tests_view(place: Place, desk: Desk, home: AthleteFolder, season: Season, _: str) -> str:
    """All step tests over time, each a click away."""
    from steadyband.report.test.pages import history_page

    if not home.zone_sets:
        return planning_view(place, desk)
    tests = reversed(list(enumerate(home.zone_sets, 1)))
    links = [Link("Plan, take or mend a test", f"{place.at}test-new")]
    links += [Link(_test_words(item), f"{place.at}test/{number}") for number, item in tests]
    with written_for(home.athlete.reader):
        return history_page(
            home.zone_sets, beside(place, "tests", desk, links=[*links, Link("Zone card", f"{place.at}card")])
        )


def step_test_view(place: Place, desk: Desk, home: AthleteFolder, season: Season, number: str) -> str:
    """A test's own report. Raises MissingError where there is none of that number."""
    from steadyband.report.test.pages import step_test_page

    tests = {str(at): item for at, item in enumerate(home.zone_sets, 1)}
    if number not in tests:
        raise MissingError(number)
    with written_for(home.athlete.reader):
        return step_test_page(tests[number], beside(place, "test", desk))


def card_view(home: AthleteFolder, today: date) -> str:
    """The zone card, a sheet to print."""
    from steadyband.report.test.pages import card_page

    with written_for(home.athlete.reader):
        return card_page(home.zone_sets, today, home.athlete.settings.steptest, home.athlete.name)


CARE = (INTRO, *CAUTIONS)
"""What is said wherever a test is planned or taken."""


@dataclass(frozen=True, slots=True)
class Given:
    """What stands in the form of a new test."""

    sport: str = "cycling"
    mass: str = ""
    steady: str = ""
    last: str = ""


def planning_view(place: Place, desk: Desk, given: Given | None = None, fault: str = "") -> str:
    """A test to plan, to take or to type in; those that are not finished, and those that can be mended."""
    athlete, tests = desk.athlete(), desk.home.zone_sets if desk.home else ()
    mass = f"{athlete.rider.body_kg:g}" if athlete.rider.body_kg else ""
    last = [(str(number), _test_words(item)) for number, item in reversed(list(enumerate(tests, 1)))]
    values = {
        "at": place.at,
        "given": given or (Given(tests[-1].test.sport, mass, last=last[0][0]) if last else Given(mass=mass)),
        "fault": fault,
        "last": last,
        "drafts": desk.taking().drafts(),
        "mendable": sorted({item.test.file for item in tests if item.test.file.endswith(".toml")}, reverse=True),
        "care": CARE,
    }
    return page("planning.html.j2", values, beside(place, "tests", desk))


def _test_words(item: ZoneSet) -> str:
    return f"{capital(sport_word(item.test.sport))}, {item.test.date:%-d %B %Y}"


def taking_view(place: Place, desk: Desk, name: str) -> str:
    """The page on which a test is entered."""
    values = {"at": f"{place.at}entry/{name}", "back": f"{place.at}tests", "help": HELP, "care": CARE}
    served = around(place, "tests", desk)
    served = replace(served, script=f"{served.script}\n{carried_text('taking.js')}")
    return page("taking.html.j2", values, Beside(plotly=place.plotly, served=served))


def sheet_view(plan: TestPlan) -> str:
    """The plan as a sheet to print and write on."""
    from steadyband.report.test.pages import plan_page

    return plan_page(plan)


def note_form(place: Place, what: str, name: str) -> Markup:
    """The form for a note on a session or a week."""
    return Markup(engine().get_template("note.html.j2").render(at=place.at, what=what, name=name, done=""))


def owner_view(
    place: Place, desk: Desk, given: Mapping[str, str] | None = None, fault: str = "", done: str = ""
) -> str:
    """The athlete's own data."""
    held = owner.values(desk.path / NAME)
    values = {"at": place.at, "fields": owner.FIELDS, "given": {**held, **(given or {})}, "fault": fault, "done": done}
    return page("owner.html.j2", values, Beside(plotly=place.plotly, served=around(place, "athlete", desk)))


def label_view(place: Place, desk: Desk) -> str:
    """Every session that nobody labelled."""
    assert desk.home is not None
    with written_for(desk.home.athlete.reader):
        cards = [_card(name, item) for name, item in desk.to_label()]
        done = _just_done(desk)
    answer = (
        f"{capital(counted(len(cards), 'session'))} that nobody labelled." if cards else "Every session is labelled."
    )
    values = {
        "title": "Sessions to label",
        "answer": answer,
        "cards": cards,
        "done": done,
        "intents": INTENTS,
        "at": place.at,
    }
    return page("label.html.j2", values, beside(place, "label", desk))


def empty_view(place: Place, desk: Desk, panel: Panel) -> str:
    """The first page before there is a session to show."""
    if panel.busy:
        answer, lines = "Reading the recordings.", ["The first time takes a while; what is read is kept."]
    elif panel.fault:
        answer, lines = "The folder could not be read.", [panel.fault]
    else:
        answer, lines = "No session yet.", list(FIRST_STEPS)
    served = around(place, "home", desk, panel)
    values = {"title": "steadyband", "answer": answer, "lines": lines, "form": None}
    return page("told.html.j2", values, Beside(plotly=place.plotly, served=served))


FIRST_STEPS = (
    "Drop your recordings above: single files, a folder, or the zip of everything that your device or account gave you.",
    "They are copied into activities/ of your folder byte by byte; the originals are not touched, and nothing leaves this computer.",
    "Then comes the step test: without one, recordings are read and counted, and none is judged.",
)


def start_view(place: Place, starts: Sequence[Start]) -> str:
    """The very first page: where to keep a folder."""
    choices = [(str(number), start.words, start.note) for number, start in enumerate(starts, 1)]
    form = {"action": f"{place.root}begin", "hidden": [("zone", "")], "choices": choices}
    return told_view(place, "steadyband", "Where shall your training be kept?", WELCOME, form)


WELCOME = (
    "steadyband checks from your recordings whether endurance sessions stayed in the steady band of your lactate step test.",
    "Everything you give it lies in one folder on this computer, as plain files that you can look at, copy and delete.",
)


def athletes_view(place: Place, homes: Mapping[str, Home]) -> str:
    """A coach's first page: every athlete a click away."""
    rows = [(home.name, f"{place.root}{number}/", home.fault) for number, home in homes.items()]
    values = {"title": "Athletes", "answer": f"{capital(counted(len(rows), 'athlete'))}.", "rows": rows}
    return page("athletes.html.j2", values, Beside(plotly=place.plotly, served=around(place, "")))


def told_view(
    place: Place, title: str, answer: str, lines: Sequence[str] = (), form: Mapping[str, object] | None = None
) -> str:
    """A page of a few sentences."""
    values = {"title": title, "answer": answer, "lines": lines, "form": form}
    return page("told.html.j2", values, Beside(plotly=place.plotly, served=around(place, "")))


def page(template: str, values: Mapping[str, object], around_it: Beside, plots: Sequence[Plot] = ()) -> str:
    """A page of this room, in the family of the report's."""
    return pages.rendered(engine().get_template(template), pages.Carried(plots), values, around_it)
