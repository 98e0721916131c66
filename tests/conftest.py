"""Where tests find things: the repository root, the demo folder and, if present, a folder of real device files."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest

hypothesis.settings.register_profile("same every time", deadline=None, derandomize=True)
hypothesis.settings.register_profile("searching", deadline=None, derandomize=False)
hypothesis.settings.load_profile("same every time")
"""Nobody's run fails by chance; `pytest --hypothesis-profile searching` looks for new examples."""

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A run that a script started in the background ignores Ctrl-C, and the commands that tests start would do so too.
    signal.signal(signal.SIGINT, signal.default_int_handler)

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo_activities"
CHROMIUM = Path("/usr/bin/chromium")
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
"""How chromium is started so that it asks the network for nothing of its own."""


def recordings_dir() -> Path | None:
    """The folder of real device files, or None: STEADYBAND_RECORDINGS, else ../shared/recordings."""
    named = os.environ.get("STEADYBAND_RECORDINGS")
    folder = Path(named) if named else ROOT.parent / "shared" / "recordings"
    return folder if folder.is_dir() else None


def recording_files(kind: str) -> list[Path]:
    """Sorted real device files of one kind (fit, gpx, fit_damaged, fit_other); empty where the folder is absent."""
    folder = recordings_dir()
    return sorted(p for p in (folder / kind).iterdir() if p.is_file()) if folder else []


@pytest.fixture
def recordings() -> Path:
    """The folder of real device files; skips where it is absent."""
    folder = recordings_dir()
    if folder is None:
        pytest.skip("no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)")
    return folder


@pytest.fixture(scope="session")
def read_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's athlete folder with every recording read, to be copied by demo_home.copy_read; nothing writes into it.

    Processes that run tests side by side share one.
    """
    from console import run
    from demo_home import copy_demo
    from steadyband.ground.locking import held

    own = tmp_path_factory.getbasetemp()
    home = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "read-demo"
    with held(home, wait_s=300):
        if not home.exists():
            draft = copy_demo(home.with_name("read-demo-draft"))
            done = run("export", draft)
            assert done.returncode == 0, done.stderr
            draft.rename(home)
    return home


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's chromium, one for the whole run. Where it is missing the test is skipped, in CI (STEADYBAND_CI) it fails."""
    from importlib.util import find_spec

    missing = "no chromium at /usr/bin/chromium" if not CHROMIUM.exists() else ""
    missing = missing or ("playwright is not installed" if find_spec("playwright") is None else "")
    if missing:
        (pytest.fail if os.environ.get("STEADYBAND_CI") else pytest.skip)(missing)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as runner:
        chromium = runner.chromium.launch(executable_path=str(CHROMIUM), args=list(QUIET))
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """One page of every kind, for the tests in tests/browser."""
    from made_pages import write_pages

    return write_pages(tmp_path_factory.mktemp("pages"))
