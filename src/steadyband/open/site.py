"""The addresses and what answers them: thin, everything is done by the desk, the shelf and the page rooms."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, unquote

from steadyband.athlete.athlete import NAME
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.season import Season
from steadyband.audit.model import INTENTS
from steadyband.ground.errors import AthleteFileError, RecordingError, SteadybandError, UsageError
from steadyband.ground.locking import HeldError
from steadyband.open import owner, planning, views
from steadyband.open.arrivals import Arrived, Incoming, Shelf
from steadyband.open.desk import Desk
from steadyband.open.entrance import AGAIN, ENTER, Entrance, Guard
from steadyband.open.missing import MissingError
from steadyband.open.starting import Start
from steadyband.open.views import Place
from steadyband.review.roster_folders import Home

if TYPE_CHECKING:
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import Response

Draw = Callable[[Place, Desk, AthleteFolder, Season, str], str]
DRAWN: tuple[tuple[str, str, Draw], ...] = (
    ("week/{what}", "week", views.week_view),
    ("block", "block", views.block_view),
    ("block/{what}", "block", views.block_view),
    ("season", "season", views.season_view),
    ("session/{what}", "session", views.session_view),
    ("hills", "hills", views.hills_view),
    ("tests", "tests", views.tests_view),
    ("test/{what}", "test", views.step_test_view),
)
"""Pages that are drawn from what was read: the address, its name among the pages kept, and what draws it."""
FORM_MAX = 64 * 2**10
"""Longest form [bytes]."""
FIRST_WAIT_S = 2.0
"""How long the first page waits for the reading before it shows a bar instead."""
DRAINED_MAX = 64 * 2**20
"""Bytes that are taken and dropped once a file is found too large."""
FILES_AT_ONCE = 4
"""Files that come in at a time; more wait."""


@dataclass(slots=True)
class Site:
    """Everything one run serves: the athlete folders that are open, by number, and how to end it."""

    entrance: Entrance
    desks: dict[str, Desk] = field(default_factory=dict)
    starts: tuple[Start, ...] = ()
    close: Callable[[], None] = lambda: None
    take: Callable[[Path], Desk] = Desk
    homes: dict[str, Home] = field(default_factory=dict)
    _opening: threading.Lock = field(default_factory=threading.Lock)

    def place(self, who: str) -> Place:
        """Where an athlete's pages lie."""
        name = self.homes[who].name if who in self.homes else ""
        return Place(self.entrance.home, f"{self.entrance.home}{who}/", name, bool(self.homes))

    def desk(self, who: str) -> Desk:
        """An athlete's desk; of several athletes each is opened when it is first looked at.

        Raises MissingError where there is none of that number, SteadybandError where the folder cannot be used.
        """
        with self._opening:
            if who not in self.desks:
                if who not in self.homes:
                    raise MissingError(who)
                self.desks[who] = self.opened(self.homes[who])
            return self.desks[who]

    def opened(self, home: Home) -> Desk:
        """The desk of an athlete folder that is now held. Raises SteadybandError where it cannot be used."""
        if home.fault:
            raise AthleteFileError(home.fault)
        try:
            return self.take(home.path)
        except HeldError as busy:
            raise UsageError(
                f"{home.path} is open in another run ({busy.holder}).", hint="Use that one, or end it."
            ) from busy

    @property
    def nowhere(self) -> Place:
        """The run's own pages, outside any athlete's."""
        return Place(self.entrance.home, "")


def application(site: Site) -> Guard:
    """The whole site behind its guard."""
    return Guard(_routes(site), site.entrance)


