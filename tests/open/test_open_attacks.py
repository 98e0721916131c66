"""Each attack tried against the running server: what it answers, and that nothing was done.

The rules are those of RFC 9110 (Host), RFC 6454 (Origin), RFC 6265 (cookies and their Path) and the OWASP cheat sheet on
cross-site request forgery, named from memory.
"""

from __future__ import annotations

import contextlib
import http.client
import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import quote

import pytest
from serving import Client, serving

from demo_home import copy_read
from steadyband.open import entrance

SECRET_WORDS = ("Wren",)
"""Stands on every page of the demo's athlete, and nowhere else."""


@pytest.fixture(scope="module")
def client(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with serving(copy_read(read_demo, tmp_path_factory.mktemp("attacked") / "home")) as found:
        found.get()
        found.settled()
        yield found


def test_the_page_is_there_for_who_may_come_in(client: Client) -> None:
    found = client.get()
    assert found.status == 200
    assert all(word in found.text for word in SECRET_WORDS)


HOSTS = (
    "evil.example",
    "localhost:{port}",
    "127.0.0.1",
    "127.0.0.1:1",
    "[::1]:{port}",
    "127.0.0.1:{port}.evil.example",
    "",
    None,
)


@pytest.mark.parametrize("host", HOSTS)
def test_another_host_is_turned_away(client: Client, host: str | None) -> None:
    """DNS rebinding: a foreign name that resolves to this machine still names itself in Host."""
    port = client.site.entrance.port
    found = client.get(host=host.format(port=port) if host is not None else None)
    assert found.status in (400, 421)
    assert not any(word in found.text for word in SECRET_WORDS)


def test_two_hosts_are_turned_away(client: Client) -> None:
    port = client.site.entrance.port
    found = client.raw(
        f"GET {client.at} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost: evil.example\r\nCookie: {client.cookie}\r\n\r\n".encode()
    )
    assert found.split()[1] in (b"400", b"421")


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "http://127.0.0.1",
        "https://127.0.0.1:{port}",
        "http://127.0.0.1:{port}.evil.example",
        None,
    ],
)
@pytest.mark.parametrize("path", ["label", "arrive", "take-back", "stop"])
def test_another_sites_form_does_nothing(client: Client, origin: str | None, path: str) -> None:
    home = client.site.desks["1"].path
    before = sorted((place, place.stat().st_size) for place in home.rglob("*") if place.is_file())
    given = origin.format(port=client.site.entrance.port) if origin else None
    assert client.post(path, {"session": "x", "intent": "hard"}, origin=given).status == 403
    assert sorted((place, place.stat().st_size) for place in home.rglob("*") if place.is_file()) == before


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_page_elsewhere_cannot_load_one(client: Client, site: str) -> None:
    """Fetch metadata: another site, or another port of this host, as a browser says it."""
    assert client.get(sec_fetch_site=site).status == 403


@pytest.mark.parametrize(
    "cookie", [None, "steadyband=", "steadyband=wrong", "other=1", "steadyband=" + "a" * 4000, 'steadyband="\\"']
)
@pytest.mark.parametrize("path", ["", "state", "session/x", "season", "card", "../plotly.js"])
def test_without_the_cookie_nothing_is_told(client: Client, cookie: str | None, path: str) -> None:
    found = client.get(path, cookie=cookie)
    assert found.status == 403
    assert len(found.body) < 300


def test_the_cookie_without_the_path_is_not_enough(client: Client) -> None:
    for path in ("/", "/1/", "/favicon.ico", "/plotly.js", client.at.replace(client.site.entrance.run, "x" * 24)):
        assert client.ask("GET", path).status == 403


def test_the_cookie_is_for_this_run_alone(client: Client) -> None:
    secret = client.site.entrance.new_secret()
    said = client.ask("POST", "/enter", secret.encode()).headers["set-cookie"]
    assert f"Path=/{client.site.entrance.run}/" in said
    assert "HttpOnly" in said
    assert "SameSite=Strict" in said
    assert "Domain" not in said


def test_a_secret_works_once_and_a_guess_never(client: Client) -> None:
    secret = client.site.entrance.new_secret()
    assert client.ask("POST", "/enter", secret.encode()).status == 200
    for again in (secret, "", "x", secret[:-1], "x" * 201, "\u00e9\u20ac"):
        found = client.ask("POST", "/enter", again.encode())
        assert found.status in (403, 409)
        assert "set-cookie" not in found.headers


def test_a_second_start_needs_the_key(client: Client) -> None:
    key = client.site.entrance.key
    for given in (None, "", "wrong", key[:-1]):
        assert client.ask("POST", "/again", origin=None, x_steadyband_key=given).status == 403
    assert client.ask("GET", "/again", x_steadyband_key=key).status == 403
    found = client.ask("POST", "/again", origin=None, cookie=None, x_steadyband_key=key)
    assert found.status == 200
    assert found.text.startswith(f"{client.site.entrance.origin}/enter#")


LEADING_OUT = (
    "../athlete.toml",
    "%2e%2e/athlete.toml",
    "..%2fathlete.toml",
    "....//",
    "/etc/passwd",
    "%2fetc%2fpasswd",
    "..\\..\\x",
    "%00",
    "x" * 3000,
)


@pytest.mark.parametrize("name", LEADING_OUT)
@pytest.mark.parametrize("path", ["session/", "week/", "block/", "test/", ""])
def test_no_name_is_ever_a_path(client: Client, path: str, name: str) -> None:
    found = client.get(path + name)
    assert found.status in (404, 403)
    assert b"chainrings" not in found.body
    assert b"root:" not in found.body


