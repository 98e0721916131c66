"""The commands around a step test as a user meets them: sheets, the dialogue (piped, killed, in a terminal), cards, meters."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import fitdecode
import numpy as np
import pytest

import console
from conftest import ROOT
from console import PLAIN, command
from steadyband.steptest import load_test, make_zones
from steadyband.steptest.dialogue.plan import PlanRequest, plan_test

sys.path.insert(0, str(ROOT / "tests" / "steptest"))
from field_data import BIKE, write_test

ENVIRONMENT = os.environ | PLAIN
COMMANDS = ("plan-test", "enter-test", "card", "compare-meters", "tests", "test-page")
ANSWERS = ["2026-05-01", "bike", "", "74", "", "120", "", "", ""]
STEPS = [
    line
    for value, hr in [("1.0", 104), ("1.1", 110), ("1,2", 115), ("1.6", 121), ("1.8", 126), ("2.4", 133)]
    for line in ("next", value, value, str(hr))
]


def run(
    *arguments: str | Path, typed: list[str] | None = None, cwd: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """One command with plain output; `typed` are the lines of its standard input."""
    return console.run(*arguments, cwd=cwd, typed="".join(f"{line}\n" for line in typed or ()))


def assert_sentence(done: subprocess.CompletedProcess[str], status: int, *parts: str) -> None:
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    assert 1 <= len(done.stderr.strip().splitlines()) <= 3, done.stderr
    for part in parts:
        assert part in done.stderr


def test_every_command_has_help_with_an_example() -> None:
    for name in COMMANDS:
        assert "Example: steadyband" in re.sub(r"\s+", " ", run(name, "--help").stdout)


def test_plan_test_prints_and_writes_a_sheet(tmp_path: Path) -> None:
    done = run("plan-test", "--sport", "bike", "--mass", "74", "--steady", "200", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    for words in ("120 W", "220 W", "Strips: 21", "5:00 and 10:00", "sharps box", "holds its shape"):
        assert words in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "Step test by bike" in (tmp_path / "step-test-plan.html").read_text(encoding="utf-8")


def test_plan_test_from_a_test_and_by_foot(tmp_path: Path) -> None:
    old = write_test(tmp_path, "2026-04-20-bike.toml")
    assert "floor is 1" in run("plan-test", "--from-test", old, "--out", tmp_path / "a.html").stdout
    foot = run("plan-test", "--sport", "foot", "--steady", "5:40", "--out", tmp_path / "b.html").stdout
    assert "walk" in foot
    assert "min/km" in foot


@pytest.mark.parametrize(
    ("arguments", "parts"),
    [
        (["plan-test"], ["--sport"]),
        (["plan-test", "--sport", "bike", "--steady", "200"], ["--mass"]),
        (["plan-test", "--sport", "bike", "--mass", "74"], ["--steady"]),
        (["plan-test", "--sport", "bike", "--mass", "74", "--steady", "much"], ["much"]),
        (["plan-test", "--from-test", "no.toml"], ["no.toml"]),
        (["enter-test", "test.txt"], [".toml"]),
        (["card", "nowhere"], ["nowhere"]),
        (["tests", "nowhere"], ["nowhere"]),
        (["test-page", "no.toml"], ["no.toml"]),
    ],
)
def test_wrong_use_is_a_sentence(arguments: list[str], parts: list[str], tmp_path: Path) -> None:
    assert_sentence(run(*arguments, cwd=tmp_path), 2, *parts)


def test_enter_test_from_paper_through_a_pipe(tmp_path: Path) -> None:
    path = tmp_path / "tests" / "2026-05-01-bike.toml"
    done = run("enter-test", path, "--afterwards", typed=[*ANSWERS, "1.7", "next", "1.1", *STEPS, "show", "finish"])
    assert done.returncode == 0, done.stderr
    told = re.sub(r"\s+", " ", done.stdout)
    for words in (
        "too high",
        "no zones would come",
        "Baseline 1.1 mmol/L is fine",
        "So far, with 80 % ranges: floor",
        "By eye: step 4 (180 W)",
    ):
        assert words in told
    assert "STOP." not in told  # it is over
    test = load_test(path)
    assert [step.load for step in test.steps] == [load for load, _, _ in BIKE]
    assert test.steps[2].samples[0].lactate_mmol_l == 1.2
    assert not path.with_name(path.name + ".draft").exists()
    before = path.read_bytes()
    looked = run("enter-test", path)
    assert "Nothing was changed" in looked.stdout
    assert path.read_bytes() == before


def test_enter_test_takes_the_plan_of_the_last_test(tmp_path: Path) -> None:
    old = write_test(tmp_path, "2026-04-20-bike.toml", more='analyser = "unit A"\n')
    path = tmp_path / "2026-06-20-bike.toml"
    steps = [line for line in STEPS if line != "next"]
    typed = [
        "2026-06-20",
        "1.1",
        *[line for at, line in enumerate(steps) for line in (["next", line] if at % 3 == 0 else [line])],
    ]
    done = run("enter-test", path, "--from-test", old, "--afterwards", typed=[*typed, "finish"])
    assert done.returncode == 0, done.stdout + done.stderr
    test = load_test(path)
    assert (test.analyser, test.mass_kg, test.date.isoformat()) == ("unit A", 74, "2026-06-20")
    planned = plan_test(PlanRequest("cycling", "W", last=make_zones(load_test(old)))).steps
    assert [step.load for step in test.steps] == [step.load for step in planned][: len(test.steps)]


def test_the_end_of_input_leaves_a_draft_that_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "t.toml"
    first = run("enter-test", path, "--afterwards", typed=[*ANSWERS, "1.1", *STEPS[:9]])
    assert first.returncode == 0
    assert "same command goes on" in re.sub(r"\s+", " ", first.stdout)
    assert not path.exists()
    second = run("enter-test", path, "--afterwards", typed=[*STEPS[9:], "undo", "133", "finish"])
    assert "14 entries" not in first.stdout
    assert "Going on with" in second.stdout
    assert [step.hr_max_bpm for step in load_test(path).steps] == [104, 110, 115, 121, 126, 133]


@pytest.mark.kill
def test_killed_at_any_moment_nothing_entered_is_lost(tmp_path: Path) -> None:
    """The program is killed (SIGKILL) after every few lines, as soon as it has answered the last of them."""
    path = tmp_path / "t.toml"
    typed = [*ANSWERS, "1.1", *STEPS]
    for at in range(0, len(typed), 5):
        part = typed[at : at + 5]
        process = subprocess.Popen(
            command("enter-test", path, "--afterwards"),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=ENVIRONMENT,
        )
        assert process.stdin is not None
        process.stdin.write(
            "".join(f"{line}\n" for line in part) + "note last words\n" * (at > 15) + "undo\n" * (at > 15)
        )
        process.stdin.flush()
        _wait_for_entries(path.with_name("t.toml.draft"), at, len(part))
        process.kill()
        process.communicate()
    done = run("enter-test", path, "--afterwards", typed=["finish"])
    assert done.returncode == 0, done.stdout + done.stderr
    assert [step.hr_max_bpm for step in load_test(path).steps] == [104, 110, 115, 121, 126, 133]
    assert [len(step.samples) for step in load_test(path).steps] == [2] * 6


def _wait_for_entries(draft: Path, before: int, more: int) -> None:
    """Until the lines of the journal stop growing at the number typed so far (settings of the command line come on top)."""
    wanted = 1 + before + more + 2 * len([at for at in range(0, before + 1, 5) if at > 15])
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline:
        if draft.exists() and draft.read_bytes().count(b"\n") >= wanted:
            return
        time.sleep(0.05)
    pytest.fail(f"expected {wanted} lines, found {draft.read_bytes().count(b'n') if draft.exists() else 'no file'}")


class Terminal:
    """A command in a real terminal (a pty): type, and wait for words; it does not outlive its test."""

    def __init__(self, *arguments: str | Path) -> None:
        self.handle, inner = pty.openpty()
        self.process = subprocess.Popen(
            command(*arguments), stdin=inner, stdout=inner, stderr=inner, env=ENVIRONMENT, start_new_session=True
        )
        os.close(inner)
        self.seen = ""

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()

    def wait(self, words: str, seconds: float = 30) -> str:
        deadline = time.monotonic() + seconds
        while words not in re.sub(r"\s+", " ", self.seen):
            assert time.monotonic() < deadline, f"{words!r} not in {self.seen!r}"
            if select.select([self.handle], [], [], 0.2)[0]:
                try:
                    self.seen += os.read(self.handle, 4096).decode(errors="replace")
                except OSError:
                    assert words in re.sub(r"\s+", " ", self.seen), self.seen
        return self.seen

    def type(self, text: str) -> None:
        self.seen = ""
        os.write(self.handle, text.encode())

    def end(self) -> int:
        code = self.process.wait(30)
        os.close(self.handle)
        return code


def test_in_a_terminal_live(tmp_path: Path) -> None:
    """Line editing, the clock in the prompt, Ctrl-C, and going on afterwards."""
    path = tmp_path / "t.toml"
    with Terminal("enter-test", path, "--sport", "bike", "--mass", "74", "--steady", "200") as room:
        _first_minutes(room)
    with Terminal("enter-test", path) as again:
        again.wait("Going on with")
        again.wait("step 1, 120 W")
        again.type("\x04")
        again.wait("Saved.")
        assert again.end() == 0


def _first_minutes(room: Terminal) -> None:
    room.wait("fed or fasted")
    for _ in range(3):
        room.type("\n")
        room.wait(">")
    room.type("1.x\x7f1\n")
    room.wait("Baseline 1.1 mmol/L is fine")
    room.type("next\n")
    room.wait("Step 1 (120 W) has begun")
    room.wait("0:00 gone, sample due at 5:00 >")
    room.type("\n")
    room.wait("left")
    room.wait("sample due at 5:00 >")  # the prompt waits; before that the terminal itself echoes what is typed
    room.type("half a li")
    room.wait("half a li")
    time.sleep(0.3)
    room.process.send_signal(signal.SIGINT)
    room.wait("same command goes on")
    assert room.end() == 130


def folder(tmp_path: Path) -> Path:
    """An athlete folder with one bike test."""
    home = tmp_path / "mine"
    write_test(home / "tests", "2026-04-20-bike.toml")
    (home / "athlete.toml").write_text('name = "Robin (invented)"\n', encoding="utf-8")
    return home


def test_card_and_workout(tmp_path: Path) -> None:
    home = folder(tmp_path)
    done = run("card", home, "--on", "2026-05-01", "--workout", "90")
    assert done.returncode == 0, done.stderr
    text = (home / "reports" / "zone-card.html").read_text(encoding="utf-8")
    edges = make_zones(load_test(home / "tests" / "2026-04-20-bike.toml")).edges
    assert f"{edges.floor:.0f} to {edges.target_top:.0f} W" in text
    assert "Robin (invented)" in text
    with fitdecode.FitReader(home / "reports" / "steady-90-min-cycling.fit") as frames:
        names = [frame.name for frame in frames if isinstance(frame, fitdecode.FitDataMessage)]
    assert names == ["file_id", "workout", *["workout_step"] * 3]
    assert_sentence(run("card", home, "--workout", "5"), 2, "30 to 600")


def test_tests_over_time(tmp_path: Path) -> None:
    home = folder(tmp_path)
    write_test(home / "tests", "2026-06-20-bike.toml", [(load + 30, value, hr) for load, value, hr in BIKE])
    done = run("tests", home)
    assert done.returncode == 0, done.stderr
    assert "up beyond the ranges" in re.sub(r"\s+", " ", done.stdout)
    assert (home / "reports" / "step-tests.html").exists()


def test_test_page(tmp_path: Path) -> None:
    home = folder(tmp_path)
    assert run("test-page", home / "tests" / "2026-04-20-bike.toml").returncode == 0
    assert "How far the methods disagree" in (home / "reports" / "2026-04-20-bike.html").read_text(encoding="utf-8")
    assert_sentence(run("test-page", home / "tests"), 2, "Name a file")


def _power_file(path: Path, power: np.ndarray, start: int) -> Path:
    """A FIT activity of one-second power records, written with the reference library fit-tool."""
    from fit_tool.fit_file_builder import FitFileBuilder
    from fit_tool.profile.messages.file_id_message import FileIdMessage
    from fit_tool.profile.messages.record_message import RecordMessage
    from fit_tool.profile.messages.session_message import SessionMessage
    from fit_tool.profile.profile_type import FileType, Manufacturer, Sport

    head = FileIdMessage()
    head.type, head.manufacturer, head.time_created = FileType.ACTIVITY, Manufacturer.DEVELOPMENT.value, 1000 * start
    records = []
    for second, watts in enumerate(power):
        record = RecordMessage()
        record.timestamp, record.power = 1000 * (start + second), round(float(watts))
        records.append(record)
    session = SessionMessage()
    session.sport, session.start_time, session.timestamp = Sport.CYCLING, 1000 * start, 1000 * (start + len(power))
    builder = FitFileBuilder(auto_define=True)
    builder.add_all([head, *records, session])
    path.write_bytes(builder.build_bytes())
    return path


def test_compare_meters(tmp_path: Path) -> None:
    """Planted: the second reads 8 W more and its clock is 12 s ahead."""
    rng = np.random.default_rng(8)
    base = np.repeat(rng.uniform(100, 250, 30), 60) + rng.normal(0, 8, 1800)
    first = _power_file(tmp_path / "trainer.fit", base, 1_780_000_000)
    second = _power_file(tmp_path / "pedals.fit", base + 8 + rng.normal(0, 2, 1800), 1_780_000_012)
    done = run("compare-meters", first, second, "--out", tmp_path / "meters.html")
    assert "[[meter_offset]]" in done.stdout
    assert done.returncode == 0, done.stderr
    told = re.sub(r"\s+", " ", done.stdout)
    found = re.search(r"pedals.fit reads (\d+\.\d) W more than trainer.fit", told)
    assert found
    assert float(found.group(1)) == pytest.approx(8, abs=0.5)
    assert "moved by -12 s" in told
    assert "Theil-Sen" in (tmp_path / "meters.html").read_text(encoding="utf-8")
    assert_sentence(run("compare-meters", first, tmp_path / "no.fit"), 1, "no.fit")