def _routes(site: Site) -> Starlette:
    from starlette.applications import Starlette
    from starlette.concurrency import run_in_threadpool
    from starlette.requests import ClientDisconnect
    from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
    from starlette.routing import Route

    at_once = asyncio.Semaphore(FILES_AT_ONCE)

    def desk_of(request: Request) -> tuple[Place, Desk]:
        who = request.path_params["who"]
        return site.place(who), site.desk(who)

    def enter(request: Request) -> Response:
        return HTMLResponse(_enter_page())

    async def entered(request: Request) -> Response:
        secret = (await _body(request, 200)).decode("ascii", "replace")
        cookie = site.entrance.cookie_for(secret)
        if cookie is None:
            return PlainTextResponse("This address was used already. Start `steadyband open` again.", 403)
        return PlainTextResponse(site.entrance.home, headers={"set-cookie": cookie})

    def again(request: Request) -> Response:
        return PlainTextResponse(site.entrance.way_in())

    def first(request: Request) -> Response:
        if site.homes:
            return HTMLResponse(views.athletes_view(site.nowhere, site.homes))
        if site.desks:
            return RedirectResponse(site.place(next(iter(site.desks))).at, 303)
        return HTMLResponse(views.start_view(site.nowhere, site.starts))

    async def begin(request: Request) -> Response:
        given = await _form(request)
        starts = {str(number): start for number, start in enumerate(site.starts, 1)}
        start = starts.get(given.get("choice", ""))
        if start is None or site.desks:
            raise MissingError("choice")
        home = await run_in_threadpool(start.make, given.get("zone", ""))
        site.desks["1"] = await run_in_threadpool(site.opened, Home(home, ""))
        return RedirectResponse(site.place("1").at, 303)

    def home(request: Request) -> Response:
        place, desk = desk_of(request)
        desk.look(FIRST_WAIT_S)
        if desk.season is None or not desk.season.sessions:
            return HTMLResponse(views.empty_view(place, desk, views.panel_of(desk, date.today())))
        return HTMLResponse(views.home_view(place, desk, date.today()))

    def drawn(name: str, draw: Draw) -> Callable[[Request], Response]:
        def answer(request: Request) -> Response:
            place, desk = desk_of(request)
            desk.look(FIRST_WAIT_S)
            what = request.path_params.get("what", "")
            key = f"{name} {what}"
            return HTMLResponse(desk.page(key, lambda folder, season: draw(place, desk, folder, season, what)))

        return answer

    def label_page(request: Request) -> Response:
        place, desk = desk_of(request)
        desk.look(FIRST_WAIT_S)
        if desk.season is None:
            return RedirectResponse(place.at, 303)
        return HTMLResponse(views.label_view(place, desk))

    async def label(request: Request) -> Response:
        place, desk = desk_of(request)
        given = await _form(request)
        if given.get("intent") not in INTENTS:
            raise MissingError("intent")
        if not await run_in_threadpool(desk.label, given.get("session", ""), given["intent"]):
            raise MissingError("session")
        return RedirectResponse(place.at + ("label" if given.get("back") == "label" else ""), 303)

    def take_back(request: Request) -> Response:
        place, desk = desk_of(request)
        desk.take_back()
        return RedirectResponse(place.at, 303)

    def state(request: Request) -> Response:
        _, desk = desk_of(request)
        desk.look()
        reading = desk.reading
        ended = bool(reading.stopped or reading.fault)
        said = {
            "busy": reading.busy,
            "done": reading.done,
            "total": reading.total,
            "version": desk.version,
            "ended": ended,
        }
        return JSONResponse(said)

    def stop(request: Request) -> Response:
        place, desk = desk_of(request)
        desk.stop()
        return RedirectResponse(place.at, 303)

    def go_on(request: Request) -> Response:
        place, desk = desk_of(request)
        desk.go_on()
        return RedirectResponse(place.at, 303)

    async def arrive(request: Request) -> Response:
        _, desk = desk_of(request)
        shelf = await run_in_threadpool(desk.shelf)
        name = unquote(request.headers.get("x-name", ""))[:300]
        length = request.headers.get("content-length", "")
        try:
            async with at_once:
                with shelf.incoming(name, int(length) if length.isdecimal() else None) as item:
                    arrived = await _taken(request, shelf, item)
        except ClientDisconnect:
            return Response(status_code=400)
        except TimeoutError:
            raise
        except SteadybandError as fault:
            arrived = Arrived("refused", f"{fault.message} {fault.hint}")
        except OSError as fault:
            arrived = Arrived("refused", f"it could not be kept: {fault.strerror or fault}.")
        return JSONResponse({"kind": arrived.kind, "text": arrived.text})

    async def _taken(request: Request, shelf: Shelf, item: Incoming) -> Arrived:
        too_large, rest = "", DRAINED_MAX
        async for piece in request.stream():
            if too_large:
                rest -= len(piece)  # a browser shows the answer only once what it sends is taken
                if rest < 0:
                    break
                continue
            try:
                item.write(piece)
            except RecordingError as fault:
                too_large = f"{fault.message} {fault.hint}"
        return Arrived("refused", too_large) if too_large else await run_in_threadpool(shelf.keep, item)

    def plotly(request: Request) -> Response:
        from steadyband.report.common.assets import plotly_script

        kept = {"cache-control": "private, max-age=86400, immutable"}
        return Response(plotly_script(), media_type="text/javascript", headers=kept)

    def test_new(request: Request) -> Response:
        place, desk = desk_of(request)
        desk.look(FIRST_WAIT_S)
        return HTMLResponse(views.planning_view(place, desk))

    async def test_begin(request: Request) -> Response:
        place, desk = desk_of(request)
        given = await _form(request)
        try:
            return await run_in_threadpool(_begun, place, desk, given)
        except SteadybandError as fault:
            known = views.Given(*(given.get(name, "") for name in ("sport", "mass", "steady", "last")))
            text = f"{fault.message} {fault.hint}".replace("--steady", "a rough steady load")
            return HTMLResponse(await run_in_threadpool(views.planning_view, place, desk, known, text), 409)

    def _begun(place: Place, desk: Desk, given: dict[str, str]) -> Response:
        tests = desk.home.zone_sets if desk.home else ()
        settings, today = desk.athlete().settings.steptest, date.today()
        if given.get("how") == "sheet":
            return HTMLResponse(views.sheet_view(planning.plan_of(given, tests, settings)))
        preset = planning.answers(given, tests, settings, today)
        name = desk.taking().begin(today, preset["sport"], preset)
        return RedirectResponse(f"{place.at}taking/{name}", 303)

    async def mend(request: Request) -> Response:
        place, desk = desk_of(request)
        name = (await _form(request)).get("name", "")
        return RedirectResponse(f"{place.at}taking/{await run_in_threadpool(desk.taking().mend, name)}", 303)

    def taking(request: Request) -> Response:
        place, desk = desk_of(request)
        name = request.path_params["what"]
        desk.taking().state(name)
        return HTMLResponse(views.taking_view(place, desk, name))

    def entry_state(request: Request) -> Response:
        _, desk = desk_of(request)
        return JSONResponse(desk.taking().state(request.path_params["what"]))

    async def entry(request: Request) -> Response:
        _, desk = desk_of(request)
        line = (await _form(request)).get("line", "")
        try:
            return JSONResponse(await run_in_threadpool(desk.taking().take, request.path_params["what"], line))
        except SteadybandError as fault:
            return JSONResponse({"fault": f"{fault.message} {fault.hint}"})
        except OSError as fault:
            return JSONResponse({"fault": f"It could not be written ({fault.strerror or fault}); the draft is kept."})

    def athlete(request: Request) -> Response:
        place, desk = desk_of(request)
        return HTMLResponse(views.owner_view(place, desk))

    async def athlete_saved(request: Request) -> Response:
        place, desk = desk_of(request)
        given = await _form(request)
        try:
            count = await run_in_threadpool(owner.save, desk.path / NAME, given)
        except SteadybandError as fault:
            where = f"{fault.place}: " if fault.place else ""
            text = f"{where}{fault.message} {fault.hint} Nothing was written."
            return HTMLResponse(views.owner_view(place, desk, given, fault=text), 409)
        return HTMLResponse(views.owner_view(place, desk, done="Saved." if count else "Nothing was changed."))

    async def note(request: Request) -> Response:
        place, desk = desk_of(request)
        given = await _form(request)
        session, week, text = (given.get(name, "") for name in ("session", "week", "text"))
        add, name = (desk.note, session) if session else (desk.note_week, week)
        if not await run_in_threadpool(add, name, text):
            raise MissingError(name)
        return RedirectResponse(place.at + (f"session/{session}" if session else f"week/{week}"), 303)

    def card(request: Request) -> Response:
        _, desk = desk_of(request)
        desk.look(FIRST_WAIT_S)
        return HTMLResponse(desk.page("card", lambda folder, _: views.card_view(folder, date.today())))

    def close(request: Request) -> Response:
        site.close()
        lines = ("Everything is kept. You can close this window too.",)
        return HTMLResponse(views.told_view(site.nowhere, "Closed", "steadyband is closed.", lines))

    def missing(request: Request, fault: Exception) -> Response:
        page = views.told_view(site.nowhere, "Not there", "There is no such page.", ("It may have gone since.",))
        return HTMLResponse(page, 404)

    def refused(request: Request, fault: Exception) -> Response:
        page = views.told_view(site.nowhere, "Not done", "This could not be done.", (str(fault),))
        return HTMLResponse(page, 409)

    def late(request: Request, fault: Exception) -> Response:
        return PlainTextResponse("Nothing more came; what had come was dropped.", 408, headers={"connection": "close"})

    def broken(request: Request, fault: Exception) -> Response:
        lines = (
            f"{type(fault).__name__}: {fault}",
            "Everything on the disk is as it was. Please tell the developers what you did.",
        )
        return HTMLResponse(views.told_view(site.nowhere, "A fault", "A fault nobody thought of.", lines), 500)

    who = f"{site.entrance.home}{{who}}/"
    routes = [
        Route(ENTER, enter),
        Route(ENTER, entered, methods=["POST"]),
        Route(AGAIN, again, methods=["POST"]),
        Route(site.entrance.home, first),
        Route(f"{site.entrance.home}begin", begin, methods=["POST"]),
        Route(f"{site.entrance.home}plotly.js", plotly),
        Route(f"{site.entrance.home}close", close, methods=["POST"]),
        Route(who, home),
        Route(f"{who}state", state),
        Route(f"{who}label", label_page),
        Route(f"{who}label", label, methods=["POST"]),
        Route(f"{who}take-back", take_back, methods=["POST"]),
        Route(f"{who}stop", stop, methods=["POST"]),
        Route(f"{who}go-on", go_on, methods=["POST"]),
        Route(f"{who}arrive", arrive, methods=["POST"]),
        Route(f"{who}card", card),
        Route(f"{who}athlete", athlete),
        Route(f"{who}athlete", athlete_saved, methods=["POST"]),
        Route(f"{who}note", note, methods=["POST"]),
        Route(f"{who}test-new", test_new),
        Route(f"{who}test-begin", test_begin, methods=["POST"]),
        Route(f"{who}mend", mend, methods=["POST"]),
        Route(f"{who}taking/{{what}}", taking),
        Route(f"{who}entry/{{what}}", entry_state),
        Route(f"{who}entry/{{what}}", entry, methods=["POST"]),
        *(Route(f"{who}{path}", drawn(name, draw)) for path, name, draw in DRAWN),
    ]
    handlers = {
        MissingError: missing,
        404: missing,
        TimeoutError: late,
        SteadybandError: refused,
        OSError: refused,
        Exception: broken,
    }
    made = Starlette(routes=routes, exception_handlers=handlers)
    made.router.redirect_slashes = False
    return made


async def _body(request: Request, most: int) -> bytes:
    """All of a short body. Raises SteadybandError past `most` bytes."""
    body = b""
    async for piece in request.stream():
        body += piece
        if len(body) > most:
            raise UsageError(f"expected at most {most:,} bytes, found more.")
    return body


async def _form(request: Request) -> dict[str, str]:
    """The fields of a form."""
    text = (await _body(request, FORM_MAX)).decode("utf-8", "replace")
    return dict(parse_qsl(text, keep_blank_values=True, max_num_fields=200))


def _enter_page() -> str:
    """The page that hands the secret over: nothing of the athlete stands in it."""
    from markupsafe import Markup

    from steadyband.report.common.assets import SERVED, digest

    script = views.carried_text("enter.js")
    policy = SERVED.format(scripts=f"script-src 'sha256-{digest(script)}'")
    return views.engine().get_template("enter.html.j2").render(policy=policy, script=Markup(script))
