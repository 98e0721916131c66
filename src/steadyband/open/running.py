"""One server for a folder: started once, found again by a second start, ended by Ctrl-C or from the page."""

from __future__ import annotations

import contextlib
import errno
import http.client
import json
import os
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyband.athlete.athlete import NAME, read_athlete
from steadyband.ground.errors import SteadybandError, UsageError
from steadyband.ground.locking import HeldError, held
from steadyband.ground.writing import make_private_folder, replace_whole, write_text_atomically
from steadyband.open.arrivals import remove_leftovers
from steadyband.open.desk import Desk
from steadyband.open.entrance import AGAIN, HOST, KEY_HEADER, Entrance
from steadyband.open.site import Site, application
from steadyband.open.starting import Start, starts_anywhere, starts_at
from steadyband.review.roster_folders import Home, find_homes

if TYPE_CHECKING:
    import uvicorn

RUN_FILE = "open.json"
"""In .steadyband/: the port of the run that has the folder open, and the key by which a second start asks it for a way in."""
DOOR = "open-steadyband.html"
"""In the reports folder, for its owner alone, until the browser has come in: leads it there without the secret in any command line."""
CONNECTIONS_MAX = 200
ENDING_S = 3
ANSWER_S = 5.0


@dataclass(frozen=True, slots=True)
class Wish:
    """What was asked for on the command line: a port (0: any free one), and whether a browser is to be opened."""

    port: int = 0
    browser: bool = True


@dataclass(slots=True)
class Run:
    """One run of the server: the folders it holds, and where its door lies."""

    wish: Wish
    say: Callable[[str], None]
    kept: contextlib.ExitStack
    site: Site
    doors: Path | None = None

    def take(self, home: Path) -> Desk:
        """Holds an athlete folder until the end of the run. Raises HeldError where another run has it, and as `_usable`."""
        with _usable(home):
            athlete = read_athlete(home / NAME)
            make_private_folder(home / ".steadyband")
            record = home / ".steadyband" / RUN_FILE
            self.kept.enter_context(held(record))
            self.kept.callback(record.unlink, missing_ok=True)
            remove_leftovers(athlete.activities)
            entrance = self.site.entrance
            replace_whole(record, json.dumps({"port": entrance.port, "key": entrance.key}).encode())
        self.doors = self.doors or athlete.reports
        desk = Desk(home)
        self.kept.callback(desk.wait, ENDING_S)
        self.kept.callback(desk.close)
        desk.look()
        return desk

    def serve(self, server: uvicorn.Server, listener: socket.socket) -> None:
        """Opens the browser and serves until it is closed."""
        _show(self.site.entrance.way_in(), self.doors, self.wish, self.say)
        self.say("Ctrl-C, or Close on the page, ends it.")
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGTERM, _as_stopped)
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[listener])


def open_in_browser(folder: Path | None, wish: Wish, say: Callable[[str], None]) -> None:
    """Serves an athlete folder, or each of a coach's, until it is closed; where it is open already, opens the browser on that run.

    Without a folder it is the one at hand, where this is an athlete folder; else the first page asks where to keep one.
    Raises SteadybandError where the folder or the port cannot be used.
    """
    home = Path() if folder is None else folder
    known = (home / NAME).is_file()
    homes = () if known or folder is None else _athletes(folder)
    starts = () if known or homes else _starts(folder)
    with contextlib.ExitStack() as kept, _listening(wish.port) as listener:
        numbered = {str(number): one for number, one in enumerate(homes, 1)}
        site = Site(Entrance(listener.getsockname()[1]), starts=starts, homes=numbered)
        server = _server(site)
        run = Run(wish, say, kept, site)
        site.close, site.take = lambda: _end(server), run.take
        kept.callback(lambda: _close_door(run.doors))
        try:
            if known:
                site.desks["1"] = run.take(home)
        except HeldError:
            _show(_way_into(home), read_athlete(home / NAME).reports, wish, say)
            say("It was open already; that run goes on.")
            return
        run.serve(server, listener)
    say("Closed.")


def _as_stopped(*_: object) -> None:
    raise KeyboardInterrupt


def _starts(folder: Path | None) -> tuple[Start, ...]:
    return starts_anywhere(Path.home(), Path()) if folder is None else starts_at(folder.absolute())


def _athletes(folder: Path) -> tuple[Home, ...]:
    """The athlete folders below a folder that is none itself; none where there are none."""
    try:
        return find_homes(folder).homes
    except UsageError:
        return ()


@contextlib.contextmanager
def _usable(home: Path) -> Iterator[None]:
    try:
        yield
    except HeldError:
        raise
    except OSError as fault:
        raise SteadybandError(
            f"expected to write into this folder, but the system said: {fault.strerror or fault}.",
            file=str(home),
            hint="Choose a folder that you may write to.",
        ) from fault


def _close_door(reports: Path | None) -> None:
    if reports is not None:
        with contextlib.suppress(OSError):
            (reports / DOOR).unlink()


def _server(site: Site) -> uvicorn.Server:
    import uvicorn

    config = uvicorn.Config(
        application(site),
        lifespan="off",
        http="h11",
        ws="none",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=CONNECTIONS_MAX,
        timeout_keep_alive=15,
        timeout_graceful_shutdown=ENDING_S,
    )
    return uvicorn.Server(config)


def _end(server: uvicorn.Server) -> None:
    server.should_exit = True


@contextlib.contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # on Windows this option would let another program share the port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, port))
            listener.listen(CONNECTIONS_MAX)  # who comes before the server is up waits
        except OSError as fault:
            taken = fault.errno == errno.EADDRINUSE
            raise UsageError(
                f"expected a free port, found {port} {'taken' if taken else f'refused ({fault.strerror})'}.",
                hint="Name another with --port, or leave it out.",
            ) from fault
        yield listener
    finally:
        listener.close()


def _way_into(home: Path) -> str:
    """The address of a run that has the folder open, asked of it by the key in its private file."""
    try:
        record: dict[str, Any] = json.loads((home / ".steadyband" / RUN_FILE).read_text(encoding="utf-8"))
        asked = http.client.HTTPConnection(HOST, int(record["port"]), timeout=ANSWER_S)
        with contextlib.closing(asked):
            asked.request("POST", AGAIN, headers={KEY_HEADER: str(record["key"])})
            answer = asked.getresponse()
            text = answer.read(500).decode("ascii", "replace")
    except (OSError, ValueError, KeyError, http.client.HTTPException) as fault:
        raise SteadybandError(
            "this folder is open in another run, which does not answer.",
            file=str(home),
            hint="End that one (Ctrl-C in its window), then start again.",
        ) from fault
    if answer.status != 200:
        raise SteadybandError("this folder is open in another run, which gives no way in.", file=str(home))
    return text


def _show(address: str, reports: Path | None, wish: Wish, say: Callable[[str], None]) -> None:
    """Opens the browser, or says where to go."""
    if wish.browser and _has_screen():
        if reports is not None:
            write_text_atomically(reports / DOOR, _door(address))
        if webbrowser.open(address if reports is None else (reports / DOOR).as_uri()):
            say("steadyband opens in your browser.")
            return
    say(f"Open this in a browser on this computer; it works once:\n{address}")


def _has_screen() -> bool:
    """False where a browser would be one of text in this terminal."""
    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _door(address: str) -> str:
    where = escape(address, quote=True)
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><meta name="referrer" content="no-referrer">'
        f'<meta http-equiv="refresh" content="0;url={where}"><title>steadyband</title><p><a href="{where}">steadyband</a></p></html>\n'
    )
