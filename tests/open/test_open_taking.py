"""A step test in the browser: the dialogue of `enter-test`, each entry on the disk before its answer, whatever ends the server."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from serving import Client, serving

from console import PLAIN, command, run
from demo_home import copy_read
from steadyband.open.desk import Desk
from steadyband.open.entrance import Entrance
from steadyband.open.site import Site

FORM = {"sport": "cycling", "mass": "58", "steady": "150", "last": "", "how": "paper"}
ANSWERS = ("2026-11-20", "fed", "", "")
STEPS = (
    "next; 1.1 at 6; 1.0 at 10; 118",
    "next; 1.0 at 6; 1.1 at 10; 125",
    "next; 1.2 at 6; 1.1 at 10; 133",
    "next; 1.2 at 6; 1.3 at 10; 141",
)
LAST = ("next; 1.6 at 6; 1.7 at 10; 150", "next; 2.4 at 6; 2.6 at 10; 160")


@pytest.fixture
def client(read_demo: Path, tmp_path: Path) -> Iterator[Client]:
    with serving(copy_read(read_demo, tmp_path / "home")) as found:
        found.get()
        found.settled()
        yield found
        found.site.desks["1"].close()


def begin(client: Client, **changed: str) -> str:
    answer = client.post("test-begin", FORM | changed)
    assert answer.status == 303, answer.text
    return answer.headers["location"].rsplit("/", 1)[1]


def say(client: Client, name: str, *lines: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for line in (part.strip() for text in lines for part in text.split(";")):
        found = json.loads(client.post(f"entry/{name}", {"line": line}).body)
        assert "fault" not in found, found
    return found


def journal(client: Client, name: str) -> list[dict[str, Any]]:
    place = client.site.desks["1"].path / "tests" / f"{name}.draft"
    return [json.loads(line) for line in place.read_text(encoding="utf-8").splitlines()]


def test_every_entry_is_on_the_disk_before_its_answer(client: Client) -> None:
    name = begin(client)
    say(client, name, *ANSWERS, "1.1")
    assert journal(client, name)[-1]["data"] == {"lactate": 1.1}
    found = say(client, name, STEPS[0])
    assert [entry["kind"] for entry in journal(client, name)[-4:]] == ["step", "sample", "sample", "hr"]
    assert found["rows"][-1] == ["1", "90 W", "1.1 (6:00), 1.0 (10:00)", "118"]


def test_the_curve_and_its_edges_grow(client: Client) -> None:
    name = begin(client)
    found = say(client, name, *ANSWERS, "1.1", *STEPS)
    assert found["curve"].count("<circle") == 8
    assert "above 135 W" in found["edges"][0]
    found = say(client, name, LAST[0])
    assert found["curve"].count("<circle") == 10
    assert re.search(r"floor \d+ W \(\d+ W to \d+ W\)", found["edges"][0])


def test_what_cannot_be_right_is_said_and_not_taken(client: Client) -> None:
    name = begin(client)
    say(client, name, *ANSWERS, "1.1", STEPS[0])
    before = journal(client, name)
    found = say(client, name, "250")
    assert found["remarks"][0]["tone"] == "warn"
    assert journal(client, name) == before


def test_two_tabs_and_a_fresh_page_see_the_same(client: Client) -> None:
    name = begin(client)
    say(client, name, *ANSWERS, "1.1", STEPS[0])
    assert client.get(f"taking/{name}").status == 200
    assert json.loads(client.get(f"entry/{name}").body)["rows"] == say(client, name, "show")["rows"]


def test_it_is_finished_judged_and_mended_with_its_history(client: Client) -> None:
    name = begin(client)
    found = say(client, name, *ANSWERS, "1.1", *STEPS, *LAST, "finish")
    assert found["finished"]
    place = client.site.desks["1"].path / "tests" / name
    done = run("zones", place)
    assert done.returncode == 0
    assert "ceiling" in done.stdout
    client.get("state")
    client.settled()
    assert "20 November 2026" in client.get("tests").text
    before = place.read_bytes()
    assert client.post("mend", {"name": name}).status == 303
    assert say(client, name, "121 step 1", "finish")["finished"]
    assert place.with_name(f"{name}.before").read_bytes() == before
    assert b"hr_max = 121" in place.read_bytes()


def test_the_terminal_goes_on_where_the_browser_left(client: Client) -> None:
    name = begin(client)
    say(client, name, *ANSWERS, "1.1", *STEPS)
    place = client.site.desks["1"].path / "tests" / name
    busy = run("enter-test", place, "--afterwards", typed="show\n")
    assert busy.returncode == 2
    assert "another window" in busy.stderr
    assert say(client, name, "quit")["left"]
    lines = "\n".join(part.strip() for text in (*LAST, "finish") for part in text.split(";"))
    done = run("enter-test", place, "--afterwards", typed=f"{lines}\n")
    assert done.returncode == 0, done.stderr
    assert place.is_file()


def test_the_sheet_is_the_one_of_plan_test(client: Client, tmp_path: Path) -> None:
    run("plan-test", "--sport", "bike", "--mass", "58", "--steady", "150", "--out", tmp_path / "plan.html")
    found = client.post("test-begin", FORM | {"how": "sheet"})
    assert found.text == (tmp_path / "plan.html").read_text(encoding="utf-8")
    assert list((client.site.desks["1"].path / "tests").glob("*.draft")) == []


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"mass": "580"}, "25 to 250"),
        ({"steady": "fast"}, "expected a load"),
        ({"sport": "chess"}, "by bike or by foot"),
        ({"mass": ""}, "body mass"),
    ],
)
def test_a_plan_that_cannot_be_made_is_said_on_the_form(client: Client, changed: dict[str, str], words: str) -> None:
    found = client.post("test-begin", FORM | changed)
    assert found.status == 409
    assert words in found.text
    assert list((client.site.desks["1"].path / "tests").glob("*.draft")) == []


@pytest.mark.parametrize("name", ["nowhere.toml", "../athlete.toml", "..%2fathlete.toml", "%2e%2e%2fsessions.csv"])
def test_a_test_is_looked_up_never_opened_by_path(client: Client, name: str) -> None:
    for path in ("taking/", "entry/"):
        assert client.get(path + name).status == 404
    assert client.post("mend", {"name": name}).status == 404
    assert client.post("mend", {"name": "../athlete.toml"}).status == 404


@pytest.mark.kill
def test_a_killed_server_costs_no_entry(read_demo: Path, tmp_path: Path) -> None:
    """kill -9 in the middle of a live test, three times; every entry that was answered is there afterwards."""
    home = copy_read(read_demo, tmp_path / "home")
    lines = ["", "", "", "1.1", *(part.strip() for text in STEPS for part in text.split(";"))]
    name, said = "", 0
    for until in (6, 13, len(lines)):
        process = subprocess.Popen(
            command("open", home, "--no-browser"), stdout=subprocess.PIPE, text=True, env=os.environ | PLAIN
        )
        try:
            client = come_in(process)
            if not name:
                name = begin(client, how="live")
            for line in lines[said:until]:
                say(client, name, line)
            said = until
        finally:
            process.send_signal(signal.SIGKILL)
            process.wait()
            assert process.stdout is not None
            process.stdout.close()
        kinds = [json.loads(line)["kind"] for line in (home / "tests" / f"{name}.draft").read_text().splitlines()]
        assert len([kind for kind in kinds if kind in ("baseline", "step", "sample", "hr")]) == until - 3
    assert run("enter-test", home / "tests" / name, typed="").stdout.count("(10:00)") == 4


def come_in(process: subprocess.Popen[str]) -> Client:
    assert process.stdout is not None
    while not (line := process.stdout.readline()).startswith("http"):
        assert line, "it ended"
    address, secret = line.strip().split("/enter#")
    entrance = Entrance(int(address.rsplit(":", 1)[1]))
    client = Client(Site(entrance, {"1": Desk(Path())}))
    until = time.monotonic() + 30
    while True:
        try:
            answer = client.ask("POST", "/enter", secret.encode())
            break
        except OSError:
            assert time.monotonic() < until
            time.sleep(0.1)
    client.cookie = answer.headers["set-cookie"].split(";")[0]
    entrance.run = answer.text.strip("/")
    return client
