"""One run a folder: a second start opens the first, Ctrl-C and a plain kill end it well, a taken port is said."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
from pathlib import Path

import pytest

from console import PLAIN, command, run
from demo_home import copy_read
from steadyband.open.running import _door
from steadyband.open.starting import starts_anywhere, starts_at


def test_a_taken_port_is_said(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        done = run("open", tmp_path / "new", "--no-browser", "--port", other.getsockname()[1])
    assert done.returncode == 2
    assert "taken" in done.stderr
    assert not (tmp_path / "new").exists()


def test_the_door_holds_no_markup_of_its_own_making() -> None:
    assert "url=http://127.0.0.1:1/enter#a&quot;&gt;&lt;b" in _door('http://127.0.0.1:1/enter#a"><b')


def test_places_to_begin_are_offered_known_ones_first(tmp_path: Path) -> None:
    (tmp_path / "Documents" / "steadyband").mkdir(parents=True)
    (tmp_path / "Documents" / "steadyband" / "athlete.toml").touch()
    (tmp_path / "here" / "steadyband").mkdir(parents=True)
    told = [start.words for start in starts_anywhere(tmp_path, tmp_path / "here")]
    assert told[0] == f"Open {tmp_path / 'Documents' / 'steadyband'}"
    assert told[1:] == [f"Keep it in {tmp_path / 'steadyband'}", "Look at an invented athlete first"]


def test_a_place_is_made_with_the_browsers_time_zone_or_without(tmp_path: Path) -> None:
    (new, _) = starts_at(tmp_path / "one")
    assert 'time_zone = "Europe/Lisbon"' in (new.make("Europe/Lisbon") / "athlete.toml").read_text(encoding="utf-8")
    (new, demo) = starts_at(tmp_path / "two")
    assert (new.make("../../etc") / "athlete.toml").is_file()
    assert demo.make("") == demo.make("") == tmp_path / "steadyband-demo"


@pytest.mark.kill
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_a_second_start_opens_the_first_and_both_end_well(read_demo: Path, tmp_path: Path, how: signal.Signals) -> None:
    home = copy_read(read_demo, tmp_path / "home")
    start = command("open", home, "--no-browser")
    first = subprocess.Popen(start, stdout=subprocess.PIPE, text=True, env=os.environ | PLAIN)
    assert first.stdout is not None
    address = first.stdout.readline() + first.stdout.readline()
    again = subprocess.run(start, capture_output=True, text=True, env=os.environ | PLAIN, check=True)
    assert "It was open already" in again.stdout
    assert again.stdout.split("/enter#")[0].splitlines()[-1] == address.split("/enter#")[0].splitlines()[-1]
    assert again.stdout.split("/enter#")[1].split()[0] not in address
    record = home / ".steadyband" / "open.json"
    assert record.stat().st_mode & 0o777 == 0o600
    assert json.loads(record.read_text())["port"] == int(address.split("127.0.0.1:")[1].split("/")[0])
    first.send_signal(how)
    assert "Closed." in first.stdout.read()
    assert first.wait(20) == 0
    first.stdout.close()
    assert not record.exists()
    assert not list((home / ".steadyband").glob("*.lock"))


@pytest.mark.kill
def test_after_a_kill_the_next_start_takes_over(read_demo: Path, tmp_path: Path) -> None:
    home = copy_read(read_demo, tmp_path / "home")
    left = home / "activities" / ".steadyband-x.tmp"
    left.write_bytes(b"half a recording")
    for _ in range(2):
        process = subprocess.Popen(
            command("open", home, "--no-browser"), stdout=subprocess.PIPE, text=True, env=os.environ | PLAIN
        )
        assert process.stdout is not None
        assert "works once" in process.stdout.readline()
        assert not left.exists()
        process.kill()
        process.wait()
        process.stdout.close()
