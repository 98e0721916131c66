"""Behind every figure of every page: the same in words, and a table of what is drawn, made from the same data."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_pages import KINDS, demo_session
from report_builders import run_without_easy, steady_ride, surging_ride, unjudged_ride, week
from visits import Visit

from steadyband.report.common.hours import hours_table
from steadyband.report.common.page_ribbon import MOST_STRETCHES, page_ribbon, ribbon_table
from steadyband.report.session.figure import session_table
from steadyband.report.session.plan import plan_plot
from steadyband.report.session.profile import profile_plot
from steadyband.report.session.view import session_view

FIGURES = """() => [...document.querySelectorAll('[role=img], .season, .plot, .ribbon')].map((box) => {
  const table = document.getElementById(box.getAttribute('aria-details') || '-');
  return {
    id: box.id || box.className, words: box.getAttribute('aria-label') || '', tag: table && table.tagName,
    rows: table ? table.tBodies.length && [...table.tBodies].reduce((sum, body) => sum + body.rows.length, 0) : 0,
    caption: table && table.caption ? table.caption.textContent : '',
    loose: table ? [...table.querySelectorAll('th')].filter((cell) => !cell.scope).length : -1,
  };
})"""
TABLES = """() => [...document.querySelectorAll('table')].map((table) => ({
  caption: table.caption ? table.caption.textContent.trim() : '',
  loose: [...table.querySelectorAll('th')].filter((cell) => !cell.scope).length,
  heads: table.tHead ? table.tHead.rows[0].cells.length : 0,
  empty: table.tHead ? [...table.tHead.rows[0].cells].filter((cell) => !cell.textContent.trim()).length : 0,
  widths: [...new Set([...table.tBodies].flatMap((body) => [...body.rows]).map((row) =>
    [...row.cells].reduce((sum, cell) => sum + cell.colSpan, 0)))],
}))"""


@pytest.mark.browser
@pytest.mark.parametrize("name", KINDS)
def test_every_figure_has_words_and_a_table_and_every_table_its_heads(
    browser: Any, pages: dict[str, Path], name: str
) -> None:
    with Visit(browser, pages[name], drawn=False) as visit:
        figures = visit.page.evaluate(FIGURES)
        drawn = visit.page.locator(".plot, .season, .ribbon svg").count()
        assert bool(figures) == bool(drawn) or name == "card"
        small = visit.page.locator("a.mini").count()
        assert small == visit.page.locator("#ribbons-table tr[id^=row-]").count()
        for figure in figures:
            assert len(figure["words"]) >= 20, figure
            assert (figure["tag"], figure["loose"]) == ("TABLE", 0), figure
            assert figure["rows"] >= 1, figure
        for table in visit.page.evaluate(TABLES):
            assert table["caption"], table
            assert (table["loose"], table["empty"]) == (0, 0), table
            assert table["widths"] in ([], [table["heads"]]), table


@pytest.mark.parametrize("make", [steady_ride, surging_ride, run_without_easy, unjudged_ride])
def test_the_ribbons_table_covers_the_session_and_counts_every_surge(make: Any) -> None:
    audit = make()
    table = ribbon_table(audit)
    assert 1 <= len(table.rows) <= MOST_STRETCHES
    surges = [row[-1] for row in table.rows]
    if audit.surges:
        assert sum(map(int, surges)) == audit.surges.count
    else:
        assert set(surges) == {"–"}
    assert table.rows[0][1] == "0:00:00"


def test_a_ribbon_with_few_stretches_is_told_change_by_change() -> None:
    audit = run_without_easy()
    ribbon = page_ribbon(audit, "one", "", len(audit.traces.ribbon))
    table = ribbon.table
    assert table.note == "Every change of band has its row."
    assert len(table.rows) == len(ribbon.pieces)


def test_the_sessions_table_says_what_the_lines_show() -> None:
    """The mean over the rows is the mean of the trace (numpy's, over the same seconds); the highest means meet the figure's top."""
    audit = steady_ride()
    table = session_table(audit)
    assert table.note.startswith("Each row is 5 min long.")
    part = audit.traces.load[600:900]
    assert table.rows[2][:2] == ("0:10:00", f"{np.nanmean(part):.0f} W")
    highest = max(int(row[2].removesuffix(" W")) for row in table.rows)
    assert highest == pytest.approx(np.nanmax(audit.traces.band_load), abs=0.51)
    shares = [row[-1] for row in table.rows]
    assert all("%" in text or text == "not active" for text in shares)


def test_the_hours_table_has_a_row_a_bar() -> None:
    rows = [("Tue 12 May, ride", {"easy": 600, "steady": 3600}), ("week: 1 ride", {"easy": 600, "steady": 3600})]
    table = hours_table(rows)
    assert table.head == ("session", "easy", "steady")
    assert table.rows[0] == ("Tue 12 May, ride", "10 min", "1 h 00")
    assert table.note.startswith("Rows that begin with “week:”")


def test_the_tables_of_the_ground_tell_every_surge_with_a_place() -> None:
    audit = demo_session("2026-05-16-moor-tracks")
    found, plan = profile_plot(audit).table, plan_plot(audit).table
    assert 5 <= len(found.rows) <= 26
    placed = [event for event in audit.surges.events if event.at_m is not None]
    at = found.head.index("surges")
    counts = [int(part.split()[0]) for row in found.rows for part in row[at].split(", ")]
    assert sum(counts) == len(placed)
    changes = [float(row[3].replace("−", "-").removesuffix(" m")) for row in found.rows]
    known = audit.traces.height_m[np.isfinite(audit.traces.height_m)]
    assert sum(changes) == pytest.approx(known[-1] - known[0], abs=len(changes))  # rounded to metres row by row
    assert all(row[2].endswith(("east", "west")) for row in plan.rows)


def test_no_table_tells_a_place_that_the_plan_leaves_out() -> None:
    """The start is left out of the plan for privacy; its table begins where the plan does."""
    audit = demo_session("2026-05-16-moor-tracks")
    first = np.flatnonzero(np.isfinite(audit.traces.lat_deg))[0]
    begins = plan_plot(audit).table.rows[0][0]
    assert begins == f"km {audit.traces.distance_m[first] / 1000:.1f}"


def test_words_of_a_ribbon_name_bands_surges_and_verdict() -> None:
    view = session_view(surging_ride(), 1, 9000)
    for wanted in ("easy", "steady", "surges", "Thu 14 May"):
        assert wanted in view.ribbon.words
    assert week().audits
