"""HTML pages that need no network: one template engine with autoescape, one style, figures drawn where they come into sight."""

from __future__ import annotations

import functools
import importlib.metadata
import importlib.resources
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from steadyband.report import palette, week_view
from steadyband.report.assets import Drawer, drawer, policies
from steadyband.report.beside import ALONE, Beside, session_names
from steadyband.report.drawn_ribbon import DrawnRibbon, axis_marks, drawn_ribbon
from steadyband.report.figure_base import CONFIG, longest_of
from steadyband.report.packing import packed
from steadyband.report.session_view import session_view
from steadyband.report.shared_note import shared_note
from steadyband.report.test_view import limits_table, test_view
from steadyband.report.view import Plot
from steadyband.report.words import capital, ribbon_keys, sentence, share_text, span_text
from steadyband.review.model import WeekReview
from steadyband.review.reading import as_the_athlete_reads

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = "templates"


@dataclass(frozen=True, slots=True)
class Carried:
    """What a page carries besides its text: figures and ribbons, further scripts and style sheets of the templates folder."""

    plots: Sequence[Plot] = ()
    ribbons: Sequence[DrawnRibbon] = ()
    more: tuple[str, ...] = ()
    styles: tuple[str, ...] = ()


@as_the_athlete_reads
def week_page(review: WeekReview, beside: Beside = ALONE) -> str:
    """The week's report as one HTML file that needs no network.

    Every text is escaped by the template engine; a content security policy forbids every load and every script but
    those that the page carries. `beside` says what it may count on in its folder: a shared copy of plotly, other pages.
    """
    longest = longest_of(review.audits)
    sessions = [session_view(audit, number, longest) for number, audit in enumerate(review.audits, 1)]
    ribbons = {item.id: drawn_ribbon(item.ribbon, longest) for item in sessions}
    hours = week_view.hours_plot(review)
    values = {
        "review": review,
        "made_for": f"week {review.iso_year}-W{review.iso_week:02d}",
        "dates": span_text(review.first_day, review.last_day),
        "sessions": sessions,
        "drawn": ribbons,
        "own": dict(zip(ribbons, map(beside.session, session_names(review.audits)), strict=True)),
        "swatches": week_view.swatches(review.audits),
        **ribbon_keys(review.audits, review.athlete.settings),
        "marks": axis_marks(longest),
        "hours": hours,
        "limits": limits_table(review.tests, review.fit_by_sport),
        "tables": week_view.tables(review),
        "tests": [test_view(item) for item in review.tests],
        "window": review.athlete.settings.bands.window_s,
        "range": share_text(review.athlete.settings.steptest.range_share),
        "cautions": week_view.CAUTIONS,
    }
    plots = [*([hours] if hours else []), *(item.plot for item in sessions if item.plot)]
    return render_page("week.html.j2", Carried(plots, list(ribbons.values())), values, beside)


def render_page(template: str, carried: Carried, values: Mapping[str, object], beside: Beside = ALONE) -> str:
    """One page of the report's family: `template` extends page.html.j2 and draws what is `carried`."""
    return environment().get_template(template).render(**_assets(carried, beside), **values)


def _assets(carried: Carried, beside: Beside) -> dict[str, object]:
    from markupsafe import Markup

    scripts = [template_text(name) for name in ("tips.js", "page.js", *carried.more)]
    drawn_by = drawer(beside.plotly) if carried.plots else None
    return {
        "plots": carried.plots,
        "ribbons": carried.ribbons,
        "config": CONFIG,
        "colours": {"light": palette.LIGHT, "dark": palette.DARK},
        "style": Markup("\n".join(template_text(name) for name in ("page.css", *carried.styles))),
        "scripts": [Markup(script) for script in scripts],
        "drawer": replace(drawn_by, inside=Markup(drawn_by.inside)) if drawn_by else Drawer(),
        "policies": policies(scripts, drawn_by),
        "links": beside.links,
        "version": version(),
        "made_from": beside.made_from,
    }


def version() -> str:
    """The installed version of the package, empty where it runs from its source alone."""
    try:
        return importlib.metadata.version("steadyband")
    except importlib.metadata.PackageNotFoundError:
        return ""


@functools.lru_cache(maxsize=16)
def template_text(name: str) -> str:
    """A file of the templates folder as text."""
    return importlib.resources.files("steadyband.report").joinpath(TEMPLATES, name).read_text(encoding="utf-8")


@functools.lru_cache(maxsize=1)
def environment() -> Environment:
    """The template engine: autoescape on, an undefined name is an error, numbers that JSON has not are refused."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    engine = Environment(
        loader=PackageLoader("steadyband.report", TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    engine.filters |= {"capital": capital, "packed": packed, "sentence": sentence}
    engine.globals["shared_note"] = shared_note
    engine.policies["json.dumps_kwargs"] = {"separators": (",", ":"), "allow_nan": False}
    return engine
