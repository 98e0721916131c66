"""Every command that README and docs show is run as shown, or named here with the reason and the test that runs it elsewhere."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
import typer.main
from doc_commands import (
    PAPERS,
    Shown,
    furnish,
    inline_in,
    is_form,
    makes,
    missing_from,
    run,
    shown_in,
    write_program,
)

from conftest import DEMO, ROOT
from steadyband.cli.main import app

INSTALLS = "makes an environment and installs from an index"
CI = ".ci/run"
WHEEL = "tests/test_install.py::test_only_what_a_user_needs_is_installed"
OTHER_MACHINES = "needs machines at addresses kept for examples (RFC 5737)"
CLUSTER = (
    "tests/roster/test_roster_cluster.py::test_the_same_bytes_from_processes_and_from_a_cluster_that_loses_a_worker"
)
ELSEWHERE = {
    "python3 -m venv .venv && .venv/bin/python -m pip install -q . && .venv/bin/steadyband week demo_activities": (
        INSTALLS,
        CI,
    ),
    'python3 -m venv .venv && .venv/bin/python -m pip install -q -e ".[test]" && .venv/bin/python -m pytest -q -n logical --dist worksteal': (
        INSTALLS,
        CI,
    ),
    'python3 -m venv .venv && .venv/bin/python -m pip install -e ".[dev]"': (INSTALLS, CI),
    ".venv/bin/ruff check . && .venv/bin/ruff format --check . && .venv/bin/mypy && .venv/bin/python -m pytest -n logical --dist worksteal": (
        "runs all tests, this one among them",
        CI,
    ),
    "pipx install .": (INSTALLS, WHEEL),
    "python3 -m pip install .": (INSTALLS, WHEEL),
    "pip install .": (INSTALLS, WHEEL),
    "dask scheduler --host 192.0.2.10": (OTHER_MACHINES, CLUSTER),
    "dask worker tcp://192.0.2.10:8786 --nthreads 1 --nworkers 4   # on each further machine": (
        OTHER_MACHINES,
        CLUSTER,
    ),
    "steadyband roster my-athletes --dask tcp://192.0.2.10:8786": (OTHER_MACHINES, CLUSTER),
    "python benchmarks/bench_roster.py --athletes 50 --recordings 100": (
        "takes minutes and prints timings",
        "benchmarks/bench_roster.py",
    ),
    "steadyband open": (
        "serves until it is closed",
        "tests/open/test_open_browser.py::test_from_the_first_start_to_the_first_answer",
    ),
    "steadyband open my-training": (
        "serves until it is closed",
        "tests/open/test_open_taking.py::test_a_killed_server_costs_no_entry",
    ),
    "steadyband open my-training --launcher ~/Desktop": (
        "writes to the reader's own desktop",
        "tests/open/test_open_launcher.py::test_the_command_writes_one_and_never_over_another",
    ),
    "steadyband open my-athletes": (
        "serves until it is closed",
        "tests/open/test_open_athletes.py::test_each_athlete_is_a_click_away_and_apart",
    ),
    "steadyband watch my-training": ("goes on until Ctrl-C", "tests/test_cli_review.py::test_watch_ends_with_ctrl_c"),
}
"""Commands that cannot run here: why, and where they are run instead."""

PAGES = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in PAPERS}
EARLIER: dict[str, set[Shown]] = {
    name: {shown.bare for before in list(PAGES)[:at] for shown in shown_in(PAGES[before])}
    for at, name in enumerate(PAGES)
}
"""By page, what the pages before it show: a command is run on the first page that shows it, with what is shown of its output."""

COMMANDS = typer.main.get_command(app).commands  # type: ignore[attr-defined]

pytestmark = pytest.mark.skipif(not (DEMO / "athlete.toml").exists(), reason="no demo folder")


TO_RUN = [
    pytest.param(shown, id=f"{name}: {shown.bare.line}")
    for name, text in PAGES.items()
    for shown in shown_in(text)
    if shown.line not in ELSEWHERE and shown.bare not in EARLIER[name]
]


@pytest.mark.parametrize("shown", TO_RUN)
def test_commands_run_as_shown(shown: Shown, read_demo: Path, tmp_path: Path) -> None:
    """Each in a home of its own, where the folder that it is to make new is not there."""
    home = tmp_path / "home"
    furnish(home, read_demo, shown.line)
    if new := makes(shown.line):
        shutil.rmtree(home / new, ignore_errors=True)
    done = run(shown, home, write_program(tmp_path / "bin"))
    assert done.returncode == shown.status, f"the page says {shown.status}\n{done.stderr[-800:]}"
    assert missing_from(done.stdout + done.stderr, shown.output) == [], f"shown, but not printed\n{done.stdout}"


@pytest.mark.parametrize("name", PAGES)
def test_forms_name_commands_and_options_that_exist(name: str) -> None:
    """`steadyband share PAGE --without names`: checked word by word, since a placeholder cannot be run."""
    for code in inline_in(PAGES[name]):
        words = code.split()
        if words[0] != "steadyband" or words[1].startswith("-") or PLACES.match(words[1]):
            continue
        options = {word.split("=")[0] for word in words[2:] if re.match(r"--[a-z]", word)}
        for command in words[1].split("/"):
            assert command in COMMANDS, code
            known = {opt for one in COMMANDS[command].params for opt in (*one.opts, *one.secondary_opts)} | {"--help"}
            assert options <= known or not is_form(code), f"{code}: {command} knows {sorted(known)}"


PLACES = re.compile(r"[A-Z]+$")


@pytest.mark.parametrize("name", PAGES)
def test_scripts_named_exist(name: str) -> None:
    scripts = {code.split()[1] for code in inline_in(PAGES[name]) if code.startswith("python ")}
    assert {script for script in scripts if script.endswith(".py") and not (ROOT / script).is_file()} == set()


def test_installs_within_sentences_are_listed() -> None:
    lines = {code for text in PAGES.values() for code in inline_in(text) if re.match(r"(pipx?|python3) ", code)}
    assert lines <= set(ELSEWHERE)


def test_what_is_run_elsewhere_is_shown_somewhere_and_tested_there() -> None:
    lines = {shown.line for text in PAGES.values() for shown in shown_in(text)}
    lines |= {code for text in PAGES.values() for code in inline_in(text)}
    assert set(ELSEWHERE) <= lines, "take away what no page shows any more"
    for reason, place in ELSEWHERE.values():
        file, _, name = place.partition("::")
        assert reason
        assert not name or f"def {name}(" in (ROOT / file).read_text(encoding="utf-8")


def test_shell_blocks_hold_nothing_else() -> None:
    """A line of a shell block that is no command of ours would be run too; it must be one we mean to run."""
    ordinary = re.compile(r"(steadyband|cp|mkdir) ")
    lines = {shown.line for text in PAGES.values() for shown in shown_in(text)} - set(ELSEWHERE)
    assert [line for line in lines if not ordinary.match(line)] == []


def test_reading_of_pages_by_hand() -> None:
    page = """
Try `steadyband week my-training --ending 2026-05-17`, see `steadyband week`, or `steadyband week FOLDER`.

```sh
# a remark
steadyband init my-training
steadyband zones none.toml  # exit status 2
```

```console
$ steadyband enter-test a.toml
date [...] > 2026-06-15
done
```

```toml
not = "a command"
```
"""
    found = shown_in(page)
    assert [(one.line, one.status) for one in found] == [
        ("steadyband init my-training", 0),
        ("steadyband zones none.toml", 2),
        ("steadyband enter-test a.toml", 0),
        ("steadyband week my-training --ending 2026-05-17", 0),
    ]
    assert found[2].typed == "2026-06-15\n"
    assert missing_from("date [2026-11-25] > 2026-06-15\n  all   done", found[2].output) == []
    assert missing_from("done\ndate [x] > 2026-06-15", found[2].output) == ["done"]
    assert missing_from("nothing", ("done",)) == ["done"]
