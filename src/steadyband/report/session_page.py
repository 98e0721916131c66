"""One session's own page: where the band was lost and what to change, its ground drawn, and the same hills before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from steadyband.audit.model import Audit
from steadyband.report import pages, terrain_view
from steadyband.report.figure_climbs import overlay_figure
from steadyband.report.figure_terrain import plan_figure, plan_words, profile_figure, profile_words
from steadyband.report.session_view import session_view
from steadyband.report.view import Plot, Table, plot
from steadyband.report.week_view import CAUTIONS, swatches
from steadyband.report.words import edges_of, loads_of
from steadyband.review.repeat_climbs import RepeatClimb

MOST_REPEATS = 6
"""Most repeated climbs drawn on one page; the command `climbs` tells all."""


@dataclass(frozen=True, slots=True)
class RepeatView:
    """One climb over the weeks: its table and the overlay of its efforts."""

    table: Table
    overlay: Plot | None


def session_page(audit: Audit, repeats: Sequence[RepeatClimb] = ()) -> str:
    """The page of one session as an HTML file that needs no network; `repeats` are the climbs ridden again in all sessions.

    Hovering a surge in the profile marks it in the plan and the other way round.
    """
    item = session_view(audit, 1, len(audit.traces.ribbon) or 1)
    profile, plan = _plot("profile", audit), _plot("plan", audit)
    again = [_repeat(climb, audit) for climb in terrain_view.repeats_here(audit, repeats)[:MOST_REPEATS]]
    drawn = [item.ribbon, profile, plan, item.plot, *(view.overlay for view in again)]
    values = {
        "item": item,
        "answer": terrain_view.answer_text(audit),
        "changes": terrain_view.changes(audit),
        "places": terrain_view.place_lines(audit),
        "ground": terrain_view.ground_lines(audit),
        "key": terrain_view.key_items(audit),
        "swatches": swatches([audit]),
        "profile": profile,
        "plan": plan,
        "carried": bool((audit.traces.carry_over > 0).any()),
        "hidden": audit.info.privacy_m if audit.info.positions else None,
        "tables": [table for table in (terrain_view.causes_table(audit), terrain_view.climbs_table(audit)) if table],
        "repeats": again,
        "window": audit.settings.bands.window_s,
        "cautions": CAUTIONS,
    }
    return pages.render_page("session.html.j2", [one for one in drawn if one], values, ("terrain.js",))


def _plot(name: str, audit: Audit) -> Plot | None:
    found = profile_figure(audit) if name == "profile" else plan_figure(audit)
    words = profile_words if name == "profile" else plan_words
    return plot(name, found, words(audit)) if found is not None else None


def _repeat(climb: RepeatClimb, audit: Audit) -> RepeatView:
    overlay = overlay_figure(climb, edges_of(audit)["ceiling"], loads_of(audit))
    words = f"Load over the length of climb {climb.number}, smoothest and latest effort. The table says the same."
    return RepeatView(
        terrain_view.repeats_table(climb, loads_of(audit)),
        plot(f"climb-{climb.number}", overlay, words) if overlay is not None else None,
    )
