"""Whatever a text holds, a page has the same elements: the text stays text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hostile_base import write_home
from hostile_run import Page, run
from hostile_texts import ALL, PLOTLY, SCRIPT, WEEK, _athlete, _labels, _named_ride, _named_track, _ride, _test

SESSION = ("session", "activities/bad.fit")
Maker = Callable[[str], Callable[[Path], object]]

FROM: dict[str, tuple[Maker, tuple[tuple[str, ...], ...]]] = {
    "workout name": (lambda text: _ride(_named_ride(text)), (WEEK, SESSION, ("block", "."))),
    "track name": (
        lambda text: _ride(_named_track(text), "bad.gpx"),
        (WEEK, ("session", "activities/bad.gpx"), ("route", "activities/bad.gpx", "--athlete", ".")),
    ),
    "athlete's name": (_athlete, (("card", ".", "--on", "2026-05-10"), WEEK)),
    "texts of a test": (
        _test,
        (("test-page", "tests/good.toml"), ("tests", "."), ("card", ".", "--on", "2026-05-10"), WEEK),
    ),
    "note of a session": (_labels, (WEEK, ("block", "."))),
}
CASES = [(origin, command) for origin, (_, commands) in FROM.items() for command in commands]


def _pages(folder: Path, text: str, origin: str, command: tuple[str, ...]) -> list[Page]:
    write_home(folder)
    FROM[origin][0](text)(folder)
    done = run(folder, *command)
    assert done.status == 0, done.err
    return [Page(path.read_text(encoding="utf-8")) for path in sorted(folder.rglob("*.html"))]


@pytest.mark.parametrize("text", [ALL, SCRIPT, PLOTLY], ids=["all", "script", "plotly"])
@pytest.mark.parametrize(("origin", "command"), CASES, ids=[f"{origin}, {command[0]}" for origin, command in CASES])
def test_same_elements_whatever_the_text(tmp_path: Path, origin: str, command: tuple[str, ...], text: str) -> None:
    harmless = "".join(sign if sign.isalnum() else "x" for sign in text)
    expected = _pages(tmp_path / "harmless", harmless, origin, command)
    found = _pages(tmp_path / "hostile", text, origin, command)
    assert len(found) == len(expected) > 0
    for page, other in zip(found, expected, strict=True):
        assert page.injected == []
        assert page.tags == other.tags
        assert page.scripts == other.scripts
