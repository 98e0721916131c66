"""A planned way's page: where the band can be held, the gears it needs, its profile and its plan."""

from __future__ import annotations

from steadyband.audit.route import RoutePlan
from steadyband.ground.units import height_text, length_text
from steadyband.recording.planned import Planned
from steadyband.report.common import pages
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.view import Plot
from steadyband.report.common.words import Loads, sport_word
from steadyband.report.route import view as route_view
from steadyband.report.route.figures import plan_plot, profile_plot


def route_page(
    plan: RoutePlan, way: Planned, loads: Loads, basis: str, privacy_m: float | None, *, beside: Beside = ALONE
) -> str:
    """The page of a planned way as an HTML file that needs no network.

    `basis` says in a sentence which test it uses; positions within `privacy_m` of start and end are left out of the plan, all
    of them where it is None. `beside` says what the page may count on in its folder.
    """
    profile = profile_plot(plan)
    above = plan_plot(plan, way, privacy_m) if privacy_m is not None else None
    found = (
        route_view.paces_table(plan, loads), route_view.stretches_table(plan), route_view.climbs_table(plan),
    )  # fmt: skip
    values = {
        "title": way.name or way.file,
        "sport": sport_word(plan.sport),
        "answer": route_view.answer_text(plan),
        "basis": basis,
        "notes": route_view.notes(plan, loads),
        "tables": [table for table in found if table],
        "profile": profile,
        "base": height_text(float(plan.height.min())),
        "plan": above,
        "hidden": length_text(privacy_m) if privacy_m else "",
        "walk": plan.sport != "cycling",
    }
    drawn: list[Plot] = [profile, *([above] if above else [])]
    return pages.render_page("route.html.j2", pages.Carried(drawn, more=("terrain.js",)), values, beside)
