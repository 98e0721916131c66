"""Self-contained HTML pages: one template engine with autoescape, plotly inside, nothing loaded from anywhere."""

from __future__ import annotations

import base64
import functools
import hashlib
import importlib
import importlib.metadata
import importlib.resources
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from steadyband.report import palette, week_view
from steadyband.report.figure_base import CONFIG, hour_marks, longest_of
from steadyband.report.session_view import session_view
from steadyband.report.test_view import test_view
from steadyband.report.view import Plot
from steadyband.report.words import capital, sentence, share_text, span_text
from steadyband.review.model import WeekReview

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = "templates"


def week_page(review: WeekReview) -> str:
    """The week's report as one HTML file that needs no network.

    Every text is escaped by the template engine; a content security policy forbids every load and every script but
    the two that the page carries.
    """
    longest = longest_of(review.audits)
    sessions = [session_view(audit, number, longest) for number, audit in enumerate(review.audits, 1)]
    hours = week_view.hours_plot(review)
    plots = [*(item.ribbon for item in sessions), *([hours] if hours else []), *(s.plot for s in sessions if s.plot)]
    values = {
        "review": review,
        "dates": span_text(review.first_day, review.last_day),
        "sessions": sessions,
        "swatches": week_view.swatches(review.audits),
        "marks": [(f"{100 * mark / longest:.3f}", text) for mark, text in hour_marks(longest)],
        "hours": hours,
        "tables": week_view.tables(review),
        "tests": [test_view(item) for item in review.tests],
        "window": review.athlete.settings.bands.window_s,
        "range": share_text(review.athlete.settings.steptest.range_share),
        "cautions": week_view.CAUTIONS,
    }
    return render_page("week.html.j2", plots, values)


def render_page(template: str, plots: Sequence[Plot], values: Mapping[str, object], more: Sequence[str] = ()) -> str:
    """One page of the report's family: `template` extends page.html.j2, `plots` are drawn by the script it carries.

    `more` names further scripts of the templates folder that the page carries.
    """
    return environment().get_template(template).render(**values, **page_assets(plots, more))


def page_assets(plots: Sequence[Plot], more: Sequence[str] = ()) -> dict[str, object]:
    """What every page of the family carries: plots, colours, style, scripts, the policy that allows only them, the version.

    `more` names further scripts of the templates folder.
    """
    from markupsafe import Markup

    scripts = [_plotly(), template_text("page.js"), *(template_text(name) for name in more)]
    return {
        "plots": plots,
        "config": CONFIG,
        "colours": {"light": palette.LIGHT, "dark": palette.DARK},
        "style": Markup(template_text("page.css")),
        "scripts": [Markup(script) for script in scripts],
        "policy": policy(scripts),
        "version": version(),
    }


def version() -> str:
    """The installed version of the package, empty where it runs from its source alone."""
    try:
        return importlib.metadata.version("steadyband")
    except importlib.metadata.PackageNotFoundError:
        return ""


def policy(scripts: list[str]) -> str:
    """The content security policy: nothing may be loaded, and only these scripts may run."""
    allowed = " ".join(f"'sha256-{_digest(script)}'" for script in scripts)
    return (
        f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


@functools.lru_cache(maxsize=4)
def _digest(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


@functools.lru_cache(maxsize=1)
def _plotly() -> str:
    offline: Any = importlib.import_module("plotly.offline")
    return str(offline.get_plotlyjs())


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
    engine.filters |= {"capital": capital, "sentence": sentence}
    engine.policies["json.dumps_kwargs"] = {"separators": (",", ":"), "allow_nan": False}
    return engine
