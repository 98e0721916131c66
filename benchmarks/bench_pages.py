"""How quickly the demo's pages open in headless Chromium, how large they are, and what they ask for.

    python benchmarks/bench_pages.py [--runs 5] [--folder DIR]

Each page with figures is opened in two forms, in turns: as it is, and ("full bundle") as pages were before, with the whole of the
installed plotly's plotly.js as plain text, run after 1.2 s of quiet unless a figure is near.
For each: its size without plotly and in all, the medians of the time from the start of the navigation to the answer and
ribbons painted, to the load event, to all figures drawn, the longest task before 1.5 s, the tasks over 50 ms after the load event
(plotly being run is one of them), the shift of the layout, console messages, and requests beside the page itself. Then what
`week` costs with its sessions' pages, cold and warm, in this process, against the week's page alone.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import json
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from plotly.offline import get_plotlyjs

ROOT = Path(__file__).resolve().parents[1]
CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WATCH = """
window.seen = {shift: 0, tasks: [], paint: 0};
const watch = (type, take) => new PerformanceObserver((list) => list.getEntries().forEach(take)).observe({type, buffered: true});
watch("layout-shift", (entry) => { window.seen.shift += entry.value; });
watch("longtask", (entry) => { window.seen.tasks.push([entry.startTime, entry.duration]); });
watch("paint", (entry) => { window.seen.paint = entry.startTime; });
const mark = () => {
  if (document.documentElement.dataset.drawn && !window.seen.drawn) window.seen.drawn = performance.now();
};
new MutationObserver(mark).observe(document, {attributes: true, subtree: true, attributeFilter: ["data-drawn"]});
"""
TELL = """() => ({...window.seen, load: performance.getEntriesByType("navigation")[0].loadEventEnd})"""
GOAL_MS = 1500
LITTLE = 1000
"""A page that holds fewer bytes of plotly holds only the way to the shared copy."""
BEFORE = {
    "else unpackBeside();": "else run(held.textContent);",
    '"load", () => whenIdle(drawAll)': '"load", () => window.setTimeout(() => whenIdle(drawAll), 1200)',
}
"""What page.js says now, and what it said before, for the rows of the full bundle."""


def main() -> None:
    """Writes the pages, opens them, prints one row each and what the sessions' pages cost."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--runs", type=int, default=5)
    asked.add_argument("--folder", type=Path, help="Keep the pages here.")
    given = asked.parse_args()
    folder = given.folder or Path(tempfile.mkdtemp(prefix="bench-pages-"))
    written = write_pages(folder)
    print(
        "| page | without plotly | in all | ribbons | load | all drawn | longest task < 1.5 s | tasks after | shift | said | asked |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for name, page in written.items():
        forms = {name: page, f"{name}, full bundle": before(page)} if held(page) > LITTLE else {name: page}
        seen: dict[str, list[dict[str, Any]]] = {form: [] for form in forms}
        for _ in range(given.runs):
            for form, place in forms.items():
                seen[form].append(opened(place))
        for form, place in forms.items():
            print(row(form, place, seen[form]), flush=True)
    print()
    for line in costs(folder):
        print(line)
    if not given.folder:
        shutil.rmtree(folder)


def write_pages(folder: Path) -> dict[str, Path]:
    """The pages of a copy of the demo folder, written by the commands themselves."""
    demo = folder / "demo"
    if demo.exists():
        shutil.rmtree(demo)
    shutil.copytree(ROOT / "demo_activities", demo, ignore=shutil.ignore_patterns("simulation", "*.py", ".steadyband"))
    settings = demo / "athlete.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace('"../reports"', '"reports"'), encoding="utf-8")
    ride = sorted((demo / "activities" / "2026-W20").glob("*moor-tracks*"))[0]
    test = sorted((demo / "tests").glob("*bike*"))[0]
    reports = demo / "reports"
    commands = {
        "week": ["week", demo],
        "week, second run": ["week", demo],
        "block": ["block", demo],
        "season": ["history", demo],
        "session": ["session", ride],
        "route": ["route", ride, "--athlete", demo],
        "test": ["test-page", test],
        "tests over time": ["tests", demo],
        "zone card": ["card", demo],
    }
    for name, command in commands.items():
        began = time.perf_counter()
        run(*command)
        print(f"{name}: {time.perf_counter() - began:.2f} s")
    pages = {
        "week": next(reports.glob("week-*.html")),
        "block": next(reports.glob("block-*.html")),
        "season": reports / "history.html",
        "session": next(reports.glob("session-*.html")),
        "session beside a shared copy": next((reports / "sessions").glob("*moor-tracks*")),
        "route": next(reports.glob("route-*.html")),
        "test": reports / f"{test.stem}.html",
        "tests over time": reports / "step-tests.html",
        "zone card": reports / "zone-card.html",
    }
    beside = folder / "beside"
    shutil.copytree(demo, beside, dirs_exist_ok=True)
    run("week", beside, "--shared-assets")
    return pages | {"week beside a shared copy": next((beside / "reports").glob("week-*.html"))}


def run(*command: object) -> None:
    """One command of the package, in a process of its own."""
    made = subprocess.run(
        [sys.executable, "-m", "steadyband", *map(str, command)], capture_output=True, text=True, check=False
    )
    if made.returncode:
        sys.exit(f"steadyband {' '.join(map(str, command))}: {made.stderr}")


def before(page: Path) -> Path:
    """The same page as it was made before: the full bundle as text, the old wait, no policy (its hashes would be others)."""
    text = page.read_text(encoding="utf-8")
    begin = text.index('id="plotly">') + len('id="plotly">')
    text = f"{text[:begin]}{get_plotlyjs()}{text[text.index('</script>', begin) :]}"
    text = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    for now, then in BEFORE.items():
        if text.count(now) != 1:
            sys.exit(f"expected {now!r} once in page.js; its old form has to be told to this benchmark anew.")
        text = text.replace(now, then)
    place = page.with_name(f"{page.stem}-full-bundle.html")
    place.write_text(text, encoding="utf-8")
    return place


def row(name: str, page: Path, seen: list[dict[str, Any]]) -> str:
    """One page's row of the table."""
    size = page.stat().st_size
    early = [max((length for start, length in one["tasks"] if start < GOAL_MS), default=0.0) for one in seen]
    late = [sum(length for start, length in one["tasks"] if start >= one["load"]) for one in seen]
    cells = [
        name,
        f"{(size - held(page)) / 1000:.0f} kB",
        f"{size / 1000:.0f} kB",
        milliseconds([one["paint"] for one in seen]),
        milliseconds([one["load"] for one in seen]),
        milliseconds([one.get("drawn") for one in seen]),
        milliseconds(early),
        milliseconds(late),
        f"{max(one['shift'] for one in seen):.4f}",
        str(sum(len(one["said"]) for one in seen)),
        str(max(len(one["asked"]) for one in seen) - 1),
    ]
    return f"| {' | '.join(cells)} |"


def held(page: Path) -> int:
    """Bytes of plotly inside a page."""
    text = page.read_text(encoding="utf-8")
    begin = text.find('id="plotly"')
    return len(text[begin : text.find("</script>", begin)].encode()) if begin >= 0 else 0


def milliseconds(values: Iterable[float | None]) -> str:
    """The median of what was seen."""
    known = [value for value in values if value is not None]
    return f"{statistics.median(known):.0f} ms" if known else "–"


def opened(page: Path) -> dict[str, Any]:
    """One opening in a browser of its own, so that no cache helps."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as runner:
        browser = runner.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        tab = browser.new_page(viewport={"width": 1280, "height": 900})
        said: list[str] = []
        asked: list[str] = []
        tab.add_init_script(WATCH)
        tab.on("console", lambda message: said.append(message.text))
        tab.on("pageerror", lambda fault: said.append(str(fault)))
        tab.on("request", lambda request: asked.append(request.url))
        tab.goto(page.as_uri())
        if "data-plot" in page.read_text(encoding="utf-8"):
            tab.wait_for_selector("html[data-drawn]", state="attached")
        tab.wait_for_timeout(300)
        seen: dict[str, Any] = json.loads(json.dumps(tab.evaluate(TELL)))
        browser.close()
    return seen | {"said": said, "asked": asked}


def costs(folder: Path) -> list[str]:
    """What the sessions' own pages add to `week`, side by side in one process."""
    from steadyband.athlete.folder import open_folder
    from steadyband.cli.reading import season_of
    from steadyband.ground.writing import write_text_atomically
    from steadyband.report.common.beside import SESSIONS
    from steadyband.report.week.files import week_place, write_sessions
    from steadyband.report.week.page import week_page
    from steadyband.review.repeat_climbs import repeat_climbs
    from steadyband.review.week import review_season

    home = open_folder(folder / "demo")
    season = season_of(home)
    review = review_season(home, season)
    page = week_place(review)
    write_text_atomically(page, week_page(review))
    told = []
    for name in ("cold", "warm"):
        if name == "cold":
            shutil.rmtree(home.athlete.reports / SESSIONS, ignore_errors=True)
        began = time.perf_counter()
        again = repeat_climbs(item.audit for item in season.sessions)
        climbs = time.perf_counter() - began
        written = write_sessions(review, again, page)
        took = time.perf_counter() - began
        told.append(
            f"sessions' pages, {name}: {len(written)} written, {1000 * took:.0f} ms (climbs {1000 * climbs:.0f} ms)"
        )
    began = time.perf_counter()
    write_text_atomically(page, week_page(review))
    return [*told, f"the week's page alone: {1000 * (time.perf_counter() - began):.0f} ms"]


if __name__ == "__main__":
    main()