@pytest.mark.parametrize("name", [*LEADING_OUT, "", ".", ".hidden", "CON.fit", "-rf.fit", "a\u202etif.fit"])
def test_a_hostile_name_stays_a_label(client: Client, name: str) -> None:
    home = client.site.desks["1"].path
    before = {place for place in home.rglob("*") if place.is_file()}
    point = '<trkpt lat="0" lon="{}"><time>2026-05-11T07:00:{:02d}Z</time></trkpt>'
    points = "".join(point.format(second * 0.00005, second) for second in range(3))
    data = f'<gpx version="1.1" creator="{len(before)}"><trk><trkseg>{points}</trkseg></trk></gpx>'.encode()
    found = client.drop(quote(name), data)
    assert found.status == 200
    new = {place for place in home.rglob("*") if place.is_file() and ".steadyband" not in place.parts} - before
    assert len(new) == 1
    (made,) = new
    assert made.parent == home / "activities"
    assert made.read_bytes() == data
    assert made.name.replace("-", "").replace("_", "").replace(".", "").isalnum()
    made.unlink()


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PATCH"])
def test_other_methods_are_refused(client: Client, method: str) -> None:
    assert client.ask(method, client.at).status in (400, 405)


def test_every_answer_is_closed_to_others(client: Client) -> None:
    for found in (
        client.get(),
        client.get("state"),
        client.get("nowhere"),
        client.get(cookie=None),
        client.ask("GET", "/enter", cookie=None),
    ):
        assert found.headers["x-content-type-options"] == "nosniff"
        assert found.headers["x-frame-options"] == "DENY"
        assert found.headers["cache-control"] == "no-store"
        assert found.headers["referrer-policy"] == "same-origin"
        assert found.headers["cross-origin-resource-policy"] == "same-origin"
        assert "frame-ancestors 'none'" in found.headers["content-security-policy"]
        assert "access-control-allow-origin" not in found.headers
        assert "server" not in found.headers


def test_the_policy_of_a_page_lets_it_ask_its_own_server_alone(client: Client) -> None:
    page = client.get().text
    head = page[: page.index("<title>")]
    assert head.count('http-equiv="Content-Security-Policy"') == 2
    assert "default-src &#39;none&#39;" in head
    assert "connect-src &#39;self&#39;" in head
    assert "unsafe-eval" not in head
    assert "script-src &#39;unsafe-inline&#39;" not in head


def test_a_huge_form_is_refused(client: Client) -> None:
    found = client.post("label", {"session": "x" * 100_000, "intent": "hard"})
    assert found.status == 409


def test_too_long_a_head_is_refused(client: Client) -> None:
    port = client.site.entrance.port
    long = b"GET / HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nX: %s\r\n\r\n" % (port, b"x" * 300_000)
    with contextlib.suppress(OSError):  # the line is cut off while it is still sent
        assert client.raw(long).split()[1:2] in ([b"400"], [b"431"], [b"403"])
    assert client.get("state").status == 200


def test_a_body_that_stops_coming_is_dropped(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(entrance, "WAIT_S", 0.3)
    activities = client.site.desks["1"].path / "activities"
    before = sorted(activities.rglob("*"))
    port = client.site.entrance.port
    head = f"POST {client.at}arrive HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nCookie: {client.cookie}\r\nContent-Length: 5000\r\n\r\n"
    with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
        line.sendall(head.encode() + b"x" * 10)
        said = line.recv(65536)
    assert said.split()[1] == b"408"
    assert sorted(activities.rglob("*")) == before


def test_a_file_past_its_limit_is_cut_off_and_leaves_nothing(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    from steadyband.open import arrivals

    monkeypatch.setattr(arrivals, "SIZE_MAX", 2**20)
    activities = client.site.desks["1"].path / "activities"
    before = sorted(activities.rglob("*"))
    found = client.drop("big.gpx", b"<gpx>" + b" " * 2**21)
    assert b"at most 1 MiB" in found.body
    assert sorted(activities.rglob("*")) == before


def test_no_room_is_said_before_a_byte_is_taken(client: Client) -> None:
    port = client.site.entrance.port
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.putrequest("POST", f"{client.at}arrive")
    for name, value in (
        ("Origin", client.site.entrance.origin),
        ("Cookie", client.cookie),
        ("Content-Length", str(2**60)),
    ):
        connection.putheader(name, value)
    connection.endheaders()
    found = connection.getresponse()
    assert b"room" in found.read()
    found.close()
    connection.close()


def test_fifty_at_once_are_all_answered(client: Client) -> None:
    paths = ["", "season", "state", "hills", "block"] * 10
    with ThreadPoolExecutor(50) as pool:
        found = list(pool.map(lambda path: client.get(path).status, paths))
    assert found == [200] * 50


def test_it_listens_to_this_machine_alone(client: Client) -> None:
    """127.0.0.2 is this machine too, yet another address than the one listened to."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as other:
        other.settimeout(1)
        with pytest.raises(ConnectionRefusedError):
            other.connect(("127.0.0.2", client.site.entrance.port))


def test_many_silent_connections_keep_nobody_out_for_long(client: Client) -> None:
    lines = [socket.create_connection(("127.0.0.1", client.site.entrance.port)) for _ in range(50)]
    try:
        assert client.get("state").status == 200
    finally:
        for line in lines:
            line.close()
