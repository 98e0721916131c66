"""A running server for tests, in a thread of this process, and a plain HTTP client that sends exactly what it is told."""

from __future__ import annotations

import contextlib
import http.client
import socket
import threading
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from steadyband.open.desk import Desk
from steadyband.open.entrance import HOST, Entrance
from steadyband.open.running import _listening, _server
from steadyband.open.site import Site


@dataclass(frozen=True)
class Answer:
    """An answer as it came."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()


@dataclass
class Client:
    """Sends requests to a server that runs; `cookie` and `origin` go along unless a request says otherwise."""

    site: Site
    cookie: str = ""
    sent: dict[str, str] = field(default_factory=dict)

    @property
    def at(self) -> str:
        return f"{self.site.entrance.home}1/"

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str | None) -> Answer:
        """Header names with _ for -; None leaves out one that usually goes along."""
        entrance = self.site.entrance
        usual: dict[str, str | None] = {"host": f"{HOST}:{entrance.port}", "cookie": self.cookie or None}
        if method == "POST":
            usual["origin"] = entrance.origin
        given = usual | {name.replace("_", "-"): value for name, value in headers.items()}
        connection = http.client.HTTPConnection(HOST, entrance.port, timeout=30)
        with contextlib.closing(connection):
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in given.items():
                if value is not None:
                    connection.putheader(name, value)
            if body is not None:
                connection.putheader("content-length", str(len(body)))
            connection.endheaders(body)
            found = connection.getresponse()
            return Answer(found.status, {name.lower(): value for name, value in found.getheaders()}, found.read())

    def get(self, path: str = "", **headers: str | None) -> Answer:
        return self.ask("GET", self.at + path, **headers)

    def post(self, path: str, fields: Mapping[str, str] | None = None, **headers: str | None) -> Answer:
        return self.ask("POST", self.at + path, urlencode(fields or {}).encode(), **headers)

    def drop(self, name: str, data: bytes) -> Answer:
        return self.ask("POST", self.at + "arrive", data, x_name=name)

    def enter(self) -> None:
        secret = self.site.entrance.new_secret()
        answer = self.ask("POST", "/enter", secret.encode())
        assert answer.status == 200
        self.cookie = answer.headers["set-cookie"].split(";")[0]

    def settled(self) -> None:
        """Waits until everything is read."""
        until = time.monotonic() + 60
        while b'"busy":true' in self.get("state").body:
            assert time.monotonic() < until
            time.sleep(0.05)

    def raw(self, data: bytes) -> bytes:
        """Bytes as they are over a socket, and what comes back until the end."""
        with socket.create_connection((HOST, self.site.entrance.port), timeout=10) as line:
            line.sendall(data)
            line.shutdown(socket.SHUT_WR)
            found = b""
            while piece := line.recv(65536):
                found += piece
            return found


@contextlib.contextmanager
def serving(home: Path) -> Iterator[Client]:
    """A server on an athlete folder, with a client that has come in."""
    with _listening(0) as listener:
        site = Site(Entrance(listener.getsockname()[1]), {"1": Desk(home)})
        server = _server(site)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        try:
            client = Client(site)
            client.enter()
            yield client
        finally:
            for desk in site.desks.values():
                desk.stop()
            server.should_exit = True
            thread.join(10)
