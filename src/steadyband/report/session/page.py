"""One session's own page: where the band was lost and what to change, its ground drawn, and the same hills before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from steadyband.athlete.own_words import NOTHING, OwnWords
from steadyband.audit.model import Audit
from steadyband.ground.units import length_text
from steadyband.report.common import pages
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.own_words import told
from steadyband.report.common.page_ribbon import axis_marks
from steadyband.report.common.ribbon import swatches
from steadyband.report.common.view import Plot, Table
from steadyband.report.common.words import edges_of, loads_of, ribbon_keys
from steadyband.report.session import hills
from steadyband.report.session.overlay import overlay_plot
from steadyband.report.session.plan import plan_plot
from steadyband.report.session.profile import base_text, gathered_words, profile_plot
from steadyband.report.session.spread import spread_plot
from steadyband.report.session.view import repeats_table, session_view
from steadyband.review.repeat_climbs import RepeatClimb
from steadyband.told.notes import taken_notes

MOST_REPEATS = 6
"""Most repeated climbs drawn on one page; the command `climbs` tells all."""


@dataclass(frozen=True, slots=True)
class RepeatView:
    """One climb over the weeks: its heading, its table and the overlay of its efforts."""

    head: str
    table: Table
    overlay: Plot | None


def session_page(
    audit: Audit, repeats: Sequence[RepeatClimb] = (), beside: Beside = ALONE, words: OwnWords = NOTHING
) -> str:
    """The page of one session as an HTML file that needs no network; `repeats` are the climbs ridden again in all sessions.

    `beside` says what it may count on in its folder: a shared copy of plotly, other pages. `words` is what the athlete told.

    Hovering a surge in the profile marks it in the plan and the other way round.
    """
    length = len(audit.traces.ribbon) or 1
    item = session_view(audit, 1, length)
    profile, plan, spread = profile_plot(audit), plan_plot(audit), spread_plot(audit)
    again = [_repeat(climb, audit) for climb in hills.repeats_here(audit, repeats)[:MOST_REPEATS]]
    drawn = [spread, profile, plan, *(view.overlay for view in again), item.plot]
    values = {
        "item": item,
        "made_for": f"session {audit.info.start.isoformat()} {audit.info.sport}",
        "marks": axis_marks(length),
        "taken": taken_notes(audit),
        "told": told(words),
        "answer": hills.answer_text(audit),
        "changes": hills.changes(audit),
        "places": hills.place_lines(audit),
        "ground": hills.ground_lines(audit),
        "key": hills.key_items(audit),
        "swatches": swatches([audit.traces.ribbon]),
        **ribbon_keys([audit], audit.settings),
        "spread": spread,
        "efforts": replace(repeats_table(audit), note="") if audit.repeats else None,
        "is_test": audit.info.intent == "test",
        "base": base_text(audit),
        "profile": profile,
        "plan": plan,
        "gathered": gathered_words(audit),
        "hidden": length_text(audit.info.privacy_m) if audit.info.positions and audit.info.privacy_m else "",
        "tables": [table for table in (hills.causes_table(audit), hills.climbs_table(audit)) if table],
        "repeats": again,
        "window": audit.settings.bands.window_s,
    }
    carried = pages.Carried([one for one in drawn if one], [item.ribbon], more=("terrain.js",))
    return pages.render_page("session.html.j2", carried, values, beside)


def _repeat(climb: RepeatClimb, audit: Audit) -> RepeatView:
    loads = loads_of(audit)
    return RepeatView(
        hills.repeat_head(climb, audit),
        hills.repeats_table(climb, "km/h" if loads.unit in ("W", "bpm") else loads.unit),
        overlay_plot(climb, edges_of(audit)["ceiling"], loads),
    )
