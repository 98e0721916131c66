"""Help with an example in every command, shell completion, and errors of one line with what to try."""

from __future__ import annotations

import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

import console
from conftest import DEMO
from steadyband.cli import errors as cli_errors
from steadyband.cli.main import app

ROOT_COMMAND: Any = typer.main.get_command(app)


def walked(command: Any, name: str = "steadyband") -> Iterator[tuple[str, Any]]:
    """Every command of the tree with its whole name."""
    children = getattr(command, "commands", {})
    if not children:
        yield name, command
    for key, child in children.items():
        yield from walked(child, f"{name} {key}")


COMMANDS = dict(walked(ROOT_COMMAND))
OPTIONS = {
    f"{name} {option.opts[0]}": option
    for name, command in COMMANDS.items()
    for option in command.params
    if option.param_type_name == "option" and option.name != "help"
}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_an_example_that_its_own_parser_takes(name: str) -> None:
    command = COMMANDS[name]
    assert command.help
    assert command.help.split("\n")[0].endswith((".", ":")) or "\n" in command.help
    assert command.epilog.startswith(f"Example: {name}")
    words = shlex.split(command.epilog.removeprefix("Example: ").split(" > ")[0])
    parsed = command.make_context(name, words[len(name.split()) :])
    assert set(parsed.params) == {item.name for item in command.params if item.name != "help"}


