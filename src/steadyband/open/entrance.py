"""Who may come in: this machine's own browser, once it has shown the secret of this run; and what every answer says.

Three things must fit: the Host (so that no foreign name can be pointed here), the Origin of whatever changes something (so that
no other site's form can), and a cookie. The cookie is given once for a secret, and is sent only below a path that is made up for
each run: another program's pages on this machine share the host, and browsers would show them a cookie of the whole host.
"""

from __future__ import annotations

import asyncio
import hmac
import secrets
import sys
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any

from steadyband.ground.plain import plain

HOST = "127.0.0.1"
ENTER, AGAIN = "/enter", "/again"
COOKIE = "steadyband"
KEY_HEADER = "x-steadyband-key"
WAIT_S = 30.0
"""Longest wait for the next piece of a request's body [s] (design choice: on one machine they come at once)."""
MOST_SECRETS = 20
"""Secrets that were given out and not used yet; the oldest goes first."""
METHODS = ("GET", "HEAD", "POST")
HEADERS = (
    ("cache-control", "no-store"),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("x-frame-options", "DENY"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=()"),
)
"""Sent with every answer; a page's own policy stands in the page, and these cannot."""
NOTHING = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
FRAMES = "frame-ancestors 'none'"

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]


@dataclass(slots=True)
class Entrance:
    """The secrets of one run: `run` is the path everything lies below, `key` asks for further secrets and never leaves the disk.

    A secret lets one browser in, once.
    """

    port: int
    run: str = field(default_factory=lambda: secrets.token_urlsafe(18))
    key: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _secrets: list[str] = field(default_factory=list)

    @property
    def origin(self) -> str:
        """Scheme, host and port of this server."""
        return f"http://{HOST}:{self.port}"

    @property
    def home(self) -> str:
        """The path everything lies below."""
        return f"/{self.run}/"

    def new_secret(self) -> str:
        """A secret that lets one browser in."""
        self._secrets = [*self._secrets[1 - MOST_SECRETS :], secrets.token_urlsafe(32)]
        return self._secrets[-1]

    def way_in(self) -> str:
        """The address to open; the secret stands behind the #, which browsers keep to themselves."""
        return f"{self.origin}{ENTER}#{self.new_secret()}"

    def cookie_for(self, secret: str) -> str | None:
        """The Set-Cookie of a secret that has not been used yet, None for any other. It is used now."""
        found = [known for known in self._secrets if hmac.compare_digest(known.encode(), secret.encode())]
        if not found:
            return None
        self._secrets.remove(found[0])
        return f"{COOKIE}={self._cookie}; Path={self.home}; HttpOnly; SameSite=Strict"

    def has_key(self, given: str) -> bool:
        """True where somebody who can read this run's private file asks."""
        return hmac.compare_digest(self.key.encode(), given.encode())

    def knows(self, cookies: str) -> bool:
        """True where a Cookie header holds the cookie of this run."""
        try:
            found = SimpleCookie(cookies).get(COOKIE)
        except CookieError:
            return False
        return found is not None and hmac.compare_digest(self._cookie.encode(), found.value.encode())


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request goes no further."""

    status: int
    text: str


STALE = (
    "This page belongs to a run that has ended, or to another browser. Start `steadyband open` again: it opens a page that works. "
    "Nothing is lost."
)


def refusal(entrance: Entrance, method: str, path: str, headers: list[tuple[bytes, bytes]]) -> Refusal | None:
    """Why a request is refused; None where it may go on."""
    hosts, origins = _all(headers, b"host"), _all(headers, b"origin")
    if hosts != [f"{HOST}:{entrance.port}"]:
        return Refusal(421, "This server answers to its own address only.")
    if method not in METHODS:
        return Refusal(405, f"Expected one of {', '.join(METHODS)}.")
    if any(origin != entrance.origin for origin in origins):
        return Refusal(403, "Another site asked for this; nothing was done.")
    if path == AGAIN:
        return _asked_again(entrance, method, headers)
    if method == "POST" and not origins:
        return Refusal(403, "Expected an Origin with whatever changes something; nothing was done.")
    if path == ENTER:
        return None
    if any(site not in ("same-origin", "none") for site in _all(headers, b"sec-fetch-site")):
        return Refusal(403, "Another site asked for this; nothing was done.")
    cookies = _all(headers, b"cookie")
    if not path.startswith(entrance.home) or len(cookies) != 1 or not entrance.knows(cookies[0]):
        return Refusal(403, STALE)
    return None


def _asked_again(entrance: Entrance, method: str, headers: list[tuple[bytes, bytes]]) -> Refusal | None:
    keys = _all(headers, KEY_HEADER.encode())
    if method == "POST" and len(keys) == 1 and entrance.has_key(keys[0]):
        return None
    return Refusal(403, "Expected the key of this run.")


def _all(headers: list[tuple[bytes, bytes]], name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in headers if key == name]


class Guard:
    """Every request goes through here before anything of it is read."""

    def __init__(self, app: App, entrance: Entrance) -> None:
        self.app, self.entrance = app, entrance

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuses, or hands on with a bound on waiting and the headers every answer has."""
        if scope["type"] != "http":
            return
        found = refusal(self.entrance, scope["method"], scope["path"], scope["headers"])
        if found is not None:
            await _answer(send, found)
            return
        begun = False

        async def sent(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                message = {**message, "headers": _with_own(message.get("headers", []))}
            await send(message)

        async def received() -> Message:
            return await asyncio.wait_for(receive(), WAIT_S)

        try:
            await self.app(scope, received, sent)
        except TimeoutError:
            if not begun:
                await _answer(send, Refusal(408, f"Nothing more came for {WAIT_S:.0f} s; what had come was dropped."))
        except Exception as fault:  # noqa: BLE001 (it was answered; the run goes on, in a line instead of a traceback)
            print(f"{scope['method']} {type(fault).__name__}: {plain(str(fault))}", file=sys.stderr)  # noqa: T201


def _with_own(headers: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    there = {name.lower() for name, _ in headers}
    page = any(name.lower() == b"content-type" and value.startswith(b"text/html") for name, value in headers)
    own = (*HEADERS, ("content-security-policy", FRAMES if page else NOTHING))
    return [*headers, *((name.encode(), value.encode()) for name, value in own if name.encode() not in there)]


async def _answer(send: Send, found: Refusal) -> None:
    body = f"{found.text}\n".encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": found.status, "headers": _with_own(headers)})
    await send({"type": "http.response.body", "body": body})