@pytest.mark.parametrize("name", ["steadyband", *COMMANDS])
@pytest.mark.parametrize("width", [60, 80])
def test_help_fits_the_screen_and_cuts_no_word(name: str, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    words = [*name.split()[1:], "--help"]
    shown = CliRunner().invoke(app, words, terminal_width=width, max_content_width=width).stdout
    assert "Usage: " in shown
    assert "..." not in shown.replace("ARGS]...", "").replace("files...", "").replace("{files}...", "")
    assert "…" not in shown
    assert "Example: steadyband" in " ".join(shown.split())


@pytest.mark.parametrize("name", OPTIONS)
def test_every_option_says_what_it_is_for(name: str) -> None:
    assert OPTIONS[name].help
    assert OPTIONS[name].help.endswith(".")


def test_help_lists_every_command_with_a_whole_sentence() -> None:
    shown = " ".join(CliRunner().invoke(app, ["--help"]).stdout.split())
    for name, command in COMMANDS.items():
        first = " ".join(command.help.split("\n\n")[0].split())
        assert f"{name.split()[-1]} {first}" in shown.replace("heart- rate", "heart-rate"), name


def completed(shell: str, line: str) -> str:
    """What the shell is offered behind `line`, as its completion script asks for it."""
    asked = {
        "bash": {"COMP_WORDS": line, "COMP_CWORD": str(len(line.split(" ")) - 1)},
        "zsh": {"_TYPER_COMPLETE_ARGS": line},
        "fish": {"_TYPER_COMPLETE_ARGS": line, "_TYPER_COMPLETE_FISH_ACTION": "get-args"},
    }[shell]
    done = console.run(env={"_STEADYBAND_COMPLETE": f"complete_{shell}", **asked})
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_shells_complete_commands_options_and_values(shell: str) -> None:
    assert "week" in completed(shell, "steadyband we")
    assert "--ending" in completed(shell, "steadyband week --e")
    assert "parquet" in completed(shell, "steadyband audit --format pa")


@pytest.mark.parametrize(("shell", "place"), [("bash", ".bashrc"), ("zsh", ".zshrc"), ("fish", ".config/fish")])
def test_completion_is_shown_and_installed(shell: str, place: str, tmp_path: Path) -> None:
    environment = {"HOME": str(tmp_path), "_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
    for action in ("--show-completion", "--install-completion"):
        done = console.run(action, shell, env=environment, cwd=tmp_path)
        assert done.returncode == 0, done.stderr
        assert "steadyband" in done.stdout or shell in done.stdout
    assert (tmp_path / place).exists()


def test_the_script_works_in_a_real_bash(tmp_path: Path) -> None:
    script = Path(sys.executable).with_name("steadyband")
    lines = f"""
    export PATH={shlex.quote(str(script.parent))}:$PATH
    eval "$(_STEADYBAND_COMPLETE=source_bash steadyband)"
    COMP_WORDS=(steadyband hist); COMP_CWORD=1; COMP_LINE="steadyband hist"
    $(complete -p steadyband | sed 's/.*-F \\([^ ]*\\).*/\\1/') steadyband
    echo "offered: ${{COMPREPLY[@]}}"
    """
    done = subprocess.run(["/bin/bash", "-c", lines], capture_output=True, text=True, check=False, cwd=tmp_path)
    assert "offered: history" in done.stdout, done.stderr


def write(place: Path, content: str | bytes) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(content if isinstance(content, bytes) else content.encode())


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one of everything that can be wrong."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "empty/athlete.toml", 'name = ""\n')
    (tmp_path / "empty/activities").mkdir()
    (tmp_path / "empty/tests").mkdir()
    write(tmp_path / "bad-toml/athlete.toml", "name = \n")
    write(tmp_path / "bad-key/athlete.toml", "unit = 'miles'\n")
    write(tmp_path / "bad-unit/athlete.toml", "units = 'furlongs'\n")
    write(tmp_path / "latin/athlete.toml", b"name = '\xe9'\n")
    write(tmp_path / "bad-setting/athlete.toml", "[settings.verdict]\neasy_share = 3\n")
    write(tmp_path / "no-activities/athlete.toml", "\n")
    write(tmp_path / "labels/athlete.toml", "\n")
    (tmp_path / "labels/activities").mkdir()
    write(tmp_path / "labels/sessions.csv", "date,intent\n2026-13-01,easy\n")
    write(tmp_path / "test.toml", "date = 2026-04-20\n")
    write(tmp_path / "broken.toml", "date = = 1\n")
    write(tmp_path / "empty/activities-not/x.txt", "no recording")
    write(tmp_path / "empty/text.fit", "this is no recording")
    write(tmp_path / "empty/nothing.gpx", "")
    write(tmp_path / "file", "a file, no folder")
    return tmp_path


WRONG: list[tuple[str, int, tuple[str, ...]]] = [
    ("nonsense", 2, ("nonsense", "--help")),
    ("weak", 2, ("weak", "week", "--help")),
    ("week --colour red", 2, ("--colour", "week --help")),
    ("week --ending yesterday", 2, ("yesterday", "2026-05-17", "--help")),
    ("week --ending 2026-02-30", 2, ("2026-02-30", "--help")),
    ("week a b", 2, ("b", "--help")),
    ("week nowhere", 2, ("nowhere", "athlete.toml", "init")),
    ("week file", 2, ("file", "athlete.toml", "init")),
    ("week", 2, ("athlete.toml", "init")),
    ("week empty", 2, ("no session", "activities")),
    ("week empty --format xml", 2, ("xml", "text", "--help")),
    ("week no-activities", 2, ("no-activities", "FIT", "Put")),
    ("week bad-toml", 2, ("bad-toml/athlete.toml", "TOML", "line 1")),
    ("week bad-key", 2, ("unit", "units")),
    ("week bad-unit", 2, ("units", "metric", "furlongs")),
    ("week latin", 2, ("latin/athlete.toml", "UTF-8")),
    ("week bad-setting", 2, ("easy_share", "0 to 1", "3")),
    ("week labels", 2, ("sessions.csv", "2026-13-01")),
    ("block nowhere", 2, ("nowhere", "init")),
    ("block empty --weeks 0", 2, ("weeks", "1", "--help")),
    ("block empty --weeks many", 2, ("many", "--help")),
    ("history empty", 2, ("no session",)),
    ("history nowhere", 2, ("nowhere", "init")),
    ("export nowhere", 2, ("nowhere", "init")),
    ("export empty --format parquet", 2, ("--out",)),
    ("label nowhere", 2, ("nowhere", "init")),
    ("watch nowhere", 2, ("nowhere", "init")),
    ("climbs nowhere", 2, ("nowhere", "init")),
    ("audit", 2, ("files", "--help")),
    ("audit nowhere.fit", 2, ("nowhere.fit", "--test FILE")),
    ("audit nowhere.fit --tests nowhere", 2, ("nowhere",)),
    ("audit empty/text.fit", 1, ("text.fit", "FIT", "GPX", "1 of 1")),
    ("audit empty/nothing.gpx", 1, ("nothing.gpx", "1 of 1")),
    ("audit empty/missing.fit", 1, ("missing.fit", "1 of 1")),
    ("audit empty/text.fit --out x.json", 2, ("--format",)),
    ("audit empty/text.fit --format parquet", 2, ("--out",)),
    ("session empty/text.fit", 1, ("text.fit",)),
    ("session empty/missing.fit", 1, ("missing.fit",)),
    ("session file", 2, ("athlete.toml", "--athlete")),
    ("route empty/text.fit", 2, ("step test", "cycling")),
    ("route file", 2, ("athlete.toml", "--athlete")),
    ("zones nowhere.toml", 2, ("nowhere.toml",)),
    ("zones test.toml", 2, ("test.toml", "sport")),
    ("zones broken.toml", 2, ("broken.toml", "TOML")),
    ("test-page nowhere.toml", 2, ("nowhere.toml",)),
    ("test-page empty/tests", 2, ("empty/tests", "Name a file")),
    ("tests nowhere", 2, ("nowhere",)),
    ("card nowhere", 2, ("nowhere",)),
    ("card empty --on soon", 2, ("soon", "--help")),
    ("card empty --workout long", 2, ("long", "--help")),
    ("plan-test", 2, ("--sport",)),
    ("plan-test --sport swim", 2, ("swim", "bike", "--help")),
    ("plan-test --sport bike --steady fast", 2, ("fast",)),
    ("plan-test --sport bike --from-test nowhere.toml", 2, ("nowhere.toml",)),
    ("enter-test test.csv", 2, (".toml", "test.csv")),
    ("enter-test test.toml", 2, ("test.toml", "sport")),
    ("compare-meters a.fit", 2, ("second", "--help")),
    ("compare-meters a.fit b.fit", 1, ("a.fit",)),
    ("settings nowhere", 2, ("nowhere", "init")),
    ("init file", 2, ("file",)),
    ("init empty", 2, ("athlete.toml",)),
    ("share nowhere.html", 2, ("nowhere.html",)),
]


@pytest.mark.parametrize(("line", "status", "parts"), WRONG, ids=[line for line, *_ in WRONG])
def test_errors_are_a_line_or_two_with_what_to_try(
    line: str,
    status: int,
    parts: tuple[str, ...],
    room: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Exit status by the contract: 1 a file could not be read, 2 wrong usage or a faulty test or athlete file."""
    monkeypatch.setattr(sys, "argv", ["steadyband", *shlex.split(line)])
    found = 0
    try:
        found = cli_errors.status_of(app)
    except SystemExit as stop:
        found = int(stop.code or 0)
    told = capsys.readouterr()
    assert (found, told.out) == (status, ""), told.err
    assert "Traceback" not in told.err
    assert 1 <= len(told.err.strip().splitlines()) <= 2
    for part in parts:
        assert part in told.err


def test_contract_of_success(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "argv", ["steadyband", "zones", str(DEMO / "tests/2026-04-20-bike.toml")])
    assert cli_errors.status_of(app) == 0
    assert capsys.readouterr().err == ""
